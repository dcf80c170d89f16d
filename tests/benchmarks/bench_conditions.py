"""Ten million logged readings checked in blocks and summed by the day, beside merely reading the same file in blocks."""

import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
from bench_check import peak_mib
from pyarrow import csv as arrow_csv

ROWS, TIMES, MOST_MIB = 10_000_000, 3, 400
CURVE = (1_000_000, ROWS)
LOGGERS, STEP_MIN = 8, 10
KNOWN = {"equipment_id": [f"L{n}" for n in range(LOGGERS)], "site_id": ["S1"], "environment_id": []}


def write(path, rows):
    """A file of made-up readings, logger by logger, every ten minutes."""
    from palea import schema

    names = list(schema.table("conditions").fields)
    each = rows // LOGGERS
    with path.open("wb") as sink:
        sink.write((",".join(names) + "\n").encode())
        for logger in range(LOGGERS):
            chance = np.random.default_rng(logger)
            for start in range(0, each, 250_000):
                many = min(250_000, each - start)
                at = np.datetime64("2000-01-01T00:00") + (start + np.arange(many)) * np.timedelta64(STEP_MIN, "m")
                block = {
                    "equipment_id": pa.repeat(f"L{logger}", many),
                    "logged_at": pa.array(np.char.add(np.datetime_as_string(at), "+01:00")),
                    "quantity": pa.repeat("temperature", many), "site_id": pa.repeat("S1", many),
                    "value": pa.array(chance.normal(15, 5, many).round(1)), "unit": pa.repeat("Cel", many),
                    "of_the_day": pa.repeat("reading", many),
                }  # fmt: skip
                table = pa.table({n: block.get(n, pa.nulls(many, pa.string())) for n in names})
                arrow_csv.write_csv(table, sink, arrow_csv.WriteOptions(include_header=False, quoting_style="none"))


def checked(path):
    from palea.tables import conditions

    return conditions.read(Path(path), KNOWN)


def merely_read(path):
    from palea import schema
    from palea.tables import conditions

    start = time.perf_counter()
    rows = sum(block.num_rows for block in conditions._blocks(Path(path), schema.table("conditions")))
    return time.perf_counter() - start, rows


def run():
    with tempfile.TemporaryDirectory() as place:
        curve = {}
        for rows in CURVE:
            path = Path(place) / f"{rows}.csv"
            write(path, rows)
            peer_s = min(merely_read(path)[0] for _ in range(2))
            ours = []
            for _ in range(2):
                start = time.perf_counter()
                logged = checked(path)
                ours.append(time.perf_counter() - start)
            curve[rows] = min(ours)
            mib, _ = peak_mib("import bench_conditions; bench_conditions.checked(sys.argv[1])", path)
    ours_s = curve[ROWS]
    whole = logged.rows == ROWS and logged.findings == () and logged.days["n"].sum() == ROWS
    return {
        "name": f"Check of {ROWS} logged readings, in blocks", "ours_s": ours_s, "peer_s": peer_s, "ratio": ours_s / peer_s,
        "wanted": f"at most {TIMES} times reading, {MOST_MIB} MiB",
        "met": bool(ours_s <= TIMES * peer_s and mib < MOST_MIB and whole),
        "note": f"peer: pyarrow reading the blocks. peak {mib:.0f} MiB; rows: time = "
        + ", ".join(f"{rows}: {s:.2f} s" for rows, s in curve.items()),
    }  # fmt: skip
