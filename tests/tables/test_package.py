"""A package as it would be: rows added, replaced, hashed; nothing on disk changes."""

import gc
import os

import pandas as pd
import pytest

from palea import schema
from palea.errors import PackageError, SchemaError
from palea.stamp import Stamp
from palea.tables import manifest
from palea.tables.beginning import new_package
from palea.tables.opening import open_package
from palea.tables.sheet import DTYPES, TEXT

WHEN = Stamp("thrift", "2026-05-04T09:30:00+00:00")
COUNT = {"visit_id": "V1", "unit_id": "U1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel", "count": 13}


def spoil(package, table, old, new):
    path = package.folder / f"data/{table}.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    return open_package(package.folder)


def test_rows_are_put_in_place_by_key_and_added_at_the_end(small):
    after = small.having("counts", [COUNT, COUNT | {"outcome": "dead", "count": 2}])
    assert after["counts"]["count"].tolist() == [13, 0, 9, 1, 2]
    assert small["counts"]["count"].tolist() == [12, 0, 9, 1]
    assert list(after.changed) == ["counts"]
    assert dict(small.changed) == {}


def test_of_rows_with_one_key_the_last_counts(small):
    assert small.having("counts", [COUNT, COUNT | {"count": 14}])["counts"]["count"].tolist() == [14, 0, 9, 1]


def test_a_column_that_is_not_named_keeps_its_value(small):
    row = small.having("lots", [{"lot_id": "AV-1", "place": "Hollow Sands"}])["lots"].iloc[1]
    assert (row["place"], row["latitude"], row["seed_unit"]) == ("Hollow Sands", 52.25, "seed")


@pytest.mark.parametrize("blank", [None, pd.NA, float("nan"), ""])
def test_a_blank_that_is_named_blanks(small, blank):
    assert small.having("counts", [COUNT | {"count": blank}])["counts"]["count"].isna().tolist() == [
        True,
        False,
        False,
        False,
    ]


def test_what_was_not_touched_is_the_same_object(small):
    assert small.having("counts", [COUNT])["lots"] is small["lots"]


@pytest.mark.parametrize("name", [n for n in schema.tables() if n != "journal"])
def test_types_hold_after_every_kind_of_change(small, name):
    table = schema.table(name)
    row = {f.name: f.example for f in table.fields.values()}
    for after in (
        small.having(name, [row]),
        small.having(name, pd.DataFrame([row])),
        small.replacing(name, pd.DataFrame([row])),
        small.having(name, [row]).having(name, [row]),
        small.replacing(name, small[name]),
    ):
        for field in table.fields.values():
            assert after[name][field.name].dtype == DTYPES.get(field.type, TEXT)
        assert after[name].index.equals(pd.RangeIndex(len(after[name])))
    assert small.having(name, [row])[name].iloc[-1][field.name] is not None


def test_an_absent_table_is_an_empty_typed_frame(build, small):
    build.edit(
        small.folder, lambda raw: raw.update(resources=[r for r in raw["resources"] if r["name"] != "equipment"])
    )
    package = open_package(small.folder)
    assert "equipment" not in package.names
    assert package["equipment"].shape == (0, len(schema.table("equipment").fields))
    assert package["equipment"].dtypes.equals(small["equipment"].dtypes)


def test_unknown_names_say_the_nearest(small):
    with pytest.raises(SchemaError, match="nearest is “counts”"):
        small["count"]
    with pytest.raises(SchemaError, match="nearest is “mass_g”"):
        small.having("movements", [{"movement_id": "M9", "mass": 3}])
    with pytest.raises(PackageError, match="written by saving alone"):
        small.having("journal", [{}])


def test_text_in_a_number_column_becomes_a_finding_and_not_an_error(small):
    after = small.having("counts", [COUNT | {"count": "ca. 40"}])
    assert after["counts"]["count"].isna().tolist() == [True, False, False, False]
    assert [(f.rule, f.row, f.value) for f in after.misfits("counts")] == [("cell.number", 2, "ca. 40")]
    mended = after.having("counts", [COUNT])
    assert mended.misfits("counts") == ()
    with pytest.raises(TypeError):
        mended.edited["counts"] = None


def test_a_cell_that_could_not_be_read_keeps_its_text_until_something_else_is_put_there(small):
    package = spoil(small, "counts", ",12,", ",ca. 12,")
    assert package.misfits("counts")[0].value == "ca. 12"
    by_frame = package.having(
        "counts", package["counts"].iloc[[0]]
    )  # a frame carries every column, so its blank is no wish
    assert by_frame.sheet("counts").unread == {(0, "count"): "ca. 12"}
    by_hand = package.having("counts", [COUNT | {"count": None, "missing": "not recorded"}])
    assert by_hand.sheet("counts").unread == {}
    reordered = package.replacing("counts", package["counts"].iloc[::-1])
    assert reordered.sheet("counts").unread == {(3, "count"): "ca. 12"}
    assert [f.row for f in reordered.misfits("counts")] == [5]


def test_the_fingerprint_knows_values_and_not_order(small):
    reads = {"counts": ["unit_id", "outcome", "count"], "units": ["sown_n"]}
    same = small.replacing("counts", small["counts"].sample(frac=1, random_state=3))
    assert same.fingerprint(reads) == small.fingerprint(
        {"units": ["sown_n"], "counts": ["count", "outcome", "unit_id"]}
    )
    assert small.having("counts", [COUNT]).fingerprint(reads) != small.fingerprint(reads)
    assert small.having("counts", [COUNT | {"count": 12, "note": "x"}]).fingerprint(reads) == small.fingerprint(reads)
    assert small.fingerprint(reads).startswith("sha256:")
    with pytest.raises(SchemaError, match="nearest is “sown_n”"):
        small.fingerprint({"units": ["sown"]})


def test_a_new_package_is_sound_has_every_header_and_is_the_same_twice(tmp_path):
    from palea.tables import validate

    one, two = (
        new_package(tmp_path / n, "Dune seed", WHEN, licence="CC0-1.0", keywords=["seed"], description="x")
        for n in "ab"
    )
    assert validate.structure(one) == []
    assert set(one.names) == set(schema.tables()) - {"journal"}
    assert manifest.text(one.folder) == manifest.text(two.folder)
    assert one.descriptor["licenses"][0]["name"] == "CC0-1.0"
    assert one.schema_version == schema.version()
    with pytest.raises(PackageError, match="is not empty"):
        new_package(tmp_path / "a", "Dune seed", WHEN)


def test_files_lie_inside(small):
    assert small.file("attachments/a.jpg") == small.folder / "attachments/a.jpg"
    with pytest.raises(PackageError, match="climbs out"):
        small.file("../a.jpg")


def test_a_package_can_be_forgotten(small):
    """Nothing keeps a package alive but its owner."""
    import weakref

    other = open_package(small.folder)
    other["counts"]
    gone = weakref.ref(other)
    del other
    gc.collect()
    assert gone() is None


def _touched(path, data=None):
    """Write a file again as another program does, a second later by its own clock."""
    path.write_bytes(path.read_bytes() if data is None else data)
    os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns + 10**9))


def test_a_file_that_another_program_changed_is_noticed_by_who_read_it_before(small):
    counts = small.file(small.table_path("counts"))
    frame = small["counts"]
    assert small.stale() == ()
    _touched(counts, counts.read_bytes() + b"\n")
    assert small.stale() == ("counts",)
    assert small.having("counts", frame.iloc[:1]).stale() == ("counts",), "all states of one opening know it"
    assert small["counts"] is frame, "a package is frozen: it goes on showing what it read"
    assert open_package(small.folder).stale() == ()


def test_the_same_bytes_written_again_are_no_change(small, monkeypatch):
    small["counts"]
    _touched(small.file(small.table_path("counts")))
    assert small.stale() == ()
    monkeypatch.setattr("hashlib.file_digest", None)
    assert small.stale() == (), "looked at once, it is not read again"


def test_what_was_not_read_cannot_be_old(small):
    counts = small.file(small.table_path("counts"))
    _touched(counts, counts.read_bytes() + b"\n")
    assert small.stale() == ()


def test_a_file_that_came_or_went_is_noticed(small):
    small["counts"], small["plants"]
    small.file(small.table_path("counts")).unlink()
    small.file(small.table_path("plants")).write_text("plant_id\n")
    assert small.stale() == ("counts", "plants")
