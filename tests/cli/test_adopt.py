"""Adopting what a spreadsheet changed, the history that proves itself, and two versions told apart: exit codes and words."""

import importlib.util
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from palea.tables import journal, kept, saving, validate
from palea.tables.opening import open_package

NOW = "2026-05-06T08:00:00+00:00"


def palea(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "palea", *map(str, arguments)], capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="session")
def built(tmp_path_factory):
    """The folder of a sound package, built once: copy it, never change it."""
    spec = importlib.util.spec_from_file_location(
        "tables_builder", Path(__file__).parent.parent / "tables" / "builder.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.small(tmp_path_factory.mktemp("built") / "small").folder


@pytest.fixture
def folder(built, tmp_path):
    return shutil.copytree(built, tmp_path / "small")


def in_a_spreadsheet(folder, *changes, table="counts"):
    path = folder / f"data/{table}.csv"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


CHANGES = ((",12,", ",14,"), ("V1,U2,abnormal,AV,sorrel,1,,,,\n", "V1,U2,dead,AV,sorrel,2,,,,\n"))


def test_a_dry_run_shows_rows_and_writes_nothing(folder):
    in_a_spreadsheet(folder, *CHANGES)
    before = files(folder)
    done = palea("adopt", folder, "--reason", "typing", "--dry-run")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [
        "counts: 1 cell changed, 1 row added, 1 row removed in data/counts.csv, outside palea.",
        "  counts, V1 / U1 / normal / AV / sorrel: Count was “12” and is “14”.",
        "  counts: V1 / U2 / abnormal / AV / sorrel was taken away (count 1).",
        "  counts: V1 / U2 / dead / AV / sorrel was added (count 2).",
    ]
    assert files(folder) == before


def test_it_is_adopted_only_with_a_reason_which_the_journal_keeps(folder):
    in_a_spreadsheet(folder, *CHANGES)
    before = files(folder)
    refused = palea("adopt", folder)
    assert refused.returncode == 2
    assert "Count was “12” and is “14”" in refused.stdout, "differences are shown first"
    assert refused.stderr.startswith("Nothing was adopted: say why with --reason, one of: entry, misread, ")
    wrong = palea("adopt", folder, "--reason", "typign")
    assert (wrong.returncode, "nearest is “typing”" in wrong.stderr) == (2, True)
    assert files(folder) == before
    done = palea("adopt", folder, "--reason", "typing", "--words", "4, not 2", "--who", "sorrel", "--now", NOW, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert (told["adopted"], told["reason"], told["words"]) == (True, "typing", "4, not 2")
    assert told["tables"][0]["differences"][0] == {
        "table": "counts", "key": ["V1", "U1", "normal", "AV", "sorrel"], "column": "count", "old": "12", "new": "14",
        "kind": "changed", "sentence": "counts, V1 / U1 / normal / AV / sorrel: Count was “12” and is “14”.",
    }
    package = open_package(folder)
    lines = package.journal()[-4:]
    assert [(n["kind"], n.get("column"), n["reason"], n["who"], n["when"], n["words"]) for n in lines] == [
        (kind, column, "typing", "sorrel", NOW, "4, not 2")
        for kind, column in (("changed", "count"), ("removed", None), ("added", None), ("changed", None))
    ]
    assert (lines[0]["old"], lines[0]["new"]) == ("12", "14")
    assert (lines[-1]["old"], lines[-1]["new"]) == (told["tables"][0]["was"], told["tables"][0]["now"])
    assert validate.structure(package) == []
    assert palea("history", folder, "--verify").returncode == 0
    assert palea("adopt", folder, "--reason", "typing").stdout == "No table was changed outside palea.\n"


def test_what_was_adopted_shows_its_rows_the_next_time_too(folder):
    in_a_spreadsheet(folder, (",12,", ",14,"))
    assert palea("adopt", folder, "--reason", "typing").returncode == 0
    in_a_spreadsheet(folder, (",14,", ",15,"))
    assert "Count was “14” and is “15”" in palea("adopt", folder, "--dry-run").stdout


def test_without_the_copy_it_says_so_and_can_still_be_adopted(folder):
    in_a_spreadsheet(folder, (",12,", ",14,"))
    shutil.rmtree(folder / kept.FOLDER)
    done = palea("adopt", folder, "--reason", "typing")
    assert done.returncode == 0
    assert "so no row can be shown" in done.stdout
    assert saving.changed_outside(open_package(folder)) == []


def test_a_forged_copy_is_not_believed(folder):
    in_a_spreadsheet(folder, (",12,", ",14,"))
    (folder / kept.FOLDER / "data%2Fcounts.csv").write_text("visit_id\nV9\n", encoding="utf-8")
    assert "so no row can be shown" in palea("adopt", folder, "--dry-run").stdout


def test_faults_that_come_in_are_told_and_a_cell_that_cannot_be_read_keeps_its_text(folder):
    in_a_spreadsheet(folder, (",12,", ",ca. 12,"))
    done = palea("adopt", folder, "--reason", "typing")
    assert done.returncode == 0
    assert "Count was “12” and is “ca. 12”" in done.stdout
    assert "1 fault in it: run `palea check" in done.stderr
    assert open_package(folder).journal()[-2]["new"] == "ca. 12"


def test_a_zip_and_a_cut_journal_are_not_written_on(folder, tmp_path):
    in_a_spreadsheet(folder, (",12,", ",14,"))
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        for path, data in files(folder).items():
            if not path.startswith("."):
                archive.writestr(path, data)
    done = palea("adopt", tmp_path / "a.zip", "--reason", "typing")
    assert (done.returncode, "stays as it was shared" in done.stderr) == (2, True)
    lines = journal.raw_lines(folder)
    (folder / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in lines[:-1]))
    done = palea("adopt", folder, "--reason", "typing")
    assert (done.returncode, "is not the one that palea wrote last" in done.stderr) == (2, True)


def test_a_table_of_ones_own_is_adopted_by_its_hash(folder):
    (folder / "data/weather.csv").write_text("day,rain\n2024-02-20,1.5\n", encoding="utf-8")
    raw = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    raw["resources"].append({"name": "weather", "path": "data/weather.csv", "hash": f"sha256:{'0' * 64}"})
    (folder / "datapackage.json").write_text(json.dumps(raw), encoding="utf-8")
    done = palea("adopt", folder, "--reason", "late sheet")
    assert (done.returncode, "weather: data/weather.csv was changed outside" in done.stdout) == (0, True), done.stderr
    assert validate.structure(open_package(folder)) == []


BENT = {
    "altered": lambda lines: [lines[0].replace(b"thrift", b"fennel"), *lines[1:]],
    "cut in the middle": lambda lines: [*lines[:2], *lines[3:]],
    "cut at the end": lambda lines: lines[:-1],
    "reordered": lambda lines: [lines[1], lines[0], *lines[2:]],
    "taken away": None,
}


@pytest.mark.parametrize("bend", BENT)
def test_history_proves_that_no_line_was_altered_cut_or_reordered(folder, bend):
    whole = palea("history", folder, "--verify", "--json")
    assert (whole.returncode, json.loads(whole.stdout)["verified"]) == (0, True)
    lines = journal.raw_lines(folder)
    if BENT[bend]:
        (folder / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in BENT[bend](lines)))
    else:
        (folder / "journal.jsonl").unlink()
    done = palea("history", folder, "--verify", "--json")
    told = json.loads(done.stdout)
    assert (done.returncode, told["verified"], len(told["findings"])) == (1, False, 1)


def test_two_versions_are_told_apart_row_by_row(folder, tmp_path):
    new = shutil.copytree(folder, tmp_path / "new")
    assert palea("changes", folder, new).stdout == "Nothing differs.\n"
    in_a_spreadsheet(new, *CHANGES)
    raw = json.loads((new / "datapackage.json").read_text(encoding="utf-8")) | {"title": "Another"}
    (new / "datapackage.json").write_text(json.dumps(raw), encoding="utf-8")
    done = palea("changes", folder, new)
    assert done.returncode == 0
    assert done.stdout.splitlines() == [
        "datapackage.json: title was “Two dishes (invented)” and is “Another”.",
        "counts: 1 cell changed, 1 row added, 1 row removed.",
        "  counts, V1 / U1 / normal / AV / sorrel: Count was “12” and is “14”.",
        "  counts: V1 / U2 / abnormal / AV / sorrel was taken away (count 1).",
        "  counts: V1 / U2 / dead / AV / sorrel was added (count 2).",
    ]
    told = json.loads(palea("changes", folder, new, "--json").stdout)
    assert [d["kind"] for d in told["differences"]] == ["changed", "removed", "added"]
    assert told["results"] == []
    assert palea("changes", folder, tmp_path / "nowhere").returncode == 2


def test_results_that_moved_stand_apart(folder, tmp_path):
    new = shutil.copytree(folder, tmp_path / "new")
    row = {"analysis_id": "A", "result_no": 1, "quantity": "germinated", "estimate": 0.5}
    from palea import schema

    for place, estimate in ((folder, "0.5"), (new, "0.75")):
        fields = list(schema.table("results").fields)
        cells = {name: str(row.get(name, "")) for name in fields} | {"estimate": estimate}
        (place / "data/results.csv").write_text(f"{','.join(fields)}\n{','.join(cells.values())}\n", encoding="utf-8")
    done = palea("changes", folder, new)
    assert done.stdout.splitlines()[:2] == ["Results that moved:", "results: 1 cell changed."]
    assert "was “0.5” and is “0.75”" in done.stdout


@pytest.mark.parametrize("command", ["adopt", "changes"])
def test_help_opens_with_one_sentence_and_an_example(command):
    done = palea(command, "--help")
    assert (done.returncode, f"as in `palea {command}" in " ".join(done.stdout.split())) == (0, True)
