"""The commands that write for others: they say where they wrote, and why they could not."""

import pytest
from typer.testing import CliRunner

import palea
from palea.cli import bag_page, letter, methods, my_batch
from palea.cli.app import app
from palea.shipped import folder

OUTSOURCED = str(folder("datapackages_demo") / "outsourced")
COMMANDS = (bag_page, letter, methods, my_batch)  # importing them is what makes them known to the app


def told(*words):
    done = CliRunner().invoke(app, list(words))
    return done.exit_code, done.stderr.strip()


def test_methods_writes_the_record_and_what_it_cites(tmp_path):
    code, said = told("methods", OUTSOURCED, "--to", str(tmp_path / "m.docx"), "--references", str(tmp_path / "m.bib"))
    assert code == 0
    assert f"The methods record is written to {tmp_path / 'm.docx'}." in said
    assert (tmp_path / "m.docx").read_bytes()[:2] == b"PK"
    assert (tmp_path / "m.bib").read_text(encoding="utf-8").startswith("@")


def test_methods_needs_to_be_told_where():
    code, said = told("methods", OUTSOURCED)
    assert code == 2
    assert "Say where to write" in said


def test_letter_writes_its_questionnaire_beside(tmp_path):
    code, said = told("letter", OUTSOURCED, "--about", "brackwater", "--to", str(tmp_path / "l.html"))
    assert code == 0
    assert str(tmp_path / "l.csv") in said
    assert (tmp_path / "l.csv").is_file()


@pytest.mark.parametrize(("words", "says"), [
    (("letter", OUTSOURCED, "--about", "nobody", "--to", "l.html"), "Nothing in this package is called “nobody”"),
    (("bag-page", OUTSOURCED, "X", "--to", "b.html"), "There is no lot “X”"),
    (("my-batch", OUTSOURCED, "R-CC-T09-1", "--seed-g", "5", "--to", "b.html"), "is withheld by"),
    (("my-batch", OUTSOURCED, "R-CC-T03-1", "--seed-g", "0", "--to", "b.html"), "must be above zero"),
    (("bag-page", OUTSOURCED, "CC-0", "--to", "b.pdf"), "can be written as .html, .docx or .md"),
])  # fmt: skip
def test_what_cannot_be_done_says_why_and_writes_nothing(tmp_path, monkeypatch, words, says):
    monkeypatch.chdir(tmp_path)
    code, said = told(*words)
    assert code == 2
    assert says in said
    assert list(tmp_path.iterdir()) == []


def test_a_bag_page_and_a_recipe_are_written(tmp_path):
    assert told("bag-page", OUTSOURCED, "CC-T09-1", "--to", str(tmp_path / "b.html"))[0] == 0
    code, said = told("my-batch", OUTSOURCED, "R-CC-T03-1", "--seed-g", "5", "--to", str(tmp_path / "r.md"))
    assert code == 0
    assert "The recipe for 5 g of seed is written" in said


def test_a_questionnaire_that_came_back_is_entered_with_its_journal_line(tmp_path):
    import shutil

    package = tmp_path / "mine"
    shutil.copytree(OUTSOURCED, package)
    told("letter", str(package), "--about", "brackwater", "--to", str(tmp_path / "l.html"))
    sheet = tmp_path / "l.csv"
    lines = sheet.read_text(encoding="utf-8-sig").splitlines()
    back = [line[: -len(",,")] + ",19.5,yes" if ",room_c," in line else line for line in lines]
    assert back != lines
    sheet.write_text("\n".join(back), encoding="utf-8")
    stamp = ("--who", "C. Sorrel", "--now", "2024-05-01T10:00:00+00:00")
    code, said = told("letter", str(package), "--back", str(sheet), *stamp)
    assert (code, said) == (0, f"1 row changed by the answers in {sheet}.")
    opened = palea.open_package(package)
    assert opened["runs"].set_index("run_id").loc["R-CC-T09-1", "room_c"] == 19.5
    assert '"who": "C. Sorrel"' in (package / "journal.jsonl").read_text(encoding="utf-8").splitlines()[-1]
    assert told("letter", str(package))[0] == 2
