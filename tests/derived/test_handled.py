"""Seed as a material laid out for its calculations: samples, runs of the seeder, thirds of a hopper, masses of units."""

import numpy as np
import pytest

from palea.checks.examples import examined, lot, run, several, treated
from palea.derived import handled, mixed
from palea.derived.facts import Facts


def handling(name, method, lot_id="AV-1", treatment="AV-T01", replicate=1, **more):
    row = {"handling_id": name, "trial_id": "H1", "lot_id": lot_id, "treatment_id": treatment, "method": method,
           "replicate": replicate, "status": "valid"}  # fmt: skip
    return {"handling_runs": [row | more]}


def counted(name, *seeds, taxon="AV", length=1.0):
    return {"handling_counts": [
        {"handling_id": name, "place_no": n, "taxon_id": taxon, "start_m": float(n - 1), "length_m": length, "seeds": s}
        for n, s in enumerate(seeds, 1)
    ]}  # fmt: skip


def facts_of(frames, *examples):
    return Facts(frames(several({"trials": [{"trial_id": "H1"}]}, *examples)))


def test_what_was_read_of_one_sample_stands_in_one_row(frames):
    """A cone of 45 degrees is as high as its radius."""
    facts = facts_of(
        frames, lot("AV-1"), handling("b", "bulk density", filled_g=10.0, volume_ml=25.0),
        handling("t", "tapped density", filled_g=10.0, volume_ml=20.0, taps=1250), handling("a", "angle of repose", angle_deg=45.0),
        handling("f", "funnel", delivered_g=9.0, seconds=3.0, stops=0),
    )  # fmt: skip
    (row,) = facts[handled.samples].to_dict("records")
    assert (row["mass_g"], row["bulk_ml"], row["tapped_ml"], row["funnel_g"], row["funnel_s"]) == (10, 25, 20, 9, 3)
    assert row["cone_height_mm"] / row["cone_radius_mm"] == pytest.approx(1)
    assert row["blocked"] == 0
    assert (row["taxon"], row["treatment"], row["batch"]) == ("AV", "AV-T01", "AV-1")


def test_a_funnel_that_nobody_watched_did_neither_block_nor_run_free(frames):
    watched = facts_of(frames, lot("AV-1"), handling("f", "funnel", stops=1))[handled.samples]["blocked"]
    unwatched = facts_of(frames, lot("AV-1"), handling("f", "funnel"))[handled.samples]["blocked"]
    assert watched.tolist() == [1]
    assert unwatched.isna().all()


def test_a_withdrawn_reading_is_left_out(frames):
    facts = facts_of(frames, lot("AV-1"), handling("b", "bulk density", filled_g=10.0, volume_ml=25.0, status="withdrawn"))
    assert not len(facts[handled.samples])


def test_metres_add_up_all_seed_and_places_of_single_seeds_are_none(frames):
    facts = facts_of(
        frames, lot("AV-1"), handling("r", "seeder run", length_m=2.0), counted("r", 10, None),
        counted("r", 5, 7, taxon="CC"), counted("r", 1, 1, 1, length=0.0),
    )  # fmt: skip
    found = facts[handled.metres]["count"]
    assert found.iloc[0] == 15
    assert np.isnan(found.iloc[1]), "a part of the second metre was not counted"
    assert len(found) == 2


THIRDS = [
    part
    for n, third in enumerate(("first", "middle", "last"), 1)
    for part in (
        handling(f"m{n}", "seeder run", "MIX", None, length_m=10.0, stops=1, hopper_third=third),
        counted(f"m{n}", 6 - n), counted(f"m{n}", n, taxon="CC"),
    )
]  # fmt: skip


def test_thirds_of_one_hopper_are_one_run_of_a_lot_without_treatment(frames):
    facts = facts_of(frames, lot("MIX", taxon=None), *THIRDS)
    (row,) = facts[handled.runs].to_dict("records")
    assert (row["length_m"], row["stops"], row["treatment"], row["taxon"]) == (30, 3, "MIX", "")
    assert facts[handled.without_treatment]["lot"].tolist() == ["MIX"]
    rows = facts[mixed.samples].sort_values(["taxon", "third"])
    assert rows["run"].nunique() == 1
    assert rows[["taxon", "third", "count"]].to_numpy().tolist() == [
        ["AV", 1, 5], ["AV", 2, 4], ["AV", 3, 3], ["CC", 1, 1], ["CC", 2, 2], ["CC", 3, 3],
    ]  # fmt: skip


def weighed(lot_id, grams):
    """A hundred units weighed: a thousand weigh ten times as much."""
    return examined(lot_id, "mass of units", {"mass": grams}, out_of=100, unit="g")


def test_a_coat_is_what_the_product_weighs_more_than_the_seed_before_it(frames):
    """By hand: 1000 bare units weigh 2 g, coated 3 g: build-up 50 %. What was cleaned away is no coat."""
    facts = facts_of(
        frames, lot("AV-0"), lot("AV-1"), lot("AV-2"), run("R0", "AV-0", "AV-1", kind="clean"),
        run("R1", "AV-1", "AV-2", kind="coat"), weighed("AV-0", 0.5), weighed("AV-1", 0.2), weighed("AV-2", 0.3),
    )  # fmt: skip
    found = facts[handled.units_masses].set_index("lot")
    assert found.loc["AV-2", "tsw_g"] == pytest.approx(2)
    assert found.loc["AV-2", "build_up_pct"] == pytest.approx(50)
    assert found.loc["AV-1"].tolist() == pytest.approx([2, 0])
    assert found.loc["AV-0"].tolist() == pytest.approx([5, 0])


def test_no_part_of_a_mixture_says_what_the_mixture_weighs(frames):
    moves = {"movements": [
        {"movement_id": f"M{parent}", "lot_id": parent, "kind": "moved to lot", "counterpart_lot_id": "MIX"}
        for parent in ("AV-1", "CC-1")
    ]}  # fmt: skip
    facts = facts_of(frames, lot("AV-1"), lot("CC-1", "CC"), lot("MIX", None), moves, weighed("AV-1", 0.2), weighed("CC-1", 0.01))
    assert np.isnan(facts[handled.units_masses].set_index("lot").loc["MIX", "tsw_g"])


def test_contrasts_are_asked_of_the_materials_that_ran(frames):
    """Both materials ran and come from one lot; one coat is all that tells them apart."""
    levels = several(treated("AV-T03"), treated("AV-T06", coat_class="encrusted"))
    declared = {"contrasts": [{"contrast_id": "C", "trial_id": "H1", "a": "AV-T06", "b": "AV-T03", "outcome": "row variation",
                               "kind": "superiority", "declared_at": "2025-01-01"}]}  # fmt: skip
    runs = [handling(f"r{t}", "seeder run", treatment=t) for t in ("AV-T03", "AV-T06")]
    (row,) = facts_of(frames, lot("AV-1"), levels, declared, *runs)[handled.asked].to_dict("records")
    assert (row["taxon"], row["environment"], row["quantity"], row["refused"]) == ("AV", "", "row variation", "")
    (lone,) = facts_of(frames, lot("AV-1"), levels, declared, runs[0])[handled.asked].to_dict("records")
    assert "AV-T06" in lone["refused"]


def test_views_of_nothing_are_empty(frames):
    facts = facts_of(frames)
    views = (handled.samples, handled.metres, handled.runs, handled.gaps, handled.asked, handled.without_treatment, mixed.samples)
    assert [len(facts[view]) for view in views] == [0] * len(views)
