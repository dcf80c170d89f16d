"""Numbers in sentences are parsed back and compared with the rows of the tables that the sentence leads to."""

import re

import pytest

from palea.documents.page import Grid, Link, Paragraph, Part, said, walk
from palea.record import batches, field, methods
from palea.record.story import Story

NUMBER = r"\d+(?:\.\d+)?"


@pytest.fixture(scope="module")
def whole(package, stamp):
    return methods.assemble(package, stamp, figures=False)


def part(page, anchor):
    return next(p for p in walk(page.children) if isinstance(p, Part) and p.anchor == anchor)


def text(block):
    return " ".join(said(p.runs) for p in walk(block.children) if isinstance(p, Paragraph))


def runs_of(package, treatment):
    """Runs that made the lots that were sown of a treatment, by the tables alone."""
    units, movements = package["units"], package["movements"]
    lots = set(units.loc[units["treatment_id"].eq(treatment), "lot_id"])
    return set(movements.loc[movements["kind"].eq("made") & movements["lot_id"].isin(lots), "run_id"].dropna())


def grams(package, runs, kind):
    movements = package["movements"]
    fraction = movements["lot_id"].map(package["lots"].set_index("lot_id")["fraction"])
    main = fraction.isin(["main"]) | fraction.isna() if kind == "made" else fraction.eq(fraction) | True
    mine = movements[movements["run_id"].isin(runs) & movements["kind"].eq(kind) & main]
    return mine.groupby("run_id")["mass_g"].sum()


def test_the_abstract_counts_what_the_tables_hold(package, whole):
    told = text(part(whole, "abstract"))
    units = package["units"][package["units"]["treatment_id"].notna()]
    counts = units["kind"].value_counts()
    assert f"({counts['dish']} dishes, {counts['plot']} plots" in told
    assert f"{counts['row']} rows" in told
    sown = units[~units["status"].isin(["lost", "spoiled", "excluded"]) & units["lot_id"].notna()]["sown_n"].sum()
    assert f"{sown} seeds" in told
    received = package["movements"].query("kind == 'received'")["mass_g"].sum()
    assert f"One seed lot ({received:g} g)" in told
    kinds = package["runs"]["kind"].value_counts()
    assert f"{kinds['clean']} runs of cleaning".replace("8 runs", "eight runs") in told
    assert f"{kinds['coat']} runs of coating" in told
    assert re.search(r"in (\w+) trials", told)[1] == "seven"
    assert len(package["trials"]) == 7


def test_amounts_of_an_account_are_the_range_over_its_runs(package, whole):
    """The pellet: seed in, product and build-up on dry matter, from the movements by hand."""
    account = part(whole, f"done-{min(runs_of(package, 'CC-T08'))}")
    told = text(account)
    runs = runs_of(package, "CC-T08")
    for words, kind in (("Seed in, a batch", "drawn for run"), ("product", "made")):
        mine = grams(package, runs, kind)
        found = [float(x) for x in re.findall(NUMBER, re.search(rf"{words}: ([^;.]*(?:\.\d[^;.]*)*) g", told)[1])]
        digits = max(len(f"{x:g}".partition(".")[2]) for x in found)
        expected = {round(float(x), digits) for x in (mine.mean(), mine.min(), mine.max())}
        assert sorted(set(found)) == pytest.approx(sorted(expected)), words


def test_settings_in_a_sentence_lie_within_those_of_its_steps(package, whole):
    """Every speed that is told of a procedure is the mean, lowest or highest of its steps, to the digits that are told."""
    runs = runs_of(package, "CC-T08")
    steps = package["run_steps"][package["run_steps"]["run_id"].isin(runs)]
    told = text(part(whole, f"done-{min(runs)}"))
    mean, low, high = map(float, re.search(rf"at ({NUMBER}) \(({NUMBER}) to ({NUMBER})\) rpm", told).groups())
    coating = steps[steps["action"].isin(["wet"])]["speed_rpm"]
    assert (low, high) == (coating.min(), coating.max())
    assert mean == pytest.approx(coating.mean(), abs=0.5)
    times = {float(x) for x in re.findall(rf"for ({NUMBER}) s", told)}
    assert times <= set(steps["duration_s"].dropna())


def test_the_account_leads_to_the_rows_of_its_runs(package, whole):
    for treatment in ("CC-T03", "CC-T06", "CC-T08", "CC-T09"):
        runs = runs_of(package, treatment)
        anchors = {link.anchor for link in walk(part(whole, "methods").children) if isinstance(link, Link)}
        assert anchors & {f"runs-{run}" for run in runs}, treatment


def test_a_trial_says_how_many_units_and_seeds_it_had(package, whole):
    units = package["units"]
    for trial in ("G1", "G2", "G5", "F1", "F2"):
        mine = units[units["trial_id"].eq(trial) & units["lot_id"].notna() & units["status"].eq("in use")]
        told = text(part(whole, f"trial-{trial}"))
        assert f"{mine['sown_n'].sum()} seeds were sown in all" in told
        each = mine.groupby("treatment_id").size()
        shown = f"{each.min()}" if each.min() == each.max() else f"{each.min()} to {each.max()}"
        assert f"had {shown} " in told


def test_tables_of_the_appendix_hold_the_masses_of_the_ledger(package, whole):
    table = next(b for b in walk(whole.children) if isinstance(b, Grid) and b.anchor == "table-runs")
    drawn = package["movements"].query("kind == 'drawn for run'").groupby("run_id")["mass_g"].agg(list)
    for row in table.rows:
        key = row.anchor.removeprefix("runs-")
        if key in drawn.index:
            assert {float(x) for x in said(row.cells[5]).split(" + ")} == set(drawn[key]), key


def test_build_up_in_the_text_is_that_of_dry_matter(package, whole):
    story = Story(package)
    of = next(b for b in batches.all_batches(story, ("coat",)) if b.id == "CC-T08")
    each = [batches.build_up(of, run) for run in of.runs]
    mean, low, high = map(float, re.search(rf"build-up on dry matter ({NUMBER}) \(({NUMBER}) to ({NUMBER})\) %",
                                           text(part(whole, f"done-{of.runs[0]['run_id']}"))).groups())  # fmt: skip
    assert (low, high) == (round(min(each)), round(max(each)))
    assert mean == pytest.approx(sum(each) / len(each), abs=0.5)


@pytest.mark.parametrize(("sensitivity", "shown"), [("none", "52.9477, 2.61502"), ("low", "52.9475, 2.6155"), ("high", "")])
def test_a_site_is_placed_as_exactly_as_it_may_be(package, sensitivity, shown):
    """Low: the centre of a cell of 0.001 degrees, as sharing does it; high: neither named nor placed."""
    changed = Story(package.having("sites", [{"site_id": "hollow-sands", "place_sensitivity": sensitivity}]))
    told = " ".join(said(p.runs) for p in field.paragraphs(changed, "F1"))
    assert ("Hollow Sands (invented)" in told) == bool(shown)
    assert (f", {shown}." in told) if shown else ("52.9" not in told)
