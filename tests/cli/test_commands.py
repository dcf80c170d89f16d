"""The command line as a person and as a program meet it: exit codes, sentences, one JSON document."""

import csv
import json
import subprocess
import sys

import pytest


def palea(*arguments, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "palea", *map(str, arguments)], capture_output=True, text=True, cwd=cwd, check=False
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A kept journey of one species: analysed and shared by the demo itself."""
    place = tmp_path_factory.mktemp("demo")
    done = palea("demo", "tour", "--quick", "--no-open", cwd=place)
    assert done.returncode == 0, done.stdout + done.stderr
    return place / "tour"


def test_the_demo_says_what_it_found_and_where_things_lie(folder):
    assert (folder / "methods.html").is_file()
    assert (folder / "journey.zip").is_file()
    again = palea("demo", folder, "--quick", "--no-open")
    assert again.returncode == 2
    assert again.stderr.splitlines()[-1].endswith("Name another folder, or say --replace to start afresh.")
    assert "Traceback" not in again.stderr


def test_check_prints_one_document_of_the_agreed_shape(folder):
    done = palea("check", folder / "journey", "--json")
    assert done.returncode == 0
    told = json.loads(done.stdout)
    assert set(told) == {
        "package", "schema_version", "errors", "warnings", "gaps", "checklist", "checklist_by_treatment", "findings",
    }  # fmt: skip
    assert told["errors"] == 0
    assert set(told["checklist"][0]) == {
        "stage",
        "weight",
        "applicable",
        "reported",
        "withheld",
        "not_recorded",
        "missing",
    }


def test_check_answers_no_with_exit_1_and_names_row_and_value(folder, tmp_path):
    import shutil

    copy = shutil.copytree(folder / "journey", tmp_path / "journey")
    counts = copy / "data" / "counts.csv"
    lines = counts.read_text(encoding="utf-8").splitlines()
    at = lines[0].split(",").index("count")
    cells = lines[1].split(",")
    cells[at] = "ca. 4"
    lines[1] = ",".join(cells)
    counts.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = palea("check", copy, "--json")
    assert done.returncode == 1
    found = [f for f in json.loads(done.stdout)["findings"] if f["table"] == "counts" and f["field"] == "count"]
    assert [(f["row"], f["value"]) for f in found] == [(2, "ca. 4")]
    assert palea("rerun", copy).returncode == 1, "a count changed by hand changes what rests on it"


def test_rerun_of_the_archive_finds_every_number_again(folder):
    done = palea("rerun", folder / "journey.zip", "--json")
    assert done.returncode == 0, done.stdout[-2000:]
    told = json.loads(done.stdout)
    assert told["manifest"] == "ok"
    assert told["identical"] > 50
    assert not any(told[k] for k in ("within_tolerance", "differs", "missing", "extra"))
    assert set(told["results"][0]) >= {
        "analysis_id",
        "quantity",
        "group",
        "was",
        "now",
        "relative_difference",
        "verdict",
    }


def test_a_number_altered_in_a_shared_copy_is_found(folder, tmp_path):
    import zipfile

    place = tmp_path / "shared"
    zipfile.ZipFile(folder / "journey.zip").extractall(place)
    results = place / "data" / "results.csv"
    lines = results.read_text(encoding="utf-8").splitlines()
    at = lines[0].split(",").index("estimate")
    cells = lines[1].split(",")
    cells[at] = str(float(cells[at]) + 5)
    lines[1] = ",".join(cells)
    results.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = palea("rerun", place, "--json")
    told = json.loads(done.stdout)
    assert done.returncode == 1
    assert (told["manifest"], told["altered_files"], told["differs"]) == ("altered", ["data/results.csv"], 1)


def test_the_archive_of_one_state_is_the_same_to_the_byte(folder, tmp_path):
    for name in ("a.zip", "b.zip"):
        assert palea("share", folder / "journey", "--to", tmp_path / name).returncode == 0
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_sharing_tells_what_it_did_and_leaves_out_what_one_asks(folder, tmp_path):
    import zipfile

    done = palea("share", folder / "journey", "--to", tmp_path / "a.zip", "--report", tmp_path / "a.html",
                 "--leave-out", "lots.price")
    assert done.returncode == 0, done.stderr
    assert "the column “Price” was left out by choice" in " ".join(done.stderr.split())
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert "What left the house, and how" in page
    assert "Reporting checklist" in page
    with zipfile.ZipFile(tmp_path / "a.zip") as inside:
        rows = list(csv.DictReader(inside.read("data/lots.csv").decode().splitlines()))
    assert {row["price"] for row in rows} == {""}
    refused = palea("share", folder / "journey", "--to", tmp_path / "b.zip", "--leave-out", "lots.notes")
    assert refused.returncode == 2
    assert "“lots.notes” cannot be left out" in " ".join(refused.stderr.split())


def test_analyse_prints_rows_and_sentences(folder):
    done = palea("analyse", folder / "journey", "--recipe", "germination.uniformity", "--json", "--now", "2026-10-01")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)["analyses"]
    assert told[0]["recipe"] == "germination.uniformity"
    assert told[0]["sentences"]
    assert told[0]["results"][0]["analysis_id"] == "G1-germination.uniformity"


def test_methods_are_written_as_html_and_markdown_and_nothing_is_overwritten(folder, tmp_path):
    for name in ("m.html", "m.md"):
        assert palea("methods", folder / "journey", "--to", tmp_path / name).returncode == 0
    refused = palea("methods", folder / "journey", "--to", tmp_path / "m.html")
    assert refused.returncode == 2
    assert "--replace" in refused.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "nowhere"),
        ("rerun", "nowhere.zip"),
        ("methods", "nowhere", "--to", "x.html"),
        ("share", "nowhere", "--to", "x.zip"),
        ("history", "nowhere"),
        ("analyse", "nowhere"),
        ("dictionary", "countz"),
    ],
)
def test_what_could_not_be_done_is_said_in_words_with_exit_2(arguments, tmp_path):
    done = palea(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.strip().endswith((".", "”"))
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir()), "nothing is left behind"


def test_new_makes_an_empty_valid_package_with_a_whole_history(tmp_path):
    assert palea("new", tmp_path / "trial", "--title", "Spring trial").returncode == 0
    told = json.loads(palea("check", tmp_path / "trial", "--json").stdout)
    assert told["findings"] == []
    assert palea("history", tmp_path / "trial", "--verify").returncode == 0


@pytest.mark.parametrize(
    "command",
    [
        "demo",
        "lab",
        "new",
        "check",
        "recipes",
        "analyse",
        "methods",
        "share",
        "rerun",
        "history",
        "dictionary",
    ],
)
def test_help_opens_with_one_sentence_and_an_example(command):
    done = palea(command, "--help")
    assert done.returncode == 0
    assert f"as in `palea {command}" in " ".join(done.stdout.split())


def test_recipes_names_unit_and_source_of_each():
    told = json.loads(palea("recipes", "--json").stdout)["recipes"]
    assert {r["id"] for r in told} >= {"germination.final", "germination.time", "germination.curve"}
    assert all(r["source"] and r["unit_of_replication"] for r in told)
