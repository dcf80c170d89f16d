"""Counts of plots laid out for judging: the planned day, blanks, wild seedlings, live seed, intervals, sizes."""

import numpy as np
import pytest

from palea.checks.examples import examined, lot, run, several
from palea.derived import field_counts, followed, plant_sizes
from palea.derived.facts import Facts

FILL = ({"filled": 80, "empty": 20},)
ALIVE = ({"viable": 45, "dead": 5},)


def plot(unit_id="P1", lot_id="AV-1", visits=None, sown=100, taxon="AV", **more):
    """A plot of trial F1, sown on 1 March 2025, with its visits: {date: {outcome: count}}."""
    unit = {
        "unit_id": unit_id, "trial_id": "F1", "kind": "plot", "lot_id": lot_id, "environment_id": "F1-here",
        "treatment_id": "AV-T01", "sown_n": sown, "seeds_each": 1, "placed_at": "2025-03-01", "status": "in use",
    }  # fmt: skip
    seen = [(day, outcome, n) for day, found in (visits or {}).items() for outcome, n in found.items()]
    days = dict.fromkeys(day for day, *_ in seen)
    return several(
        {"units": [unit | more]},
        {"counts": [{"visit_id": f"V{d}", "unit_id": unit_id, "outcome": o, "taxon_id": taxon, "count": n} for d, o, n in seen]},
        {"visits": [{"visit_id": f"V{d}", "trial_id": "F1", "visited_at": d, "counting": "new"} for d in days]},
    )


def facts_of(frames, *examples):
    trial = {"trials": [{"trial_id": "F1"}], "environments": [{"environment_id": "F1-here", "trial_id": "F1", "site_id": "S"}]}
    return Facts(frames(several(trial, *examples)))


def planned(outcome, day, denominator="viable"):
    return {"trial_outcomes": [{"trial_id": "F1", "outcome": outcome, "at_day": day, "denominator": denominator}]}


def k_of(facts, quantity):
    rows = facts[field_counts.shares]
    return rows[(rows["quantity"] == quantity) & (rows["denominator"] == "sown units")]["k"].tolist()


COMING = {
    "2025-03-08": {"emerged": 5, "standing": 5}, "2025-03-15": {"emerged": 3, "standing": 7},
    "2025-03-22": {"emerged": 2, "standing": 6},
}  # fmt: skip


def test_new_ones_add_up_to_the_planned_day_and_standing_ones_do_not(frames):
    """By hand: 5 + 3 came up by day 14, when 7 stood; day 21 is after the planned day."""
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING), planned("emerged", 14), planned("standing", 14))
    assert k_of(facts, "emerged") == [8]
    assert k_of(facts, "standing") == [7]


def test_without_a_planned_day_the_last_visit_answers(frames):
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING))
    assert k_of(facts, "emerged") == [10]
    assert k_of(facts, "standing") == [6]


def test_a_visit_far_from_the_planned_day_does_not_answer_for_it(frames):
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING), planned("standing", 28))
    assert np.isnan(k_of(facts, "standing")).all()


def test_a_blank_before_the_planned_day_leaves_the_sum_blank(frames):
    gap = COMING | {"2025-03-15": {"emerged": None, "standing": 7}}
    facts = facts_of(frames, lot("AV-1"), plot(visits=gap), planned("emerged", 21))
    assert np.isnan(k_of(facts, "emerged")).all()


def test_wild_seedlings_of_another_species_are_not_those_that_were_sown(frames):
    wild = plot(visits={"2025-03-08": {"emerged": 9}}, taxon="CC")["counts"]
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING), {"counts": wild}, planned("emerged", 7))
    assert k_of(facts, "emerged") == [5]


def test_running_totals_become_what_was_new(frames):
    example = plot(visits={"2025-03-08": {"emerged": 5}, "2025-03-15": {"emerged": 8}})
    example["visits"] = [visit | {"counting": "cumulative"} for visit in example["visits"]]
    facts = facts_of(frames, lot("AV-1"), example, planned("emerged", 14))
    assert k_of(facts, "emerged") == [8]


def test_a_lost_plot_is_not_there(frames):
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING, status="lost"))
    assert not len(facts[field_counts.shares])


def live(facts):
    return facts[field_counts.live_shares].set_index("lot")["viable"]


def test_live_seed_is_filled_times_viable_and_passes_through_a_coat(frames):
    """By hand: 80 of 100 filled, 45 of 50 of these alive: 0.72 of the units sown."""
    tests = several(examined("AV-1", "fill", *FILL, out_of=100), examined("AV-1", "viability", *ALIVE, out_of=50))
    coat = several(lot("AV-1"), lot("AV-2"), tests, run("R1", "AV-1", "AV-2", kind="coat"))
    assert live(facts_of(frames, coat))["AV-2"] == pytest.approx(0.72)
    facts = facts_of(frames, coat, plot(lot_id="AV-2", visits=COMING), planned("emerged", 14))
    rows = facts[field_counts.shares].set_index("denominator")
    assert rows.loc["viable", "n"] == pytest.approx(72)
    assert rows.loc["filled", "n"] == pytest.approx(80)
    errors = np.sqrt([0.2 / 0.8 / 100, 0.2 / 0.8 / 100 + 0.1 / 0.9 / 50])  # (1 - p) / (p n), added for the product
    assert rows.loc[["filled", "viable"], "tested_error"].tolist() == pytest.approx(errors.tolist())
    assert rows.loc[["sown units", "filled", "viable"], "tested"].tolist() == ["", "AV-1", "AV-1, AV-1"]


@pytest.mark.parametrize("kind", ["clean", "grade", "store", "mix"])
def test_what_changes_the_shares_of_a_lot_needs_a_test_of_its_own(frames, kind):
    tests = several(examined("AV-1", "fill", *FILL, out_of=100), examined("AV-1", "viability", *ALIVE, out_of=50))
    facts = facts_of(frames, lot("AV-1"), lot("AV-2"), tests, run("R1", "AV-1", "AV-2", kind=kind))
    assert np.isnan(live(facts)["AV-2"])
    assert live(facts)["AV-1"] == pytest.approx(0.72)


def test_unsown_plots_are_counted_quantity_by_quantity(frames):
    """Eight seedlings came up unsown, of which five still stand: neither stands for the other."""
    bare = plot("U1", lot_id=None, sown=0, visits={"2025-03-08": {"emerged": 8, "standing": 5}}, treatment_id="unsown")
    facts = facts_of(frames, lot("AV-1"), plot(visits=COMING), bare)
    rows = facts[field_counts.unsown].set_index("quantity")
    assert (rows.loc["emerged", "k"], rows.loc["standing", "k"]) == (8, 5)
    assert set(rows["environment"]) == {"F1-here"}


def test_intervals_reach_back_to_the_last_look(frames):
    """A blank visit is no look: what came up meanwhile lies between the looks before and after it."""
    gap = COMING | {"2025-03-15": {"emerged": None}}
    rows = facts_of(frames, lot("AV-1"), plot(visits=gap))[field_counts.intervals]
    assert rows[["left", "right", "count"]].to_numpy().tolist() == [[0, 7, 5], [7, 21, 2], [21, np.inf, 93]]


THINNED = {
    "2025-04-01": {"standing": 12, "removed": 4, "kept": 8}, "2025-04-15": {"standing": 6, "died": 2},
    "2025-05-01": {"standing": 5, "died": None},
}  # fmt: skip


def test_thinned_plants_did_not_die_and_a_fall_is_so_many_deaths(frames):
    """By hand: 8 kept on 1 April; 2 dead after 14 days, one fewer after 30, 5 alive then."""
    facts = facts_of(frames, lot("AV-1"), plot(visits=THINNED))
    rows = facts[followed.intervals]
    assert rows[["left", "right", "count"]].to_numpy().tolist() == [[0, 14, 2], [14, 30, 1], [30, np.inf, 5]]
    assert facts[followed.survivors][["alive", "kept"]].to_numpy().tolist() == [[5, 8]]
    assert not len(facts[field_counts.visits]), "a thinned plot is no row that was left alone"


def test_tagged_plants_of_plots_that_nobody_thinned(frames):
    """One died between 15 April and 1 May; one was cut, alive, on 1 May."""
    tags = {"plants": [
        {"plant_id": "a", "unit_id": "P1", "taxon_id": "AV", "tagged_at": "2025-04-01", "fate": "dead", "fate_at": "2025-05-01"},
        {"plant_id": "b", "unit_id": "P1", "taxon_id": "AV", "tagged_at": "2025-04-01", "fate": "cut", "fate_at": "2025-05-01"},
    ]}  # fmt: skip
    visits = {day: {"standing": 2} for day in ("2025-04-01", "2025-04-15", "2025-05-01")}
    rows = facts_of(frames, lot("AV-1"), plot(visits=visits), tags)[followed.intervals]
    assert rows[["left", "right", "count"]].to_numpy().tolist() == [[14, 30, 1], [30, np.inf, 1]]


def test_rows_that_were_left_alone_have_what_stood_and_what_was_new(frames):
    visits = COMING | {"2025-05-01": {"standing": 4}}
    rows = facts_of(frames, lot("AV-1"), plot(visits=visits))[field_counts.visits]
    assert rows["time"].tolist() == [7, 14, 21, 61]
    assert rows["standing"].tolist() == [5, 7, 6, 4]
    assert rows["new"].tolist()[:3] == [5, 3, 2]
    assert np.isnan(rows["new"].iloc[3])


def measurement(value, unit, trait="dry mass", **more):
    return {"measurements": [{"unit_id": "P1", "visit_id": "V2025-05-01", "trait": trait, "value": value, "unit": unit} | more]}


@pytest.mark.parametrize(("value", "unit", "grams"), [(1.5, "g", 1.5), (1500, "mg", 1.5)])
def test_sizes_come_in_the_unit_of_their_quantity(frames, value, unit, grams):
    visits = {"2025-05-01": {"standing": 4}}
    facts = facts_of(frames, lot("AV-1"), plot(visits=visits), measurement(value, unit, n_plants_pooled=3))
    row = facts[plant_sizes.measured].iloc[0]
    assert (row["quantity"], row["value"], row["n_plants"], row["time"]) == ("plant dry mass", pytest.approx(grams), 3, 61)
    assert facts[plant_sizes.units] == {"plant dry mass": "g"}


def test_a_size_in_a_unit_of_another_kind_is_none(frames):
    facts = facts_of(frames, lot("AV-1"), plot(visits={"2025-05-01": {"standing": 4}}), measurement(12, "min", n_plants_pooled=1))
    assert not len(facts[plant_sizes.measured])


def test_views_of_nothing_are_empty(frames):
    facts = facts_of(frames)
    views = (field_counts.shares, field_counts.unsown, field_counts.intervals, field_counts.visits, field_counts.asked,
             followed.intervals, followed.survivors, plant_sizes.measured)  # fmt: skip
    assert [len(facts[view]) for view in views] == [0] * len(views)


def test_doubled_rows_count_once(frames):
    """A unit, lot and visit entered twice are faults of their own; nothing is counted twice because of them."""
    twice = plot(visits=COMING)
    twice["units"] *= 2
    twice["visits"] *= 2
    facts = facts_of(frames, lot("AV-1"), lot("AV-1"), twice, planned("emerged", 14))
    assert len(facts[field_counts.intervals]) == 4
