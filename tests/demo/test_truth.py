"""truth.json and setting.json say what they mean, and agree with each other."""

import json

import pytest

from palea.demo.setting import setting
from palea.demo.truth import arms_of, species, truth

NAMES = {"AV", "CC", "AM", "G1", "value", "tried"}  # names of things, and the two parts of the seed


def parameters(node):
    """Every key below a node that is a parameter and no name of a species, arm, trial or contrast."""
    for key, value in node.items():
        if key not in NAMES and not key.startswith(("T0", "T1", "C-")):
            yield key
        if isinstance(value, dict):
            yield from parameters(value)


def test_every_parameter_has_a_note_and_no_note_is_left_over():
    told = dict(truth())
    notes = told.pop("notes")
    told.pop("about")
    assert set(parameters(told)) == set(notes)
    assert all(len(note) > 10 for note in notes.values())


@pytest.mark.parametrize(("taxon", "units_in", "seeds_out", "grams_out"), [
    # From the demo's plan: AV 1200 g = 230 769 pods -> 179 857 seeds = 486 g; CC 47.7 g, AM 226 g clean.
    ("AV", 230_769, 179_857, 486), ("CC", None, None, 47.7), ("AM", None, None, 226),
])
def test_what_the_brush_yields(written, taxon, units_in, seeds_out, grams_out):
    """Mass over thousand-seed weight gives the numbers, by hand."""
    moves = written["movements"]
    by_brush = moves[moves["run_id"].str.fullmatch(f"R-{taxon}-T03-.", na=False)]
    put_in = by_brush.loc[by_brush["kind"].eq("drawn for run"), "mass_g"].sum()
    clean = by_brush["kind"].eq("made") & ~by_brush["lot_id"].str.endswith("waste")
    assert by_brush.loc[clean, "mass_g"].sum() == pytest.approx(grams_out, rel=2e-3)
    if units_in:
        assert put_in / species(taxon)["tsw_in_hull_g"] * 1000 == pytest.approx(units_in, abs=1)
        out = by_brush.loc[clean, "mass_g"].sum() / species(taxon)["tsw_clean_g"] * 1000
        assert out == pytest.approx(seeds_out, rel=1e-4)


def test_every_arm_has_a_treatment_and_a_way_of_making():
    made = {name for names in setting("made_by").values() for name in names}
    for name in truth()["arms"]:
        assert name in setting("treatments")
        assert name in made or name in ("T01", "T02", "T03")


def test_every_arm_of_g1_is_asked_about_and_every_verdict_foreseen():
    for taxon, names in truth()["germination"]["G1"]["arms"].items():
        assert names == arms_of(taxon)
        asked = setting("contrasts")[taxon]
        assert {c[side] for c in asked for side in ("a", "b")} == set(names)
        assert sum(c.get("primary", False) for c in asked) == 1
        foreseen = [c for c in truth()["expected"] if c.startswith(f"C-{taxon}-")]
        assert len(foreseen) == len(asked)


def test_every_incident_is_told_in_its_run(written):
    """What is said to have gone otherwise stands where it belongs; an incident that finds no place would be lost."""
    steps, runs = written["run_steps"], written["runs"].set_index("run_id")
    for incident in setting("incidents"):
        in_steps = incident["in"] == "step"
        rows = steps[steps["run_id"].eq(incident["run_id"])] if in_steps else runs.loc[[incident["run_id"]]]
        for column, value in incident["set"].items():
            assert rows[column].isna().any() if value is None else rows[column].eq(value).any(), incident


def test_nothing_real_is_named():
    """Firms, places and permits carry the mark."""
    told = json.dumps([setting("people"), setting("materials"), setting("equipment"), setting("lots")])
    rows = [*setting("materials"), *setting("equipment"), *setting("lots").values()]
    for row in rows:
        for field in ("supplier", "place", "permit"):
            assert "(invented)" in row.get(field, "(invented)"), row
    assert "invented" in told
