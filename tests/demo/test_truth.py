"""truth.json and setting.json say what they mean, and agree with each other."""

import json

import pytest

from palea.demo.bench import VERSION
from palea.demo.setting import laid_down, setting
from palea.demo.truth import arms_of, species, truth

NAMES = {
    "AV", "CC", "AM", "G1", "G2", "G3", "G4", "G5", "value", "tried",  # the last two are the parts of a seed
    "warm", "dry", "room", "", "bare", "dressed", "first", "middle", "last",
}
NAMED = ("T0", "T1", "C-", "20-10", "30-20", "psi-", "m0", "m1", "incubator-")  # arms, contrasts, environments, chambers


def parameters(node):
    """Every key below a node that is a parameter and no name of a species, arm, trial, environment or contrast."""
    for key, value in node.items():
        if key not in NAMES and not key.startswith(NAMED):
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


@pytest.mark.parametrize("trial", ["G1", "G2", "G3", "G4", "G5"])
def test_every_arm_is_asked_about_and_every_verdict_foreseen(trial):
    for taxon, names in truth()["germination"][trial]["arms"].items():
        asked = laid_down(trial)["contrasts"][taxon]
        assert {c[side] for c in asked for side in ("a", "b")} == set(names)
        assert sum(c.get("primary", False) for c in asked) == 1
        foreseen = [c for c in truth()["expected"] if c.startswith(f"{laid_down(trial)['contrasts_named']}-{taxon}-")]
        storage = sum(c.get("across") == "storage" for c in asked)  # judged from storage, by no trial of dishes alone
        assert len(foreseen) == len(asked) - storage


def test_g1_has_every_arm_but_the_one_that_g4_was_made_for():
    every = {name for taxon in truth()["species"] for name in arms_of(taxon)}
    in_g1 = {name for names in truth()["germination"]["G1"]["arms"].values() for name in names}
    assert every - in_g1 == {"T14"}


@pytest.mark.parametrize("trial", ["G1", "G2", "G3", "G4", "G5"])
def test_truth_and_plan_of_a_trial_name_the_same_environments_and_days(trial):
    plan, down = truth()["germination"][trial], laid_down(trial)
    assert list(plan["environments"]) == list(down["environments"])
    assert {there["filling"] for there in down["environments"].values()} == set(down["fillings"])
    for filling in down["fillings"].values():
        assert [int(day) for day in filling["counters"]] == plan["days"]
    assert {o["at_day"] for o in down["outcomes"] if "at_day" in o} == {plan["days"][-1]}


def test_every_incident_is_told_in_its_run(written):
    """What is said to have gone otherwise stands where it belongs; an incident that finds no place would be lost."""
    steps, runs = written["run_steps"], written["runs"].set_index("run_id")
    for incident in setting("incidents"):
        in_steps = incident["in"] == "step"
        rows = steps[steps["run_id"].eq(incident["run_id"])] if in_steps else runs.loc[[incident["run_id"]]]
        for column, value in incident["set"].items():
            assert rows[column].isna().any() if value is None else rows[column].eq(value).any(), incident


def test_every_run_in_house_follows_a_written_procedure(written):
    runs = written["runs"]
    ours = runs[runs["place_kind"].eq("in house")]
    assert ours["version"].eq(VERSION).all()
    assert set(ours["protocol_id"]) == set(written["protocols"]["protocol_id"])


def test_runs_keep_within_their_procedure_but_for_what_they_tell(written):
    """Speeds, times and temperatures step by step; what lies outside has its deviation beside it."""
    steps = written["run_steps"].merge(written["runs"][["run_id", "protocol_id"]], on="run_id")
    meant = written["protocol_steps"]
    both = steps.merge(meant, on=["protocol_id", "action", "cycle", "material_id"], suffixes=("", "_meant"))
    for column in ("speed_rpm", "duration_s", "temperature_c", "air_flow_l_min"):
        value, low, high = (both[name].astype(float) for name in (column, f"lowest_{column}", f"highest_{column}"))
        outside = both[(value < low) | (value > high)]
        assert outside["deviation"].notna().all(), (column, outside[["run_id", "action", column]].head())
        assert (value.notna() & low.notna()).sum() > 5, column


def test_amounts_keep_within_their_procedure(written):
    """Each amount over the seed in the bowl, against what the procedure has per kg."""
    moves, meant = written["movements"], written["protocol_steps"]
    seed_kg = moves[moves["kind"].eq("drawn for run")].groupby("run_id")["mass_g"].sum() / 1000
    steps = written["run_steps"].merge(written["runs"][["run_id", "protocol_id"]], on="run_id")
    per_kg = meant[meant["basis"].eq("per kg seed put in")]
    both = steps.merge(per_kg, on=["protocol_id", "action", "cycle", "material_id"], suffixes=("", "_meant"))
    amount = both["amount"] / both["run_id"].map(seed_kg)
    inside = amount.between(both["lowest_amount"], both["highest_amount"])
    assert len(both) > 600
    assert inside.all(), both[~inside][["run_id", "step", "amount", "amount_meant"]]


def test_nothing_real_is_named():
    """Firms, places and permits carry the mark."""
    told = json.dumps([setting("people"), setting("materials"), setting("equipment"), setting("lots")])
    rows = [*setting("materials"), *setting("equipment"), *setting("lots").values()]
    for row in rows:
        for field in ("supplier", "place", "permit"):
            assert "(invented)" in row.get(field, "(invented)"), row
    assert "invented" in told
