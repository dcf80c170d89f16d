"""Loggers in blocks. Outside: pandas reads the same file whole and sums its days; the calendar is Python's own."""

from datetime import datetime

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea import schema
from palea.calc import spans
from palea.errors import PackageError
from palea.stamp import Stamp
from palea.tables import conditions, moments, saving, validate
from palea.tables.opening import open_package

NAMES = list(schema.table("conditions").fields)
KNOWN = {"equipment_id": ["L1", "L2"], "site_id": ["S1"], "environment_id": []}


def row(at, value, logger="L1", **more):
    cells = {"equipment_id": logger, "logged_at": at, "quantity": "temperature", "site_id": "S1", "value": value,
             "unit": "Cel", "of_the_day": "reading"} | more
    return ",".join(str(cells.get(name, "")) for name in NAMES)


def file(*rows):
    return "\n".join([",".join(NAMES), *rows, ""]).encode()


def hours(first, many, offset="+00:00", **more):
    start = np.datetime64(first)
    return [row(f"{start + np.timedelta64(n, 'h')}{offset}", n % 24, **more) for n in range(many)]


def told(logged):
    return [(f.rule, f.row, f.field, f.count) for f in logged.findings]


@pytest.mark.parametrize("block", [1 << 12, 1 << 20])
def test_days_are_those_that_pandas_sums(block, monkeypatch):
    """Shuffled blocks, two loggers, blanks: n, lowest, mean, highest and total of each day."""
    monkeypatch.setattr(conditions, "BLOCK", block)
    chance = np.random.default_rng(3)
    value = np.where(chance.random(1000) < 0.1, "", chance.normal(size=1000).round(2).astype(str))
    rows = [
        row(f"2024-03-0{1 + n // 144}T{n % 144 // 6:02d}:{n % 6}0+01:00", value[n + 500 * k], f"L{k + 1}")
        for k in range(2) for n in range(500)
    ]  # fmt: skip
    logged = conditions.read(file(*rows), KNOWN)
    assert (logged.rows, told(logged)) == (1000, [])
    frame = pd.DataFrame([line.split(",") for line in rows], columns=NAMES)
    value = pd.to_numeric(frame["value"])
    days = value.groupby([frame["equipment_id"], frame["logged_at"].str[:10]]).agg(["count", "min", "mean", "max", "sum"])
    ours = logged.days.set_index(["equipment_id", "day"])[["n", "lowest", "mean", "highest", "total"]]
    assert ours.index.tolist() == days.index.tolist()
    np.testing.assert_allclose(ours.to_numpy(float), days.to_numpy(float), rtol=1e-12)


def test_coverage_and_the_longest_silence_of_a_day():
    logged = conditions.read(file(*hours("2024-03-01T00:00", 24), *hours("2024-03-02T12:00", 6)), KNOWN)
    assert logged.days["n"].tolist() == [24, 6]
    assert logged.days["coverage_pct"].tolist() == [100.0, 25.0]  # by hand: 6 of 24 hourly readings
    assert logged.days["hole_h"].tolist() == [1.0, 13.0]  # 23:00 to 12:00


@pytest.mark.parametrize("block", [1 << 9, 1 << 20])
def test_a_nine_day_hole_is_told_even_between_blocks(block, monkeypatch):
    monkeypatch.setattr(conditions, "BLOCK", block)
    logged = conditions.read(file(*hours("2024-09-01T00:00", 30), *hours("2024-09-11T06:00", 30)), KNOWN)
    assert told(logged) == [("field.logger-hole", 32, "logged_at", 1)]
    assert "nothing for 9.0 days from 2024-09-02T05:00Z on, though it writes every 1 h" in logged.findings[0].message


def test_a_clock_that_was_left_at_the_change_is_told_and_one_that_was_put_back_is_not():
    """26 October 2025, 03:00 summer time became 02:00: the wall shows 02:00 twice, true time runs on."""
    before = [row(f"2025-10-26T0{h}:00+02:00", 9) for h in (0, 1, 2)]
    left = conditions.read(file(*before, *(row(f"2025-10-26T0{h}:00+01:00", 9) for h in (3, 4, 5))), KNOWN)
    put_back = conditions.read(file(*before, *(row(f"2025-10-26T0{h}:00+01:00", 9) for h in (2, 3, 4))), KNOWN)
    assert told(left) == [("field.logger-clock", 5, "logged_at", 1)]
    assert "the offset changes by 1 h" in left.findings[0].message
    assert told(put_back) == []


def test_every_fault_is_counted_with_the_rows_of_the_file():
    rows = hours("2024-03-01T00:00", 400)
    rows[3] = row("2024-02-30T03:00+00:00", 1)
    rows[5] = row("2024-03-01T05:00+00:00", "ca. 5")
    rows[7] = row("2024-03-01T07:00+00:00", 1, quantity="temprature")
    rows[9] = row("2024-03-01T09:00+00:00", 1, unit="")
    rows[11] = row("2024-03-01T11:00+00:00", 1, logger="L9")
    rows[13] = rows[12]
    rows[15] = rows[15] + ",x"
    for n in range(100, 400):
        rows[n] = rows[n].replace("S1", "S9")
    found = told(conditions.read(file(*rows), KNOWN))
    assert sorted(found) == sorted([
        ("cell.date", 5, "logged_at", 1), ("cell.number", 7, "value", 1), ("cell.word", 9, "quantity", 1),
        ("value.required", 11, "unit", 1), ("link.broken", 13, "equipment_id", 1), ("key.duplicate", 15, "of_the_day", 1),
        ("table.row", 17, "", 1), ("link.broken", 102, "site_id", 300),
    ])  # fmt: skip


def test_readings_out_of_order_are_told():
    logged = conditions.read(file(*hours("2024-03-02T00:00", 5), *hours("2024-03-01T00:00", 5)), KNOWN)
    assert told(logged) == []  # within a block they are put in order
    conditions_block, conditions.BLOCK = conditions.BLOCK, 256
    try:
        logged = conditions.read(file(*hours("2024-03-02T00:00", 30), *hours("2024-03-01T00:00", 30)), KNOWN)
    finally:
        conditions.BLOCK = conditions_block
    assert [f.rule for f in logged.findings] == ["field.logger-order"]


MOMENTS = st.one_of(
    st.datetimes(datetime(1, 1, 1), datetime(9999, 12, 31)).flatmap(  # noqa: DTZ001 - the zone is added as text
        lambda d: st.tuples(
            st.sampled_from(["minutes", "seconds"]), st.sampled_from(["", "Z", "+02:00", "-09:30", "+14:00", "+15:00"])
        ).map(lambda how: d.isoformat(timespec=how[0]) + how[1])
    ),
    st.sampled_from(["2024-02-29T00:00", "2023-02-29T00:00", "2024-13-01T00:00", "2024-01-01T24:00", "2024-01-01", "2024-01",
                     "2024", "2024-01-01 00:00", "2024-01-01T00:60Z", "07/08/2023", "x" * 16, "2024-01-01T00:00+02.00", "é" * 8]),
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.lists(MOMENTS, min_size=1, max_size=8))
def test_moments_are_those_of_the_reader_of_dates(texts):
    at = moments.of(pa.array([*texts, None]))
    assert at.readable.tolist() == [*spans.is_readable(texts).tolist(), False]
    wall = at.wall[:-1].astype("datetime64[s]")
    first = spans.earliest(texts)
    assert (wall[at.readable[:-1]] == first[at.readable[:-1]]).all()
    for text, true, fine in zip(texts, at.true.tolist(), at.readable.tolist(), strict=False):
        if fine and text.endswith(("Z", "02:00", "09:30", "14:00")) and len(text) > 16:
            assert true == (datetime.fromisoformat(text) - datetime.fromisoformat("1970-01-01T00:00Z")).total_seconds()


def test_a_slice_of_a_longer_array_is_read_from_its_own_rows():
    whole = pa.array(["2024-01-01T00:00Z", "2024-01-02T00:00Z", "2024-01-03T00:00Z"])
    assert np.diff(moments.of(whole.slice(1)).wall).tolist() == [86400]
    assert moments.of(whole.slice(1)).wall[0] == moments.of(whole).wall[1]


def test_a_long_table_in_a_package_is_read_by_its_days_and_never_overwritten(build, small, monkeypatch):
    kind = schema.words("equipment_kind")[0]
    package = saving.save(
        small.having("equipment", [{"equipment_id": "L1", "kind": kind}]).having("sites", [{"site_id": "S1", "name": "x"}]),
        Stamp("x", "2026-05-06T08:00:00+00:00"), "entry",
    )
    path = package.folder / "data/conditions.csv"
    path.write_bytes(file(*hours("2024-03-01T00:00", 48)))
    package = saving.adopt(package, Stamp("x", "2026-05-06T08:00:00+00:00"), "from the logger")
    assert len(package["conditions"]) == 48
    monkeypatch.setattr(conditions, "LARGE", 100)
    package = open_package(package.folder)
    assert package["conditions"][["logged_at", "of_the_day", "value"]].to_numpy().tolist()[:3] == [
        ["2024-03-01", "lowest", 0.0], ["2024-03-01", "mean", 11.5], ["2024-03-01", "highest", 23.0],
    ]
    assert package["conditions"].dtypes.equals(small["conditions"].dtypes)
    assert validate.structure(package) == []
    before = path.read_bytes()
    with pytest.raises(PackageError, match="too long to be edited"):
        saving.save(package.replacing("conditions", package["conditions"]), Stamp("x", "2026-05-06"), "entry")
    after = saving.save(package.having("taxa", [{"taxon_id": "AM", "scientific_name": "A"}]), Stamp("x", "2026-05-06"), "entry")
    assert (path.read_bytes(), len(after["taxa"])) == (before, 3)
