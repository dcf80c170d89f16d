"""A letter with what is open, and its questionnaire that comes back into the tables."""

import csv
import io

import pytest

import palea
from palea.bench import letter_back
from palea.documents import html
from palea.documents.page import said, walk
from palea.errors import PaleaError
from palea.record import asked, letter
from palea.record.story import Story
from palea.shipped import folder


@pytest.fixture(scope="module")
def outsourced():
    return palea.open_package(folder("datapackages_demo") / "outsourced")


@pytest.fixture(scope="module")
def questions(outsourced):
    return asked.questions(Story(outsourced), "brackwater")


@pytest.fixture(scope="module")
def sent(outsourced, tmp_path_factory):
    place = tmp_path_factory.mktemp("letter")
    return letter.write(outsourced, place / "letter.html", "brackwater")


def sheet(path):
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"))))


def filled(sent, answers, tmp_path):
    """The questionnaire with answers: {(row, column): (answer, may be published)}."""
    rows = sheet(sent[1])
    for row in rows:
        row["answer"], row["may be published"] = answers.get((row["row"], row["column"]), ("", ""))
    made = io.StringIO(newline="")
    writer = csv.DictWriter(made, list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    path = tmp_path / "back.csv"
    path.write_text(made.getvalue(), encoding="utf-8-sig")
    return path


def test_every_open_item_about_the_contractor_is_asked(outsourced, questions):
    from palea.checks import checklist

    open_ones = {a.item for a in checklist.evaluate(outsourced) if a.state in asked.OPEN and a.about and a.by == "brackwater"}
    assert {item for q in questions for item in q.items} == open_ones
    assert {q.people for q in questions} == {("brackwater",)}


def test_no_cell_is_asked_for_twice(questions):
    cells = [(q.table, q.row_id, q.column) for q in questions]
    assert len(cells) == len(set(cells))


def test_the_letter_is_a_form_with_two_boxes_a_question(outsourced, questions):
    page = letter.assemble(outsourced, "brackwater")
    rows = [row for thing in walk(page.children) for row in getattr(thing, "rows", ())]
    assert len(rows) == len(questions)
    assert all([said(c) for c in row.cells[-2:]] == ["☐", "☐"] for row in rows)
    told = html.write(page)
    assert "Brackwater Coating Yard (invented)" in told
    assert "not recorded" in told


def test_the_sheet_names_table_row_and_column(sent, questions):
    rows = sheet(sent[1])
    assert [(r["table"], r["row"], r["column"]) for r in rows] == [(q.table, q.row_id, q.column) for q in questions]
    assert all(r["question"] and r["answer"] == r["may be published"] == "" for r in rows)


def test_a_new_step_does_not_write_over_one_that_is_there(outsourced, questions):
    steps = outsourced["run_steps"]
    taken = set(steps.loc[steps["run_id"].eq("R-CC-T09-1"), "step"])
    offered = {int(q.row[1][1]) for q in questions if q.table == "run_steps" and q.new}
    assert taken
    assert offered
    assert not taken & offered


ROOM, STEP = "run_id=R-CC-T09-1", "run_id=R-CC-T09-1; step=1"


def test_answers_come_back_into_their_cells(outsourced, sent, tmp_path):
    back = filled(sent, {(ROOM, "room_c"): ("19,5", "yes"), (STEP, "duration_s"): ("90", "x")}, tmp_path)
    proposal, sentences = letter_back.answers_back(outsourced, back)
    assert sentences == ()
    assert proposal.new_errors == ()
    runs = proposal.package["runs"].set_index("run_id")
    assert runs.loc["R-CC-T09-1", "room_c"] == pytest.approx(19.5)
    steps = proposal.package["run_steps"]
    assert steps[steps["run_id"].eq("R-CC-T09-1") & steps["step"].eq(1)]["duration_s"].tolist() == [90]
    assert len(asked.questions(Story(proposal.package), "brackwater")) == len(asked.questions(Story(outsourced), "brackwater")) - 2


def test_what_is_withheld_is_not_entered_and_said_to_be_withheld(outsourced, sent, tmp_path):
    back = filled(sent, {(ROOM, "room_c"): ("19.5", "no"), (ROOM, "room_rh"): ("withheld", "")}, tmp_path)
    proposal, sentences = letter_back.answers_back(outsourced, back)
    row = proposal.package["runs"].set_index("run_id").loc["R-CC-T09-1"]
    assert row.isna()["room_c"]
    assert {"room_c: withheld", "room_rh: withheld"} <= set(row["why_blank"].split("; "))
    assert len(sentences) == 2
    assert "room_c of R-CC-T09-1 is withheld; its answer is not entered." in sentences[0]


def test_an_answer_without_a_tick_is_not_entered(outsourced, sent, tmp_path):
    proposal, (sentence,) = letter_back.answers_back(outsourced, filled(sent, {(ROOM, "room_c"): ("19.5", "")}, tmp_path))
    assert proposal.package["runs"].set_index("run_id").isna().loc["R-CC-T09-1", "room_c"]
    assert "no box ticked" in sentence


def test_what_nobody_knows_any_more_is_kept_as_a_reason(outsourced, sent, tmp_path):
    proposal, _ = letter_back.answers_back(outsourced, filled(sent, {(ROOM, "room_rh"): ("Not recorded", "yes")}, tmp_path))
    assert "room_rh: not recorded" in proposal.package["runs"].set_index("run_id").loc["R-CC-T09-1", "why_blank"]


def test_a_part_of_the_product_is_named_by_a_material(outsourced, sent, tmp_path):
    clay = {"material_id": "clay", "name": "White clay", "role": "filler", "disclosure": "disclosed"}
    outsourced = outsourced.having("materials", [clay])
    part = "material_id=brackwater-pellet; part_material_id=new-1"
    answers = {(part, "part_material_id"): ("white clay", "yes"), (part, "amount"): ("70", "yes"), (part, "unit"): ("%", "yes"),
               (part, "basis"): ("w/w", "yes")}  # fmt: skip
    proposal, _ = letter_back.answers_back(outsourced, filled(sent, answers, tmp_path))
    parts = proposal.package["material_parts"]
    mine = parts[parts["material_id"].eq("brackwater-pellet")]
    assert mine[["part_material_id", "amount"]].to_numpy().tolist() == [["clay", 70.0]]
    unknown = answers | {(part, "part_material_id"): ("marble flour", "yes")}
    proposal, sentences = letter_back.answers_back(outsourced, filled(sent, unknown, tmp_path))
    assert "“marble flour” is no" in sentences[0]
    assert not proposal.package["material_parts"]["material_id"].eq("brackwater-pellet").any()


def test_a_value_that_does_not_fit_is_a_finding(outsourced, sent, tmp_path):
    proposal, _ = letter_back.answers_back(outsourced, filled(sent, {(ROOM, "room_c"): ("warm", "yes")}, tmp_path))
    assert any(f.field == "room_c" and f.severity == "error" for f in proposal.findings)


def test_semicolons_of_a_spreadsheet_elsewhere_are_read(outsourced, sent, tmp_path):
    path = filled(sent, {(ROOM, "room_c"): ("19,5", "yes")}, tmp_path)
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
    made = io.StringIO(newline="")
    csv.writer(made, delimiter=";").writerows(rows)
    path.write_text(made.getvalue(), encoding="utf-8")
    proposal, _ = letter_back.answers_back(outsourced, path)
    assert proposal.package["runs"].set_index("run_id").loc["R-CC-T09-1", "room_c"] == pytest.approx(19.5)


@pytest.mark.parametrize(("text", "says"), [
    ("a,b\n1,2\n", "is no questionnaire of ours"),
    ("table,row,column,answer,may be published\nruns,R-1,room_c,1,yes\n", "does not name a row of runs"),
    ("table,row,column,answer,may be published\nruns,run_id=R-1,rom_c,1,yes\n", "room_c"),
    ("", "is no questionnaire of ours"),
])  # fmt: skip
def test_a_file_that_is_no_sheet_is_refused(outsourced, tmp_path, text, says):
    path = tmp_path / "odd.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PaleaError, match=says):
        letter_back.answers_back(outsourced, path)


def test_somebody_that_nobody_knows_is_refused(outsourced):
    with pytest.raises(PaleaError, match="Nothing in this package is called “nobody”"):
        letter.assemble(outsourced, "nobody")


def test_two_letters_are_the_same_bytes(outsourced, sent, tmp_path):
    again = letter.write(outsourced, tmp_path / "letter.html", "brackwater")
    assert [a.read_bytes() for a in again] == [b.read_bytes() for b in sent]
    with pytest.raises(PaleaError, match="is there already"):
        letter.write(outsourced, tmp_path / "letter.html", "brackwater")
    assert letter.write(outsourced, tmp_path / "letter.docx", "brackwater", replace=True)[0].read_bytes()[:2] == b"PK"
