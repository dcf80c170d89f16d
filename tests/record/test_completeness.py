"""The record is parsed: every run, material, deviation and open item of the package is in it, and what is open is said by whom."""


import pytest

import palea
from palea.checks import checklist
from palea.documents import html
from palea.documents.page import Gap, Grid, Part, anchors, said, walk
from palea.record import methods, missing
from palea.record.deviations import odd
from palea.record.story import Story
from palea.shipped import folder


@pytest.fixture(scope="module")
def whole(package, stamp):
    return methods.assemble(package, stamp)


@pytest.fixture(scope="module")
def text(whole):
    return " ".join(said(run) for run in walk(whole.children) if isinstance(run, str | Gap) or hasattr(run, "text"))


@pytest.fixture(scope="module")
def outsourced():
    return palea.open_package(folder("datapackages_demo") / "outsourced")


def grid(page, name):
    return next(block for block in walk(page.children) if isinstance(block, Grid) and block.anchor == name)


def test_every_row_that_a_sentence_rests_on_has_a_place(package, whole):
    there = set(anchors(whole))
    for table in ("runs", "lots", "materials", "equipment", "treatments", "trials", "contrasts", "visits", "analyses"):
        key = package[table].columns[0]
        made_here = set(package["material_parts"]["material_id"]) if table == "materials" else set()
        lacking = [k for k in package[table][key] if k not in made_here and f"{table}-{k}" not in there]
        assert lacking == [], table


def test_preparations_made_here_are_told_with_their_parts(package, text):
    names = package["materials"].set_index("material_id")["name"]
    for key in set(package["material_parts"]["material_id"]):
        assert names[key][:12] in text


def test_every_deviation_is_told_with_its_reason(package, whole, text):
    steps = package["run_steps"]
    odd_ones = steps[[odd(words) if isinstance(words, str) else False for words in steps["deviation"]]]
    assert len(odd_ones) > 1
    planned = " ".join(said(cell) for row in grid(whole, "planned-and-done").rows for cell in row.cells)
    for step in odd_ones.to_dict("records"):
        assert step["deviation"].rstrip(".") in planned
        assert step["reason"].rstrip(".") in planned
        assert step["run_id"] in planned


def test_every_open_item_is_told_with_its_subject(package, text):
    answers = checklist.evaluate(package)
    open_ones = [a for a in answers if a.state in missing.OPEN]
    assert len(open_ones) > 5
    for answer in open_ones:
        assert answer.question in text
        assert f"; {answer.item}; " in text
        assert answer.subject in text


def test_the_checklist_by_treatment_counts_what_the_checklist_answers(package, whole):
    """The contractor's pellet is the one of which essential items are withheld; a plain film lacks nothing."""
    table = grid(whole, "checklist-treatments")
    heads = [c.heading for c in table.columns]
    counts = {said(row.cells[0]): dict(zip(heads[1:], (int(said(c)) for c in row.cells[1:]), strict=True)) for row in table.rows}
    assert counts["CC-T09"]["Essential: withheld"] >= 6
    assert {name: counts["CC-T05"][name] for name in heads[1:] if not name.endswith("reported")} == {
        name: 0 for name in heads[1:] if not name.endswith("reported")
    }
    assert counts["CC-T05"]["Essential: reported"] > 50
    assert set(counts) <= set(package["treatments"]["treatment_id"])
    plots = package["units"]["treatment_id"].eq("unsown").sum()
    assert counts["unsown"]["Essential: reported"] < 10 * plots  # its plots alone, not all seed of the package
    assert counts["unsown"]["Essential: withheld"] == 0


def test_essential_and_recommended_never_become_one_number(whole):
    table = grid(whole, "checklist")
    assert {said(row.cells[1]) for row in table.rows} == {"essential", "recommended"}
    assert not [row for row in table.rows if "%" in said(row.cells)]


def test_an_outsourced_coat_scores_low_truthfully(outsourced):
    """What the contractor keeps back is withheld, by name, and not missing: it is recorded that it is not told."""
    story = Story(outsourced)
    rows = missing.by_treatment(story, story.answers)["CC-T09"]
    withheld = sum(n for (_, state), n in rows.items() if state is checklist.State.WITHHELD)
    others = [a for a in story.answers if a.state is checklist.State.MISSING and a.about]
    assert withheld >= 8
    assert others == []
    page = methods.assemble(outsourced, figures=False)
    told = html.write(page)
    assert "Withheld by Brackwater Coating Yard (invented)." in told
    assert "palea letter" in told
    share = [n for (weight, state), n in rows.items() if weight == "essential" and state is checklist.State.REPORTED]
    assert share
    about = {"R-CC-T09-1", "brackwater-pellet"}
    of_product = {a.item: a.state.value for a in story.answers if a.stage == "outsourced" and a.subject in about}
    assert {item for item, state in of_product.items() if state == "withheld"} == {
        "outsourced.recipe", "outsourced.settings", "outsourced.drying", "outsourced.parts", "outsourced.room"}  # fmt: skip
    assert of_product["outsourced.keep"] == "reported"


def test_one_more_blank_is_one_more_in_the_counts(package):
    before = missing.by_treatment(Story(package), Story(package).answers)["CC-T05"]
    without = package.having("runs", [{"run_id": "R-CC-T05-2", "room_c": None}])
    after = missing.by_treatment(Story(without), Story(without).answers)["CC-T05"]
    assert after["recommended", checklist.State.MISSING] == before["recommended", checklist.State.MISSING] + 1
    assert after["recommended", checklist.State.REPORTED] == before["recommended", checklist.State.REPORTED] - 1


def test_what_check_found_is_counted_only_where_it_was_asked(package, stamp):
    nobody = said(missing.part(Story(package)).children[-1].runs)
    assert "was not asked for this record" in nobody
    found = palea.check(package)
    asked = said(missing.part(Story(package), found).children[-1].runs)
    assert f"{sum(f.severity == 'warning' for f in found)} warning" in asked


def test_the_same_surroundings_are_told_once(whole):
    trials = next(part for part in walk(whole.children) if isinstance(part, Part) and part.anchor == "trials")
    told = " ".join(said(p.runs) for p in walk(trials.children) if hasattr(p, "runs"))
    assert told.count("two layers of germination paper") == 1
    assert told.count("light and moving about: as in G1") == 3


def test_a_package_says_which_files_its_pictures_are(package, whole):
    shown = {a for a in anchors(whole) if a.startswith("attachments-")}
    may = package["attachments"]
    assert shown == {f"attachments-{k}" for k in may[may["may_share"].fillna(value=False)]["attachment_id"]}
