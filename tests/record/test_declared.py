"""Every number that the results tell is one of the rows of `results`, and each declared contrast is told once."""

import json
import re

import pandas as pd
import pytest

import palea
from palea.analyses import keep
from palea.demo.write import write
from palea.documents.page import Grid, Link, Picture, said, walk
from palea.record import declared, forest, methods, results
from palea.record.story import Story

NUMBER = r"[+-]?\d+(?:\.\d+)?"


@pytest.fixture(scope="module")
def answered(tmp_path_factory, stamp):
    """AM with two answered trials: judged on batches (G4), and on dishes across water (G2)."""
    made = write(tmp_path_factory.mktemp("declared") / "journey", species=("AM",))
    asked = [("germination.final", "G4"), ("germination.final", "G2"), ("germination.water", "G2"), ("germination.time", "G1")]
    return keep.keep(made, [palea.run(recipe, made, trial=trial) for recipe, trial in asked], stamp, figures=False)


@pytest.fixture(scope="module")
def story(answered):
    return Story(answered)


@pytest.fixture(scope="module")
def told(answered):
    return results.part(Story(answered))


def tables(part):
    return {block.anchor: block for block in walk(part.children) if isinstance(block, Grid)}


def test_every_declared_contrast_stands_in_the_table_of_its_trial_once(answered, told):
    contrasts = answered["contrasts"]
    shown = tables(told)
    for trial, some in contrasts.groupby("trial_id"):
        anchors = [row.anchor for row in shown[f"contrasts-{trial}"].rows]
        assert anchors == [f"contrasts-{name}" for name in some["contrast_id"]]


def test_numbers_of_the_tables_are_those_of_their_rows(answered, story, told):
    """Parsed back out of the printed cell, and looked for among the rows of `results`: estimate, bounds, p, counts."""
    kept = answered["results"]
    checked = 0
    for answer in (a for trial in ("G2", "G4") for a in declared.answers(story, trial)):
        row = next(r for r in tables(told)[f"contrasts-{answer.contrast['trial_id']}"].rows
                   if r.anchor == f"contrasts-{answer.contrast['contrast_id']}")  # fmt: skip
        mine = kept[kept["treatment_a"].eq(answer.contrast["a"]) & kept["treatment_b"].eq(answer.contrast["b"])]
        estimate, low, high = (float(x) for x in re.findall(NUMBER, said(row.cells[3]).replace("−", "-"))[:3])
        digits = max(len(x.partition(".")[2]) for x in re.findall(NUMBER, said(row.cells[3])))
        near = mine[["estimate", "lower", "upper"]].astype(float).round(digits)
        assert near.eq([estimate, low, high]).all(axis=1).any(), said(row.cells[3])
        assert {float(n) for n in re.findall(r"\d+", said(row.cells[5]))} <= {
            float(x) for x in mine[["n_batches", "n_units"]].to_numpy().ravel() if x == x
        }
        assert said(row.cells[6]).replace("within 15 points", "within m") in {
            *mine["verdict"].dropna(), "no worse by more than 15 points"}  # fmt: skip
        checked += 1
    assert checked == 8


def test_a_contrast_across_settings_is_answered_by_the_interaction(story):
    across = [a for a in declared.answers(story, "G2") if a.contrast["across"]]
    assert [a.row["quantity"] for a in across] == ["change of the effect with water"]
    within = [a for a in declared.answers(story, "G2") if not a.contrast["across"]]
    assert {a.row["quantity"] for a in within} == {"normal seedlings"}
    assert len({(a.row["environment_id"], a.contrast["contrast_id"]) for a in within}) == len(within) == 4


def test_an_interaction_answers_no_contrast_within_one_setting(answered):
    kept = answered["results"]
    alone = answered.replacing("results", kept[kept["analysis_id"].eq("G2-germination.water")].reset_index(drop=True))
    found = {bool(a.contrast["across"]): a.row is not None for a in declared.answers(Story(alone), "G2")}
    assert found == {True: True, False: False}


@pytest.mark.parametrize(("more", "fits"), [
    ({}, True),
    ({"quantity": "change of the effect with water"}, False),  # an interaction answers only what is asked across
    ({"margin": 15.0}, False),  # held to another margin than was declared
    ({"treatment_a": "AM-T12"}, False),
    ({"environment_id": "G2-30-20-dry-1"}, False),
    ({"trial": None}, False),  # an answer about the whole package
])  # fmt: skip
def test_a_row_answers_the_contrast_that_it_was_asked_for(story, more, fits):
    contrast = {"contrast_id": "C", "a": "AM-T06", "b": "AM-T03", "margin": None, "outcome": "normal seedlings",
                "environment_id": "G2-20-10-dry-1", "across": None}  # fmt: skip
    row = {"treatment_a": "AM-T06", "treatment_b": "AM-T03", "margin": None, "quantity": "normal seedlings", "trial": "G2",
           "environment_id": "G2-20-10-dry-1", "contrast_id": None, "verdict": "worse", "analysis_id": "x",
           "denominator": "filled", "scale": "difference"} | more  # fmt: skip
    assert declared._rows(story, contrast, [row]) == ([row] if fits else [])


def test_a_contrast_that_is_not_answered_says_so(answered, told):
    rows = tables(told)["contrasts-F1"].rows
    assert rows
    assert "Verdict" not in [c.heading for c in tables(told)["contrasts-F1"].columns]
    g1 = tables(told)["contrasts-G1"]
    assert {said(row.cells[-1]) for row in g1.rows if said(row.cells[0]) != "C-AM-12"} == {"not answered yet"}
    assert answered["results"]["verdict"].notna().any()


def test_a_named_contrast_of_a_row_is_believed_before_any_likeness(answered):
    """Where rows say which contrast they answer, that counts, and not who is compared."""
    kept = answered["results"]
    line = kept[kept["treatment_a"].eq("AM-T11") & kept["treatment_b"].eq("AM-T14") & kept["verdict"].notna()].iloc[0]
    (own,) = kept.loc[kept["contrast_id"].eq("C-G4-AM-03"), "result_no"]
    names = {line["result_no"]: "C-G4-AM-03", own: None}
    other = [{"analysis_id": line["analysis_id"], "result_no": no, "contrast_id": name} for no, name in names.items()]
    named = declared.answers(Story(answered.having("results", other)), "G4")
    by_id = {a.contrast["contrast_id"]: a.row for a in named}
    assert by_id["C-G4-AM-03"]["result_no"] == line["result_no"]
    assert by_id["C-G4-AM-01"] is None


def test_an_effect_is_said_with_what_it_rests_on():
    row = {"estimate": 30.6, "lower": 22.7, "upper": 38.9, "unit": "%", "scale": "difference", "margin": None,
           "treatment_b": "b", "n_batches": 8, "n_units": 32, "rung": "batch"}  # fmt: skip
    assert declared.with_interval(row) == "+31 points (+23 to +39)"
    assert declared.behind(row, "dish") == "8 batches (32 dishes)"
    assert declared.behind(row | {"rung": "plot", "n_batches": 1}, "dish") == "32 plots (1 batch)"
    assert declared.behind(row | {"rung": "lot"}, "dish") == "32 dishes (8 batches), by lot"
    ratio = row | {"estimate": 0.4846, "lower": 0.339, "upper": 0.6926, "unit": "1", "scale": "ratio"}
    assert declared.with_interval(ratio) == "0.5 × (0.3 to 0.7)"


def test_a_bound_is_not_rounded_onto_the_margin():
    row = {"estimate": -4.9, "lower": -14.8, "upper": 4.9, "unit": "%", "scale": "difference", "margin": 15.0,
           "treatment_b": "b", "n_batches": 8, "n_units": 32, "rung": "batch"}  # fmt: skip
    assert declared.with_interval(row) == "-4.9 points (-14.8 to +4.9)"


def test_the_drawing_says_every_contrast_in_words_and_stays_as_wide_as_the_text(story):
    svg, alternative = forest.draw(declared.answers(story, "G2"), "dish")
    assert f'width="{forest.WIDTH}"' in svg
    for a in declared.answers(story, "G2"):
        assert f"{a.contrast['a']} against {a.contrast['b']} {declared.with_interval(a.row)}" in alternative
    assert svg.count("<circle") == 5
    assert svg.count("<rect") == 4  # margins; the interaction has none
    assert forest.draw([], "dish") is None


def test_a_point_lies_where_its_number_is():
    domain = (-20.0, 20.0, False)
    assert forest._x(0.0, domain) == pytest.approx((forest.LEFT + forest.RIGHT) / 2)
    assert forest._x(20.0, domain) == forest.RIGHT
    assert forest._x(1.0, (0.25, 4.0, True)) == pytest.approx((forest.LEFT + forest.RIGHT) / 2)
    assert forest._x(99.0, domain) == forest.RIGHT  # what lies beyond is cut at the edge


def test_few_contrasts_need_no_drawing(told):
    assert [p.anchor for p in walk(told.children) if isinstance(p, Picture)] == ["figure-G2"]


def test_every_sentence_on_a_primary_contrast_leads_to_its_row(answered, stamp):
    page = methods.assemble(answered, stamp)
    head = next(part for part in page.children if getattr(part, "anchor", "") == "abstract")
    links = {link.anchor for link in walk(head.children) if isinstance(link, Link)} - {"missing"}
    primary = answered["contrasts"].query("primary and trial_id in ['G2', 'G4']")["contrast_id"]
    assert links == {f"contrasts-{name}" for name in primary}


def test_results_older_than_their_data_are_marked(answered):
    counts = answered["counts"]
    line = counts[counts["visit_id"].str.startswith("G4") & counts["count"].notna()].iloc[0]
    key = {c: line[c] for c in ("visit_id", "unit_id", "outcome", "taxon_id", "observer")}
    changed = answered.having("counts", [key | {"count": int(line["count"]) + 1}])
    (note, *_) = results.part(Story(changed)).children
    assert note.title == "older than the data"
    assert "G4-germination.final was run before data" in said(note.children[0].items[0])
    (first, *_) = results.part(Story(answered)).children
    assert getattr(first, "title", "") != "older than the data"


def test_numbers_that_are_not_printed_are_counted(answered, story):
    from palea.record import estimates

    text = " ".join(said(p.runs) for p in walk(estimates.part(story).children) if hasattr(p, "runs"))
    assert f"All {len(answered['results'])} numbers stand in data/results.csv" in text
    grid = next(b for b in estimates.part(story).children if isinstance(b, Grid) and b.anchor == "table-analyses")
    assert {said(row.cells[0]) for row in grid.rows} == set(answered["analyses"]["analysis_id"])
    assert all(json.loads(options) for options in answered["analyses"]["options"])
    assert isinstance(answered["results"], pd.DataFrame)
