"""Packages of earlier schemas, written by the code of their time, brought to the present schema in a copy.

Outside: frictionless 5.21, the reference implementation of the Data Package standard, which reads the copies.
"""

import csv
import hashlib
import json
import shutil
from pathlib import Path

import frictionless
import pyarrow as pa
import pytest

from palea import schema
from palea.errors import PackageError
from palea.stamp import Stamp
from palea.tables import carried, journal, manifest, saving, upgrade, validate, versions
from palea.tables.beginning import new_package
from palea.tables.opening import open_package

OLDER = Path(__file__).parent / "older"
STAMP = Stamp("thrift", "2026-11-25T21:00:00+00:00")


def rows(folder, name):
    with (folder / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def every_byte(folder):
    return {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in manifest.files(folder)}


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory):
    """Folders of the older packages, by version."""
    place = tmp_path_factory.mktemp("older")
    for version in ("0.1.0", "0.2.0"):
        shutil.unpack_archive(OLDER / f"{version}.zip", place / version)
    return place


@pytest.fixture(scope="module")
def done(unpacked):
    """The upgrades, by version of the package; and what the packages were before and after."""
    before = {v: every_byte(unpacked / v) for v in ("0.1.0", "0.2.0")}
    made = {v: upgrade.upgrade(open_package(unpacked / v), unpacked / f"{v}-now", STAMP, "For the archive.") for v in before}
    assert {v: every_byte(unpacked / v) for v in before} == before, "an older package was changed"
    return made


@pytest.mark.parametrize("version", ["0.1.0", "0.2.0"])
def test_the_copy_follows_the_present_schema_and_the_reference_validator_reads_it(done, version):
    copy = done[version].package
    assert (done[version].was, copy.schema_version) == (version, schema.version())
    assert [f for f in validate.structure(copy) if f.severity == "error"] == []
    report = frictionless.validate(str(copy.folder / "datapackage.json"))
    assert report.valid, report.flatten(["note"])


def test_columns_are_added_blank_and_every_other_cell_keeps_its_text(done, unpacked):
    before, after = (rows(unpacked / name, "lots") for name in ("0.1.0", "0.1.0-now"))
    assert list(after[0])[: len(schema.table("lots").fields)] == list(schema.table("lots").fields)
    assert {r["keep_of"] for r in after} == {""}
    assert [r["notes"] for r in after] == [r["notes"] for r in before]
    assert after[0]["notes"] == 'Sieved, "dry", in a jar'
    (told,) = done["0.1.0"].told["contrasts"]
    assert told.startswith("Columns added, blank: at_day, environment_id, across")


def test_columns_and_tables_of_ones_own_stay_and_step_aside_where_the_schema_took_their_name(done, unpacked):
    copy = done["0.1.0"].package
    after = rows(copy.folder, "lots")
    assert [(r["keep_of_own"], r["box"]) for r in after] == [("cold room", "B1"), ("", "B2"), ("", "B2"), ("shelf 3", "")]
    (title,) = [f["title"] for f in copy.own_fields("lots") if f["name"] == "keep_of_own"]
    assert title == "Keeping place"
    assert copy.extra_names == ("storage-own",)
    assert (copy.folder / "data/storage-own.csv").read_bytes() == (unpacked / "0.1.0/data/storage.csv").read_bytes()
    assert not (copy.folder / "data/storage.csv").exists()
    assert len(copy["storage"]) == 0


def test_a_word_that_no_longer_fits_is_kept_in_a_column_beside(done):
    copy = done["0.1.0"].package
    cells = [(r["about_table"], r["about_table_before"]) for r in rows(copy.folder, "analyses")]
    assert cells == [("", "bench book"), ("lots", "")]
    told = done["0.1.0"].told["analyses"][0]
    assert told == (
        "1 cell of about_table with words that are no longer allowed (“bench book”), put into the column "
        "about_table_before of the package's own."
    )


def test_words_that_are_called_otherwise_are_renamed(done):
    told = done["0.2.0"].told
    assert done["0.2.0"].package["results"]["quantity"].tolist() == ["row variation", "surviving", "germinated"]
    assert told["results"][:2] == [
        "1 cell of quantity: “survival” is called “surviving” now.",
        "1 cell of quantity: “row evenness” is called “row variation” now.",
    ]
    assert told["trial_outcomes"][0] == "1 cell of outcome: “survival” is called “surviving” now."


def test_the_journal_goes_on_with_who_when_and_why(done, unpacked):
    before, after = (journal.read(unpacked / name) for name in ("0.2.0", "0.2.0-now"))
    assert after[: len(before)] == before
    assert journal.verify(unpacked / "0.2.0-now") == []
    first, *rest = after[len(before) :]
    assert (first["who"], first["when"], first["reason"]) == (STAMP.who, STAMP.when, "upgrade")
    assert first["words"] == f"Brought from schema 0.2.0 to schema {schema.version()} in a copy. For the archive."
    of = {line["table"]: line for line in rest}
    assert {"trials", "trial_outcomes", "results"} <= set(of)
    assert of["results"]["words"].startswith("1 cell of quantity: “survival”")
    assert of["results"]["new"] == done["0.2.0"].package.file_hash("results")


def test_the_copy_can_be_worked_with(done, tmp_path):
    copy = open_package(shutil.copytree(done["0.1.0"].package.folder, tmp_path / "copy"))
    saved = saving.save(copy.having("lots", [{"lot_id": "AV-0", "place": "Hollow Sands (invented)"}]), STAMP, "entry")
    assert saved["lots"]["place"].iloc[0] == "Hollow Sands (invented)"
    assert saved.extra_columns("lots")["keep_of_own"].iloc[0] == "cold room"


def test_a_file_that_was_changed_outside_is_taken_as_it_is_and_told(unpacked, tmp_path):
    package = open_package(shutil.copytree(unpacked / "0.2.0", tmp_path / "p"))
    path = package.folder / "data/taxa.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("Anthyllis", "Anthylis"), encoding="utf-8")
    made = upgrade.upgrade(open_package(package.folder), tmp_path / "now", STAMP)
    assert made.told["taxa"][0] == "data/taxa.csv had been changed outside palea since it was last saved; it was taken as it is."
    assert "taxa" in [line["table"] for line in made.package.journal() if line["reason"] == "upgrade"]


def test_a_table_that_cannot_be_read_whole_stays_as_it_is(unpacked, tmp_path):
    package = open_package(shutil.copytree(unpacked / "0.2.0", tmp_path / "p"))
    path = package.folder / "data/results.csv"
    path.write_text(path.read_text(encoding="utf-8") + "too,few,cells\n", encoding="utf-8")
    made = upgrade.upgrade(open_package(package.folder), tmp_path / "now", STAMP)
    assert (made.package.folder / "data/results.csv").read_bytes() == path.read_bytes()
    assert "data/results.csv cannot be carried over and stays as it is: The row has 3 cells" in made.told["results"][-1]


def test_in_passing_the_copy_is_temporary_and_the_journal_is_left_alone(unpacked):
    package = open_package(unpacked / "0.2.0")
    brought, sentences = upgrade.in_passing(package)
    assert brought.schema_version == schema.version()
    assert (brought.read_only, brought.source, brought.folder == package.folder) == (True, package.source, False)
    assert brought.journal() == package.journal()
    assert sentences[0] == f"From schema 0.2.0 to {schema.version()}."
    folder = brought.folder
    brought.keeper.close()
    assert not folder.exists()


def test_a_package_of_the_present_schema_is_not_upgraded(tmp_path):
    package = new_package(tmp_path / "p", "Nothing yet", STAMP)
    assert upgrade.in_passing(package) == (package, [])
    with pytest.raises(PackageError, match="already, so there is nothing to upgrade"):
        upgrade.upgrade(package, tmp_path / "now", STAMP)
    assert not (tmp_path / "now").exists()


@pytest.mark.parametrize(
    ("version", "says"),
    [
        ("9.0.0", "it was written by a later palea, whose columns and words are not known here"),
        ("newest", "Write the version of its schema into schemaVersion"),
    ],
)
def test_a_later_or_unknown_schema_is_refused_in_words(unpacked, tmp_path, version, says):
    folder = shutil.copytree(unpacked / "0.2.0", tmp_path / "p")
    described = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    (folder / "datapackage.json").write_text(json.dumps(described | {"schemaVersion": version}), encoding="utf-8")
    package = open_package(folder)
    for attempt in (lambda: upgrade.upgrade(package, tmp_path / "now", STAMP), lambda: upgrade.in_passing(package)):
        with pytest.raises(PackageError, match=says):
            attempt()
    assert not (tmp_path / "now").exists()


def test_places_that_are_taken_and_altered_journals_are_refused(unpacked, done, tmp_path):
    package = open_package(shutil.copytree(unpacked / "0.2.0", tmp_path / "p"))
    with pytest.raises(PackageError, match="is there already and is not empty"):
        upgrade.upgrade(package, done["0.2.0"].package.folder, STAMP)
    with pytest.raises(PackageError, match="lies inside the package"):
        upgrade.upgrade(package, package.folder / "now", STAMP)
    path = package.folder / "journal.jsonl"
    path.write_text(path.read_text(encoding="utf-8").replace("Anthyllis", "Anthylis"), encoding="utf-8")
    with pytest.raises(PackageError, match=r"journal.jsonl: .* Nothing was written"):
        upgrade.upgrade(package, tmp_path / "now", STAMP)
    assert not (tmp_path / "now").exists()


def test_an_older_package_is_told_in_one_sentence_and_nothing_is_saved_into_it(unpacked):
    package = open_package(unpacked / "0.1.0")
    errors = [f for f in validate.structure(package) if f.severity == "error"]
    (about_age,) = [f for f in errors if f.rule == "package.schema-version"]
    assert str(about_age) == (
        f"Error · : The package follows schema 0.1.0, not {schema.version()}, which is later. "
        "`palea upgrade PACKAGE --to FOLDER` brings a copy to the present schema and tells every change."
    )
    assert [f for f in errors if f.rule == "table.column-missing"] == []
    with pytest.raises(PackageError, match="`palea upgrade PACKAGE --to FOLDER`"):
        saving.save(package.having("lots", [{"lot_id": "AV-0", "place": "x"}]), STAMP, "entry")


STEPS = [{
    "to": "0.9.0", "tables": [],
    "columns": [{"table": "visits", "was": "seen_for", "is": "looked_for"}, {"table": "lots", "was": "kind", "is": "fraction"}],
    "words": [{"list": "outcome", "was": "sound", "is": "normal"}],
}]  # fmt: skip


def test_a_renamed_column_and_words_in_a_list_are_followed():
    columns = {"visit_id": pa.array(["V1", "V2"]), "seen_for": pa.array(["sound; dead", None])}
    fields = [{"name": "visit_id"}, {"name": "seen_for"}]
    got = carried.carried(schema.table("visits"), columns, fields, STEPS, "0.1.0")
    assert got.columns["looked_for"].to_pylist() == ["normal; dead", None]
    assert got.told[0] == "The column seen_for is called looked_for now."
    assert got.told[1] == "1 cell of looked_for: “sound” is called “normal” now."
    assert got.own == ()


def test_what_an_answer_rests_on_follows_a_renamed_column():
    reads = json.dumps({"lots": ["kind", "lot_id"], "visits": ["visit_id"]})
    columns = {"analysis_id": pa.array(["A", "B"]), "reads": pa.array([reads, "no JSON"])}
    got = carried.carried(schema.table("analyses"), columns, [], STEPS, "0.1.0")
    assert got.columns["reads"].to_pylist() == ['{"lots": ["fraction", "lot_id"], "visits": ["visit_id"]}', "no JSON"]


def test_a_column_that_the_schema_gave_up_is_kept_as_ones_own():
    columns = {"visit_id": pa.array(["V1"]), "weather": pa.array(["dry"])}
    fields = [{"name": "visit_id"}, {"name": "weather", "title": "Weather", "type": "string", "constraints": {"required": True}}]
    got = carried.carried(schema.table("visits"), columns, fields, [], "0.1.0")
    assert got.columns["weather"].to_pylist() == ["dry"]
    assert got.own[0]["title"] == "Weather"
    assert (got.own[0]["custom"], "constraints" in got.own[0]) == (True, False)
    assert "The present schema has no column weather: it is kept as a column of the package's own." in got.told


def test_a_cell_that_must_be_filled_in_keeps_a_word_that_no_longer_fits():
    columns = {"lot_id": pa.array(["L"]), "seed_unit": pa.array(["berry"]), "status": pa.array(["lost in the post"])}
    fields = [{"name": n, "constraints": {"enum": ["berry"]}} for n in ("lot_id", "seed_unit", "status")]
    got = carried.carried(schema.table("lots"), columns, fields, [], "0.1.0")
    assert got.columns["seed_unit"].to_pylist() == ["berry"]
    assert "left as written, since seed_unit must be filled in" in got.told[0]
    assert got.columns["status"].to_pylist() == ["lost in the post"], "wrong before is no matter of the version"


def test_every_step_leads_to_words_that_there_are():
    for step in schema.upgrades():
        assert versions.ordered(step["to"]) <= versions.ordered(schema.version())
        for one in step["words"]:
            assert one["is"] in schema.words(one["list"])
            assert one["was"] not in schema.words(one["list"])
        for one in step["columns"]:
            assert one["is"] in schema.table(one["table"]).fields
        assert set(step["tables"]) <= set(schema.tables())


def test_a_name_that_is_taken_as_well_gets_a_number(unpacked, tmp_path):
    folder = shutil.copytree(unpacked / "0.1.0", tmp_path / "p")
    described = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    described["resources"].append({"name": "storage-own", "path": "jars.csv"})
    (folder / "datapackage.json").write_text(json.dumps(described), encoding="utf-8")
    (folder / "jars.csv").write_text("jar\nC\n", encoding="utf-8")
    copy = upgrade.upgrade(open_package(folder), tmp_path / "now", STAMP).package
    assert set(copy.extra_names) == {"storage-own2", "storage-own"}
    assert (copy.folder / "jars.csv").read_text(encoding="utf-8") == "jar\nC\n"
