"""`palea answer` and `palea day` as a person and as a program meet them."""

import json

import pytest
from typer.testing import CliRunner

from palea.cli.__main__ import app
from palea.shipped import folder

JOURNEY = folder("datapackages_demo") / "journey"


def palea(*arguments):
    """In this process: how a command starts is tested elsewhere."""
    return CliRunner().invoke(app, list(map(str, arguments)))


def test_an_answer_is_sentence_formula_caution_and_source():
    done = palea("answer", "coating.volume_for_dose", "--option", "purity_pct=90")
    assert done.exit_code == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "Volume to measure 0.444 mL."
    assert lines[1].startswith("Formula: V = dose x seed / (strength x purity x share that stays) = 200 mg/kg x 0.04 kg")
    assert any(line.startswith("Bear in mind: Pesticides") for line in lines)
    assert lines[-1].startswith("Source: ")


def test_an_answer_is_one_document_for_a_program():
    done = palea("answer", "coating.osmotic", "--option", "potential_mpa=-0.4", "--json")
    told = json.loads(done.stdout)
    assert (told["recipe"], told["options"]["potential_mpa"]) == ("coating.osmotic", -0.4)
    assert round(told["results"][0]["estimate"], 1) == 170.5
    assert "C = 170.5 g/kg water" in told["formula"]
    assert told["source"]


@pytest.mark.parametrize(("asked", "told"), [
    (("coating.dose",), "is answered from a package"),
    (("coating.osmotic", "--option", "seed=3"), "Write NAME=VALUE with one of: potential_mpa"),
    (("coating.speed", "--option", "diameter_m=wide"), "allowed is a number"),
    (("coating.osmotic", "--option", "temperature_c=45"), "Choose a temperature"),
])  # fmt: skip
def test_what_cannot_be_answered_is_told_in_words(asked, told):
    done = palea("answer", *asked)
    assert done.exit_code == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_a_day_sheet_is_printed_once(tmp_path):
    file = tmp_path / "day.html"
    asked = ("day", JOURNEY, "--on", "2024-03-08", "--to", file)
    assert palea(*asked).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert "Day sheet, 2024-03-08" in text
    assert "In the next seven days" in text
    assert palea(*asked).exit_code == 2


def test_a_day_is_one_document_for_a_program():
    told = json.loads(palea("day", JOURNEY, "--on", "2024-03-08", "--json").stdout)
    assert (told["on"], set(told)) == ("2024-03-08", {"package", "on", "today", "missed", "soon", "unknown"})
    done = palea("day", JOURNEY, "--on", "8 March")
    assert (done.exit_code, done.stderr.strip()) == (2, "“8 March” is not a date. Write it as 2026-05-04.")
