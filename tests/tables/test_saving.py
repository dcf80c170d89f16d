"""Saving: what was changed and nothing else, with a journal that cannot be bent unseen."""

import json

import frictionless
import pytest

from palea.errors import ChangedOutside, EntryError, PackageError, SchemaError
from palea.stamp import Stamp
from palea.tables import differences, journal, manifest, saving, validate
from palea.tables.opening import open_package

WHEN = Stamp("sorrel", "2026-05-06T08:00:00+00:00")
COUNT = {"visit_id": "V1", "unit_id": "U1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel", "count": 13}


def state(folder):
    return {path: (folder / path).read_bytes() for path in manifest.files(folder)}


def write(package, table, change):
    path = package.folder / f"data/{table}.csv"
    path.write_bytes(change(path.read_bytes()))
    return package


def valid_outside(folder):
    return frictionless.validate(str(folder / "datapackage.json")).valid


def test_only_what_was_changed_is_written(small):
    before = state(small.folder)
    after = saving.save(small.having("counts", [COUNT]), WHEN, "misread", words="a 3, not a 2")
    now = state(small.folder)
    assert {p for p in now if now[p] != before.get(p)} == {"data/counts.csv", "datapackage.json", "journal.jsonl"}
    assert now["data/counts.csv"] == before["data/counts.csv"].replace(b"normal,AV,sorrel,12", b"normal,AV,sorrel,13")
    assert after["counts"]["count"].tolist() == [13, 0, 9, 1]
    assert dict(after.changed) == {}
    assert validate.structure(after) == []
    assert valid_outside(small.folder)


def test_a_corrected_cell_is_one_line(small):
    after = saving.save(
        small.having("counts", [COUNT]),
        WHEN,
        "misread",
        words="a 3, not a 2",
        as_typed={"count": {"value": "13,0", "factor": 1}},
    )
    line = after.journal()[-1]
    assert {
        k: line[k] for k in ("who", "when", "kind", "table", "column", "old", "new", "reason", "words", "typed_value")
    } == {
        "who": "sorrel",
        "when": WHEN.when,
        "kind": "changed",
        "table": "counts",
        "column": "count",
        "old": "12",
        "new": "13",
        "reason": "misread",
        "words": "a 3, not a 2",
        "typed_value": "13,0",
    }
    assert json.loads(line["row"]) == ["V1", "U1", "normal", "AV", "sorrel"]
    assert after["journal"]["typed_factor"].iloc[-1] == 1


def test_rows_added_and_removed_are_told_whole(small):
    fewer = small["counts"].iloc[[0, 1, 2]]
    after = saving.save(
        small.replacing("counts", fewer).having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}]),
        WHEN,
        "entry",
    )
    removed, added = after.journal()[-2:]
    assert removed["kind"] == "removed"
    assert json.loads(removed["old"])["count"] == "1"
    assert added["kind"] == "added"
    assert json.loads(added["new"]) == {"taxon_id": "AM", "scientific_name": "Armeria maritima"}


def test_a_bulk_of_rows_is_one_line(small):
    rows = [{"unit_id": f"X{n}", "trial_id": "G1", "kind": "dish", "sown_n": 25} for n in range(500)]
    before = len(small.journal())
    after = saving.save(small.having("units", rows), WHEN, "import")
    assert len(after.journal()) == before + 1
    line = after.journal()[-1]
    assert json.loads(line["row"]) == {"rows": 500, "first": ["X0"], "last": ["X499"]}
    assert json.loads(line["new"])["rows"] == 500


def test_nothing_to_save_writes_nothing(small):
    before = state(small.folder)
    saving.save(small, WHEN, "entry")
    saving.save(small.having("counts", [COUNT | {"count": 12}]), WHEN, "entry")
    assert state(small.folder) == before


def test_cells_that_were_not_touched_keep_their_letters(small):
    """1.50 stays 1.50, and a text that could not be read stays until somebody mends it."""
    write(small, "movements", lambda b: b.replace(b"100.0", b"100.00").replace(b"0.1,3", b"ca. 0.1,3"))
    package = saving.adopt(small, WHEN, "typed in a spreadsheet")
    after = saving.save(package.having("movements", [{"movement_id": "M1", "notes": "first"}]), WHEN, "entry")
    text = (after.folder / "data/movements.csv").read_text(encoding="utf-8")
    assert "100.00," in text
    assert "ca. 0.1,3" in text
    assert '"he said ""two, or three"""' in text
    assert [f.value for f in after.misfits("movements")] == ["ca. 0.1"]
    lines = len(after.journal())
    mended = saving.save(after.having("movements", [{"movement_id": "M2", "mass_g": None}]), WHEN, "typing")
    assert mended.misfits("movements") == ()
    assert len(mended.journal()) == lines + 1
    assert (mended.journal()[-1]["old"], mended.journal()[-1].get("new")) == ("ca. 0.1", None)
    assert "ca. 0.1" not in (after.folder / "data/movements.csv").read_text(encoding="utf-8")


def test_own_columns_and_tables_are_kept_to_the_byte(build, small):
    package = build.with_own_parts(small)
    before = state(package.folder)
    after = saving.save(
        package.having("lots", [{"lot_id": "AV-1", "place": "x"}, {"lot_id": "AV-2", "seed_unit": "seed"}]),
        WHEN,
        "entry",
    )
    assert state(after.folder)["data/weather.csv"] == before["data/weather.csv"]
    assert after.extra_columns("lots")["shelf"].tolist()[0] == "3"
    assert after.extra_columns("lots")["shelf"].isna().tolist() == [False, True, True]
    assert json.loads((after.folder / "schema/lots.json").read_text())["fields"][-1] == {
        "name": "shelf",
        "type": "integer",
        "constraints": {"minimum": 1},
    }
    assert [r["name"] for r in after.descriptor["resources"]][-2:] == ["weather", "journal"]
    assert validate.structure(after) == []
    assert valid_outside(after.folder)
    again = saving.save(after.having("lots", [{"lot_id": "AV-2", "shelf": "5"}]), WHEN, "entry")
    assert again.extra_columns("lots")["shelf"].tolist()[-1] == "5"


def test_a_file_changed_since_it_was_read_is_not_overwritten(small):
    changed = small.having("counts", [COUNT])
    saving.save(open_package(small.folder).having("counts", [COUNT | {"count": 11}]), WHEN, "re-count")
    before = state(small.folder)
    with pytest.raises(
        ChangedOutside, match=r"counts\.csv was changed by another program .*Count was “12” and is “11”.*Nothing was written"
    ) as error:
        saving.save(changed, WHEN, "misread")
    assert [(d["old"], d["new"]) for d in error.value.differences] == [("12", "11")]
    assert state(small.folder) == before


def test_two_people_can_save_different_tables(small):
    one, other = open_package(small.folder), open_package(small.folder)
    saving.save(one.having("counts", [COUNT]), WHEN, "misread")
    after = saving.save(
        other.having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}]), WHEN, "entry"
    )
    assert after["counts"]["count"].iloc[0] == 13
    assert len(after["taxa"]) == 3
    assert validate.structure(after) == []


def test_a_file_changed_outside_is_adopted_first(small):
    write(small, "taxa", lambda b: b.replace(b"canescens", b"canescens L."))
    package = open_package(small.folder)
    with pytest.raises(ChangedOutside, match="adopt it with a reason"):
        saving.save(package.having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}]), WHEN, "entry")
    with pytest.raises(PackageError, match="Say in words why"):
        saving.adopt(package, WHEN, " ")
    assert saving.changed_outside(package) == ["taxa"]
    after = saving.adopt(package, WHEN, "the author was missing")
    assert saving.changed_outside(after) == []
    assert journal.verify(after.folder) == []


@pytest.mark.parametrize(
    ("row", "rule"),
    [
        (COUNT | {"unit_id": "U9"}, "link.broken"),
        (COUNT | {"count": -1}, "value.range"),
        (COUNT | {"count": "many"}, "cell.number"),
        (COUNT | {"outcome": None}, "value.required"),
    ],
)
def test_no_fault_of_structure_comes_in_by_our_hand(small, row, rule):
    before = state(small.folder)
    with pytest.raises(EntryError, match="This cannot be kept") as error:
        saving.save(small.having("counts", [row]), WHEN, "entry")
    assert [f.rule for f in error.value.findings] == [rule]
    assert state(small.folder) == before


def test_a_row_that_others_need_cannot_be_taken_away(small):
    with pytest.raises(EntryError, match="U1"):
        saving.save(small.replacing("units", small["units"].iloc[[1]]), WHEN, "entry")


def test_old_faults_do_not_stand_in_the_way_of_mending_others(small):
    write(small, "counts", lambda b: b.replace(b",12,", b",ca. 12,").replace(b",9,", b",-9,"))
    package = saving.adopt(small, WHEN, "as it came from the bench")
    after = saving.save(package.having("counts", [COUNT | {"unit_id": "U2", "count": 9}]), WHEN, "typing")
    assert [f.rule for f in validate.structure(after)] == ["cell.number"]


def test_a_damaged_file_is_not_rewritten(small):
    write(small, "taxa", lambda b: b.replace(b"Corynephorus", b"Cor,ynephorus"))
    package = saving.adopt(small, WHEN, "as it came")
    with pytest.raises(PackageError, match=r"taxa\.csv cannot be rewritten without losing something: The row has"):
        saving.save(package.having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}]), WHEN, "entry")


def test_an_unknown_reason_names_the_nearest(small):
    with pytest.raises(SchemaError, match="nearest is “misread”"):
        saving.save(small.having("counts", [COUNT]), WHEN, "misred")


def test_facts_of_the_descriptor_are_saved(small):
    after = saving.save(small.describing(title="Another title", licenses=None), WHEN, "entry")
    assert after.title == "Another title"
    assert "licenses" not in after.descriptor
    with pytest.raises(PackageError, match="written by palea itself"):
        small.describing(resources=[])


def test_further_files_go_with_it_and_own_files_are_protected(small):
    after = saving.save(small, WHEN, "entry", files={"analyses/a/figure.svg": b"<svg/>"})
    assert after.file("analyses/a/figure.svg").read_bytes() == b"<svg/>"
    saving.save(after, WHEN, "entry", remove=["analyses/a/figure.svg"])
    assert not after.file("analyses/a/figure.svg").exists()
    for path in ("data/taxa.csv", "datapackage.json", "journal.jsonl", "schema/taxa.json", "../x", "data/new.csv"):
        with pytest.raises(PackageError):
            saving.save(small, WHEN, "entry", files={path: b""})


def test_the_same_state_gives_the_same_bytes(build, tmp_path):
    one, two = (build.small(tmp_path / n) for n in "ab")
    assert state(one.folder) == state(two.folder)


BEND = {
    "altered": lambda lines: [lines[0].replace(b"thrift", b"fennel"), *lines[1:]],
    "altered at the end": lambda lines: [*lines[:-1], lines[-1].replace(b"counts", b"kounts")],
    "a line cut out": lambda lines: [*lines[:2], *lines[3:]],
    "cut at the start": lambda lines: lines[1:],
    "cut at the end": lambda lines: lines[:-1],
    "reordered": lambda lines: [lines[1], lines[0], *lines[2:]],
    "a line put in": lambda lines: [lines[0], lines[0], *lines[1:]],
    "a line added": lambda lines: [*lines, b'{"line": 99}'],
    "no JSON": lambda lines: [lines[0], b"nonsense", *lines[2:]],
    "emptied": lambda _: [],
}


@pytest.mark.parametrize("bend", BEND)
def test_a_bent_journal_is_found_and_not_written_on(small, bend):
    assert journal.verify(small.folder) == []
    lines = journal.raw_lines(small.folder)
    assert len(lines) > 5
    (small.folder / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in BEND[bend](lines)))
    found = journal.verify(small.folder)
    assert [f.rule for f in found] in (["journal.chain"], ["journal.end"])
    if bend.endswith(("end", "added", "out", "start", "in")) or bend == "emptied":
        with pytest.raises(ChangedOutside, match="not the one that palea wrote last"):
            saving.save(open_package(small.folder).having("counts", [COUNT]), WHEN, "misread")


def test_no_byte_of_the_journal_can_be_altered_or_taken_out_unseen(small):
    path = small.folder / "journal.jsonl"
    whole = path.read_bytes()
    for place in range(0, len(whole), 23):
        for bent in (whole[:place] + whole[place + 1 :], whole[:place] + b"~" + whole[place + 1 :], whole[:place]):
            path.write_bytes(bent)
            assert journal.verify(small.folder), f"byte {place} of {len(whole)}"
    for bent in (whole[:-1], whole + b"\n", whole.replace(b"\n", b"\r\n"), whole * 2):
        path.write_bytes(bent)
        assert journal.verify(small.folder)
    path.write_bytes(whole)
    assert journal.verify(small.folder) == []


def test_a_journal_that_lost_its_end_is_not_adopted_on_either(small):
    write(small, "taxa", lambda b: b.replace(b"canescens", b"canescens L."))
    path = small.folder / "journal.jsonl"
    path.write_bytes(b"".join(line + b"\n" for line in journal.raw_lines(small.folder)[:-1]))
    with pytest.raises(ChangedOutside, match="not the one that palea wrote last"):
        saving.adopt(open_package(small.folder), WHEN, "the author was missing")


def test_differences_between_two_states(small):
    after = small.having("counts", [COUNT]).having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}])
    after = after.replacing("people", small["people"].iloc[[0]])
    found = differences.between(small, after)
    assert list(found) == list(differences.COLUMNS)
    assert [tuple(row) for row in found[["table", "kind", "column", "old", "new"]].fillna("").to_numpy()][2] == (
        "counts",
        "changed",
        "count",
        "12",
        "13",
    )
    assert found["kind"].tolist() == ["removed", "added", "changed"]
    assert len(differences.between(small, open_package(small.folder))) == 0
    back = differences.between(after, small)
    assert sorted(back["kind"]) == ["added", "changed", "removed"]


def test_the_manifest_finds_what_was_done_to_files(small):
    manifest.write(small.folder)
    assert manifest.verify(small.folder) == []
    (small.folder / "data/taxa.csv").write_text("x", encoding="utf-8")
    (small.folder / "data/lots.csv").unlink()
    (small.folder / "extra 100%.txt").write_text("x", encoding="utf-8")
    assert [(f.rule, f.value) for f in manifest.verify(small.folder)] == [
        ("manifest.altered", "data/taxa.csv"),
        ("manifest.missing", "data/lots.csv"),
        ("manifest.extra", "extra 100%.txt"),
    ]
    manifest.write(small.folder)
    assert manifest.verify(small.folder) == []
    (small.folder / manifest.NAME).write_text("nonsense\n" + "0" * 64 + "  ../x\n", encoding="utf-8")
    assert [f.rule for f in manifest.verify(small.folder)][:2] == ["manifest.line", "manifest.line"]
    (small.folder / manifest.NAME).unlink()
    assert [f.severity for f in manifest.verify(small.folder)] == ["gap"]


def test_the_manifest_is_what_sha256sum_checks(small):
    """Outside: coreutils' sha256sum --check reads the same file."""
    import subprocess

    manifest.write(small.folder)
    done = subprocess.run(["sha256sum", "--check", "--quiet", "--strict", manifest.NAME], cwd=small.folder, check=False)
    assert done.returncode == 0
