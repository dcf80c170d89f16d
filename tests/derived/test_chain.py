"""The way from sown unit to established plant, by hand on small tables. All numbers here are derived by hand."""

import pytest

from palea.checks.examples import dish, examined, lot, run, several
from palea.derived import chain
from palea.derived.facts import Facts


def plot(unit_id, visits, sown=100, lot_id="AV-1", treatment="AV-T01", taxon="AV"):
    """A plot of trial F1 with its visits: {date: {outcome: count}}; the last two may carry a thinning."""
    unit = {
        "unit_id": unit_id, "trial_id": "F1", "kind": "plot", "lot_id": lot_id if sown else None, "environment_id": "F1-here",
        "treatment_id": treatment, "sown_n": sown, "seeds_each": 1, "placed_at": "2025-03-01", "status": "in use",
    }  # fmt: skip
    seen = [(day, outcome, n) for day, found in visits.items() for outcome, n in found.items()]
    return several(
        {"units": [unit]},
        {"counts": [{"visit_id": f"V{d}", "unit_id": unit_id, "outcome": o, "taxon_id": taxon, "count": n} for d, o, n in seen]},
        {"visits": [{"visit_id": f"V{d}", "trial_id": "F1", "visited_at": d, "counting": "new"} for d in visits]},
    )


def facts_of(frames, *examples):
    tables = several(
        {"trials": [{"trial_id": "F1"}], "environments": [{"environment_id": "F1-here", "trial_id": "F1", "site_id": "S"}]},
        lot("AV-1"), *examples,
    )  # fmt: skip
    for name, key in (("visits", "visit_id"), ("lots", "lot_id"), ("environments", "environment_id")):
        tables[name] = list({row[key]: row for row in tables.get(name, ())}.values())
    return Facts(frames(tables))


def told(facts):
    rows = facts[chain.passed]
    return {(r.stage, r.unit): (r.entered, r.passed, r.of) for r in rows.itertuples(index=False)}


FILL = examined("AV-1", "fill", {"filled": 80, "empty": 20}, {"filled": 90, "empty": 10}, out_of=100)
ALIVE = examined("AV-1", "viability", {"viable": 45, "dead": 5}, out_of=50)
THINNED = {"2025-04-01": {"emerged": 20, "standing": 18}, "2025-05-01": {"removed": 7, "kept": 8, "standing": 8},
           "2025-12-01": {"standing": 6}}  # fmt: skip


def test_each_stage_is_counted_of_what_its_own_units_were_counted_of(frames):
    found = told(facts_of(frames, FILL, ALIVE, plot("P1", THINNED)))
    assert found == {
        ("filled", "Q-AV-1-fill 1"): (100, 80, ""), ("filled", "Q-AV-1-fill 2"): (100, 90, ""),
        ("viable", "Q-AV-1-viability 1"): (50, 45, "filled"),
        ("emerged", "P1"): (100, 20, ""), ("standing", "P1"): (100, 15, ""), ("established", "P1"): (8, 6, "standing"),
    }  # fmt: skip


def test_without_thinning_what_stands_last_is_of_units_sown(frames):
    visits = {"2025-04-01": {"emerged": 20, "standing": 18}, "2025-12-01": {"standing": 6}}
    found = told(facts_of(frames, plot("P1", visits)))
    assert found == {("emerged", "P1"): (100, 20, ""), ("established", "P1"): (100, 6, "")}


def test_a_plot_that_was_thinned_and_not_seen_again_has_no_last_stage(frames):
    seen = {day: THINNED[day] for day in list(THINNED)[:2]}
    found = told(facts_of(frames, plot("P1", THINNED), plot("P2", seen)))
    assert ("standing", "P2") in found
    assert ("established", "P2") not in found


def test_the_level_of_unsown_plots_is_taken_off_in_proportion(frames):
    """20 and 10 came up in sown plots, 3 in an unsown one: 3 of 15 are wild, so 16 and 8 are ours."""
    ours = plot("P1", {"2025-04-01": {"emerged": 20}}), plot("P2", {"2025-04-01": {"emerged": 10}})
    bare = plot("P0", {"2025-04-01": {"emerged": 3}}, sown=0, treatment="unsown")
    found = told(facts_of(frames, *ours, bare))
    assert found["emerged", "P1"][1] == pytest.approx(16)
    assert found["emerged", "P2"][1] == pytest.approx(8)
    assert ("emerged", "P0") not in found


def test_tests_of_bare_seed_stand_for_its_coat_and_not_for_what_was_cleaned_out_of_it(frames):
    coated = several(run("R1", "AV-1", "AV-2", kind="coat"), lot("AV-2"), plot("P2", THINNED, lot_id="AV-2", treatment="AV-T05"))
    cleaned = several(run("R2", "AV-1", "AV-3"), lot("AV-3"), plot("P3", THINNED, lot_id="AV-3", treatment="AV-T03"))
    rows = facts_of(frames, FILL, ALIVE, coated, cleaned)[chain.passed]
    by = rows.groupby("treatment")["stage"].agg(set)
    assert {"filled", "viable"} <= by["AV-T05"]
    assert not {"filled", "viable"} & by["AV-T03"]


def test_viable_without_filled_leads_nowhere(frames):
    found = told(facts_of(frames, ALIVE, plot("P1", THINNED)))
    assert {stage for stage, _ in found} == {"emerged", "standing", "established"}


def test_dishes_count_of_living_seed_and_only_when_counted_out(frames):
    here = dish("D1", sown=25, normal=10, abnormal=2, hard=5, dead=3, empty=5)
    open_end = dish("D2", sown=25, normal=10)
    rows = facts_of(frames, here, open_end, plot("P1", THINNED))[chain.germinated]
    assert rows[["unit", "entered", "passed"]].to_numpy().tolist() == [["D1", 17, 12]]


def test_a_package_without_plots_follows_its_dishes(frames):
    tables = several(
        {"environments": [{"environment_id": "G1-here", "trial_id": "G1"}]}, lot("AV-1"), FILL, ALIVE,
        dish("D1", normal=10, hard=10, dead=5),
    )  # fmt: skip
    rows = Facts(frames(tables))[chain.passed]
    assert list(dict.fromkeys(rows["stage"])) == ["filled", "viable", "germinated"]


def test_nothing_at_all_is_an_empty_way(frames):
    facts = Facts(frames({}))
    for view in (chain.tested, chain.germinated, chain.grown, chain.passed, chain.established):
        assert facts[view].empty
    assert list(facts[chain.passed]) == chain.COLUMNS
