"""The demo as a package: sound, whole, the same to the byte, and without a fault that it does not mean to show."""

import hashlib

import numpy as np
import pytest

import palea
from palea.demo.seeds import search
from palea.demo.setting import setting
from palea.demo.truth import truth
from palea.demo.write import write
from palea.derived.facts import Facts
from palea.derived.ledger import held
from palea.errors import PackageError
from palea.shipped import folder
from palea.tables.validate import structure

SPECIES = tuple(truth()["species"])


def files(where):
    """{relative path: hash of its bytes} of a folder."""
    paths = sorted(p for p in where.rglob("*") if p.is_file())
    return {str(p.relative_to(where)): hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}


def test_it_is_sound(written):
    assert structure(written) == []


def test_the_reference_validator_calls_it_valid(written):
    """frictionless is the reference validator of the Data Package standard."""
    import frictionless

    report = frictionless.validate(str(written.folder / "datapackage.json"))
    assert report.valid, report.flatten(["type", "note"])[:5]


def test_the_shipped_journey_is_what_the_demo_writes(written):
    """To the byte. After a change of schema or generator: python -m palea.demo writes it anew."""
    assert files(folder("datapackages_demo") / "journey") == files(written.folder)


def test_twice_gives_the_same_bytes(written, tmp_path):
    assert files(write(tmp_path / "again").folder) == files(written.folder)


def test_one_species_alone_is_as_it_is_among_others(written, tmp_path):
    alone = write(tmp_path / "one", ("CC",))
    assert set(alone["taxa"]["taxon_id"]) == {"CC"}
    for table, column in {"counts": "unit_id", "units": "unit_id", "runs": "run_id", "readings": "test_id"}.items():
        among = written[table][written[table][column].str.contains("CC-")].reset_index(drop=True)
        assert alone[table].equals(among), table
    assert structure(alone) == []


def test_a_species_that_it_does_not_have_is_named(tmp_path):
    with pytest.raises(PackageError, match=r"no species “XX”\. It has AV, CC, AM"):
        write(tmp_path / "new", ("AV", "XX"))


def test_a_folder_in_use_is_left_alone(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(PackageError, match="already"):
        write(tmp_path)
    assert files(tmp_path).keys() == {"notes.txt"}


def test_it_holds_the_whole_of_g1(written):
    plan = truth()["germination"]["G1"]
    assert len(written["units"]) == 448  # from the demo's plan
    assert written["units"]["code"].is_unique
    assert not written["units"].duplicated(["grid_row", "grid_column"]).any()
    assert len(written["counts"]) == 448 * (2 * len(plan["days"]) + 4)
    assert written["counts"].loc[written["counts"]["count"].isna(), "missing"].eq("not looked").all()


def test_every_dish_is_counted_out(written):
    """25 seed units a dish end once each; in the contractor's pellets there may be more seeds or fewer."""
    ends = written["counts"].groupby("unit_id")["count"].sum()
    dishes = written["units"].set_index("unit_id")
    single = dishes["seeds_each"].eq(1)
    assert (ends[single[single].index] == 25).all()
    assert single.sum() == 432
    assert (ends[single[~single].index] != 25).any()


def test_no_lot_is_ever_overdrawn(written):
    after = Facts(written)[held]["mass_after_g"]
    assert after.notna().all()
    assert after.min() > -1e-4  # masses are kept to 0.01 mg


def test_no_run_puts_out_more_than_went_in(written):
    """Dry matter, by hand: seed in and what was added are never less than what came out; the contractor is silent."""
    moves = written["movements"].merge(written["runs"][["run_id", "disclosure"]], on="run_id")
    dry = moves["mass_g"] * (1 - moves["moisture_pct"] / 100)
    assert dry.notna().all()
    by_run = dry.groupby([moves["run_id"], moves["kind"]]).sum().unstack()
    steps = written["run_steps"]
    # A mL counts as a g here: the solids in it are less, so the bound is wide for liquids and close for powders.
    added = steps["amount"].where(steps["material_id"].notna()).groupby(steps["run_id"]).sum()
    told = by_run.index[by_run.index.isin(moves.loc[moves["disclosure"].eq("disclosed"), "run_id"])]
    over = by_run.loc[told, "made"] - by_run.loc[told, "drawn for run"] - added.reindex(told).fillna(0)
    assert (over < 0).all()


@pytest.mark.parametrize(("treatment", "strength_mg_per_ml"), [
    # Strength by hand: 2.222 g of 90 % in 100 mL = 20 mg/mL; ten times thinner; 1.01 g of 99 % in 100 mL; 10 % w/w.
    ("AM-T13", 20.0), ("AM-T10", 2.0), ("CC-T15", 10.0), ("CC-T17", 100.0),
])
def test_what_was_put_on_is_the_dose_that_was_meant(written, treatment, strength_mg_per_ml):
    """Volume times strength over seed in the bowl, run by run."""
    carrier = setting("actives_in")[treatment.split("-")[1]]["material_id"]
    steps, moves = written["run_steps"], written["movements"]
    mine = steps[steps["run_id"].str.startswith(f"R-{treatment}-")]
    volume = mine[mine["material_id"].eq(carrier)].set_index("run_id")["amount"]
    seed = moves[moves["kind"].eq("drawn for run")].groupby("run_id")["mass_g"].sum()
    meant = written["treatment_actives"].set_index("treatment_id").loc[treatment]
    mg_kg = meant["amount"] * {"mg/kg": 1, "g/kg": 1000}[meant["unit"]]
    put_on = volume * strength_mg_per_ml / seed[volume.index] * 1000
    assert len(put_on) == 4
    assert put_on.to_numpy(float) == pytest.approx(np.full(4, mg_kg), rel=0.005)


def test_it_warns_of_one_batch_and_of_nothing_else(written):
    """The contractor's pellet is one batch, and that is true; gaps are meant and counted elsewhere."""
    found = [f for f in palea.check(written) if f.severity != "gap"]
    assert [(f.severity, f.table) for f in found] == [("warning", "treatments")]
    assert "CC-T09" in found[0].message


@pytest.mark.parametrize("recipe", ["germination.final", "germination.time"])
def test_every_verdict_is_the_one_that_the_truth_gives(written, recipe):
    """The truth is known, so this is a check from outside the analysis: what was put in is what is found."""
    asked = {(c.a, c.b, c.outcome): c.contrast_id for c in written["contrasts"].itertuples()}
    effects = [e for e in palea.run(recipe, written, trial="G1").result.effects if e.verdict]
    told = {asked[e.of["a"], e.of["b"], e.quantity]: str(e.verdict) for e in effects}
    timed = {c.contrast_id for c in written["contrasts"].itertuples() if c.outcome == "t50"}
    mine = timed if recipe.endswith("time") else set(asked.values()) - timed
    assert told == {c: verdict for c, verdict in truth()["expected"].items() if c in mine}


def test_empties_taken_out_pass_for_germination_only_on_sown_units(written):
    """The trap of the denominator: Armeria cleaned by hand gains on sown units and not on filled ones."""
    effects = palea.run("germination.final", written, trial="G1").result.effects
    both = {e.denominator: e for e in effects if (e.of["a"], e.of["b"], e.scale) == ("AM-T02", "AM-T01", "difference")}
    assert both["sown units"].lower > 0
    assert not both["sown units"].verdict
    assert both["filled"].verdict == "equivalent within m"


def test_the_seed_is_the_first_that_shows_the_truth():
    """The search, repeated: what truth.json says of the seed is what was done."""
    tried = list(search())
    assert tried[-1] == (truth()["seed"]["value"], {})
    assert len(tried) == truth()["seed"]["tried"]
    assert all(otherwise for _, otherwise in tried[:-1])
