"""Structure: every kind of fault is found and told, and what we call sound the reference validator calls valid.

Outside: frictionless 5.21, the reference implementation of the Data Package standard.
"""

import frictionless
import pandera.pandas as pa
import pytest

from palea import schema
from palea.tables import frames, saving, validate
from palea.tables.opening import open_package


def outside(folder):
    """What the reference validator says."""
    report = frictionless.validate(str(folder / "datapackage.json"))
    return report.valid, report.flatten(["name", "type", "note"])


def rules(package):
    return [f.rule for f in validate.structure(package)]


def test_a_sound_package_is_sound_to_both(small):
    assert validate.structure(small) == []
    assert outside(small.folder) == (True, [])


def test_columns_and_tables_of_ones_own_are_no_fault_and_are_named(build, small):
    package = build.with_own_parts(small)
    assert [str(f) for f in validate.structure(package)] == []
    assert outside(package.folder) == (True, [])
    assert list(package.extra_columns("lots")) == ["shelf"]
    assert package.extra_names == ("weather",)


def test_own_parts_are_held_to_what_the_package_says_of_them(build, small):
    package = build.with_own_parts(small)
    (package.folder / "data/weather.csv").write_text("day;rain\n30.2.2024;1,50\n", encoding="utf-8")
    lots = package.folder / "data/lots.csv"
    lots.write_text(lots.read_text(encoding="utf-8").replace(",3\n", ",top\n"), encoding="utf-8")
    found = [f for f in validate.structure(open_package(package.folder)) if f.rule == "custom.invalid"]
    assert {(f.table, f.row) for f in found} >= {("lots", 2), ("weather", 2)}


@pytest.mark.parametrize(
    ("table", "row", "rule", "says"),
    [
        (
            "movements",
            {"movement_id": "M3", "lot_id": "AV-10", "moved_at": "2026", "kind": "weighed"},
            "link.broken",
            "Lot “AV-10” is not in the table lots. The nearest there is “AV-",
        ),
        (
            "lots",
            {"lot_id": "AV-2", "taxon_id": "AV"},
            "value.required",
            "is blank, and every row needs it. Fill it in, as in fruit in calyx.",
        ),
        (
            "lots",
            {"lot_id": "AV-2", "seed_unit": "seed", "latitude": 95.0},
            "value.range",
            "Latitude is 95 °, and 90 ° or less is possible.",
        ),
        (
            "movements",
            {"movement_id": "M3", "lot_id": "AV-0", "moved_at": "2026-02-30", "kind": "weighed"},
            "cell.date",
            "There is no day 2026-02-30 in the calendar.",
        ),
        (
            "movements",
            {"movement_id": "M3", "lot_id": "AV-0", "moved_at": "2026", "kind": "wieghed"},
            "cell.word",
            "the nearest allowed is “weighed”",
        ),
        (
            "materials",
            {"material_id": "acid", "name": "acid", "role": "acid", "disclosure": "disclosed", "cas": "7664-93-8"},
            "cell.cas",
            "its last digit should be 9",
        ),
    ],
)
def test_a_faulty_row_is_told_in_a_sentence(small, table, row, rule, says):
    found = validate.structure(small.having(table, [row]))
    assert [f.rule for f in found] == [rule]
    assert says.casefold() in str(found[0]).casefold()


def test_a_key_that_is_there_twice_names_both_rows(small):
    path = small.folder / "data/counts.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*lines, lines[1]]) + "\n", encoding="utf-8")
    package = saving.adopt(small, small_stamp(), "copied a line")
    found = validate.structure(package)
    assert [(f.rule, f.row) for f in found] == [("key.duplicate", 6)]
    assert "is there already, in row 2" in found[0].message
    assert not outside(package.folder)[0]


def small_stamp():
    from palea.stamp import Stamp

    return Stamp("sorrel", "2026-05-05T10:00:00+00:00")


def test_ten_thousand_equal_faults_are_one_finding(small):
    package = small.having(
        "counts",
        [
            {
                "visit_id": "V1",
                "unit_id": f"X{n}",
                "outcome": "normal",
                "taxon_id": "AV",
                "observer": "sorrel",
                "count": -1,
            }
            for n in range(10_000)
        ],
    )
    found = {f.rule: f.count for f in validate.structure(package)}
    assert found == {"link.broken": 10_000, "value.range": 10_000}


@pytest.mark.parametrize("name", [n for n in schema.tables() if n != "journal"])
def test_every_table_has_a_pandera_schema_with_its_limits(name):
    table, made = schema.table(name), frames.pandera_schema(schema.table(name))
    assert list(made.columns) == list(table.fields)
    assert isinstance(made, pa.DataFrameSchema)
    assert made.unique == list(table.primary_key)
    for field in table.fields.values():
        limits = set(field.constraints) & {
            "minimum",
            "maximum",
            "exclusiveMinimum",
            "exclusiveMaximum",
            "enum",
            "pattern",
        }
        assert len(made.columns[field.name].checks) == len(limits)
        assert made.columns[field.name].nullable is not (field.required or field.name in table.primary_key)


def test_a_file_that_was_changed_outside_is_told_until_it_is_adopted(small):
    path = small.folder / "data/taxa.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("canescens", "canescens L."), encoding="utf-8")
    assert rules(open_package(small.folder)) == ["package.hash"]
    assert not outside(small.folder)[0]
    package = saving.adopt(small, small_stamp(), "author added")
    assert rules(package) == []
    assert outside(small.folder)[0]
    assert package.journal()[-1]["reason"] == "adopted from outside"


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (lambda raw: raw.pop("schemaVersion"), "package.profile"),
        (lambda raw: raw.update(schemaVersion="9.9.9"), "package.schema-version"),
        (lambda raw: raw["resources"].append(raw["resources"][0]), "package.resource-twice"),
        (lambda raw: raw["resources"][0].pop("type"), "package.profile"),
        (lambda raw: raw["resources"][2].update(encoding="latin-1"), "package.manner"),
        (lambda raw: raw["resources"][2].update(dialect={"delimiter": ";"}), "package.manner"),
        (lambda raw: raw["resources"][2].update(schema="schema/taxa.json"), "package.schema"),
        (lambda raw: raw["resources"].pop(1), "package.profile"),
        (lambda raw: raw.update(profile="schema/palea-profile.json"), "package.profile-other"),
        (lambda raw: raw.update(created="2024-02-29"), "package.profile"),
        (lambda raw: raw.update(contributors=[{"title": "Thrift", "email": "nowhere"}]), "package.profile"),
    ],
)
def test_a_descriptor_that_says_something_else_is_told(build, small, change, rule):
    build.edit(small.folder, change)
    assert rule in rules(open_package(small.folder))


def test_another_profile_in_its_place_is_told(small):
    (small.folder / "schema/palea-profile.json").write_text('{"required": ["homepage"]}', encoding="utf-8")
    assert rules(open_package(small.folder)) == ["package.profile-file"]


def test_a_profile_that_points_elsewhere_is_told_and_not_followed(build, small, monkeypatch):
    """The reference validator would fetch it."""
    import socket

    monkeypatch.setattr(socket, "getaddrinfo", lambda *a, **k: pytest.fail(f"asked the network for {a}"))
    build.edit(small.folder, lambda raw: raw.update(profile="https://example.org/profile.json"))
    assert rules(open_package(small.folder)) == ["package.profile-other"]
    (small.folder / "schema/other.json").write_text('{"$ref": "https://example.org/x.json"}', encoding="utf-8")
    build.edit(small.folder, lambda raw: raw.update(profile="schema/other.json"))
    build.edit(small.folder, lambda raw: raw["resources"][3].update(profile="schema/other.json"))
    assert set(rules(open_package(small.folder))) >= {"package.profile-other"}


def test_a_missing_file_is_told(small):
    (small.folder / "data/visits.csv").unlink()
    found = validate.structure(open_package(small.folder))
    assert found[0].rule == "link.broken" or found[0].rule == "package.file-missing"
    assert "The file data/visits.csv of visits is not there." in [f.message for f in found]


@pytest.mark.parametrize("block", [True, [None], None, {"journal_lines": "x"}])
def test_a_spoilt_block_of_our_own_is_told_and_does_not_stumble(build, small, block):
    build.edit(small.folder, lambda raw: raw.update(palea=block))
    assert rules(open_package(small.folder)) == ["journal.end"]
