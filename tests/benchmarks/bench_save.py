"""A thousand new rows of counts written (lock, hashes, files, fsync, rename, journal) beside one SQLite transaction.

Counted apart, and told in the note, are what a database does not do for us: validation, telling what differs, and opening
the package anew.
"""

import contextlib
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

import packages

ROWS, TIMES, RUNS = 1_000, 2, 15
TAXA = ["AV", *(f"T{nth}" for nth in range(RUNS))]
KEY = ("visit_id", "unit_id", "outcome", "taxon_id", "observer")
CURVE = (1_000, 10_000, 100_000)


def written(folder, stamp, nth):
    """Seconds of the writing part of a save of ROWS further counts, and of the whole call with validation and opening."""
    from palea.tables import saving
    from palea.tables.opening import open_package

    package = open_package(folder)
    counts = package["counts"]
    fresh = package.having("counts", counts.head(ROWS).assign(taxon_id=f"T{nth}"))
    spans = []
    kept = saving._write_all

    def timed(*arguments, **named):
        start = time.perf_counter()
        done = kept(*arguments, **named)
        spans.append(time.perf_counter() - start)
        return done

    saving._write_all = timed
    try:
        start = time.perf_counter()
        saving.save(fresh, stamp, "re-count")
        whole = time.perf_counter() - start
    finally:
        saving._write_all = kept
    return spans[0], whole


def transaction(path, rows):
    """Seconds of one transaction of SQLite that adds the same rows and a line of history, flushed to the disk."""
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.execute("PRAGMA synchronous=FULL")
        start = time.perf_counter()
        base.execute("BEGIN IMMEDIATE")
        base.executemany("INSERT INTO counts VALUES (?, ?, ?, ?, ?, ?)", rows)
        base.execute("INSERT INTO journal VALUES (?, ?)", ("when", "what"))
        base.execute("COMMIT")
        return time.perf_counter() - start


def run():
    from palea.stamp import Stamp
    from palea.tables.opening import open_package

    stamp, curve, whole, peer = Stamp("thrift", "2026-05-06T08:00:00+00:00"), {}, {}, []
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as place:  # not a place in memory: fsync must mean something
        path = Path(place) / "peer.db"
        with contextlib.closing(sqlite3.connect(path)) as base:
            base.execute(f"CREATE TABLE counts ({', '.join(KEY)}, count, PRIMARY KEY ({', '.join(KEY)}))")
            base.execute("CREATE TABLE journal (at, what)")
        for rows in CURVE:
            folder, tries = Path(place) / str(rows), []
            packages.trial(folder, rows)
            packages.write(folder, "taxa", {"taxon_id": TAXA, "scientific_name": TAXA})
            of = open_package(folder)["counts"].head(ROWS)[[*KEY, "count"]].to_numpy().tolist()
            for nth in range(RUNS if rows == ROWS else 2):
                tries.append(written(folder, stamp, nth))
                if rows == ROWS:  # turn by turn: what else the disk does meets both
                    peer.append(transaction(path, [(v, u, o, f"T{nth}", w, n) for v, u, o, _, w, n in of]))
            curve[rows], whole[rows] = (statistics.median(part) for part in zip(*tries, strict=True))
    peer_s = statistics.median(peer)
    return {
        "name": f"Save of {ROWS} new rows", "ours_s": curve[ROWS], "peer_s": peer_s, "ratio": curve[ROWS] / peer_s,
        "wanted": f"at most {TIMES} times SQLite's", "met": bool(curve[ROWS] <= TIMES * peer_s),
        "note": "medians; the whole call with validation and opening anew: "
        + ", ".join(f"{rows}: {s:.2f} s" for rows, s in whole.items())
        + "; writing alone: " + ", ".join(f"{rows}: {s:.3f} s" for rows, s in curve.items()),
    }  # fmt: skip
