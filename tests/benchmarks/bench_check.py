"""A trial with a million counts, checked by all rules in a warm process, beside the reference validator on the same files.

frictionless knows types, words, keys and links; palea is asked for these and for every rule of the trade besides.
"""

import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import packages
from timing import long_call

ROWS, WANTED_S = 1_000_000, 0.6
CURVE = (10_000, 100_000, ROWS)
TIMES, SLOWER = 15, 1.5


def checked(folder):
    """Everything from the files on, each time anew: opened, read, checked."""
    from palea.checks.run import findings_of
    from palea.tables.opening import open_package

    return findings_of(open_package(folder))


def structural(folder):
    """The part that frictionless does too: types, words, limits, keys, links and hashes."""
    from palea.tables import validate
    from palea.tables.opening import open_package

    return validate.structure(open_package(folder))


def peer(folder):
    import frictionless

    return frictionless.validate(str(Path(folder) / "datapackage.json"))


def peak_mib(script, *arguments):
    """Peak memory of a process of its own, and its seconds."""
    # Linux counts a child's ru_maxrss from its parent's peak on, so the child's own high-water mark is read instead.
    told = "print(int(next(n for n in open('/proc/self/status') if n.startswith('VmHWM')).split()[1]) / 1024)"
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{script}\n{told}", *map(str, arguments)],
        capture_output=True, text=True, check=True, cwd=Path(__file__).parent,
    )
    return float(done.stdout.split()[-1]), time.perf_counter() - start


def run():
    with tempfile.TemporaryDirectory() as place:
        folders = {rows: Path(place) / str(rows) for rows in CURVE}
        for rows, folder in folders.items():
            packages.trial(folder, rows)
        wrong = Path(place) / "wrong"
        planted = packages.trial(wrong, ROWS, wrong=0.01)
        curve = {rows: long_call(lambda f=folder: checked(f), 5, before=3)[0] for rows, folder in folders.items()}
        structure_s, sound = long_call(lambda: structural(folders[ROWS]))
        wrong_s, found = long_call(lambda: checked(wrong), 5)
        ours_wrong = Counter()
        for finding in found:
            ours_wrong[finding.rule] += finding.count
        missed = {rule: number for rule, number in planted.items() if ours_wrong[rule] != number}
        peaks = {
            rows: peak_mib("import bench_check; bench_check.checked(sys.argv[1])", folder)[0]
            for rows, folder in folders.items()
        }
        peer_s, report = long_call(lambda: peer(folders[ROWS]), 1)
    shown = ", ".join(f"{rows}: {s:.2f} s and {peaks[rows]:.0f} MiB" for rows, s in curve.items())
    ours_s = curve[ROWS]
    return [
        {
            "name": f"Check of {ROWS} counts, all rules", "ours_s": ours_s, "peer_s": peer_s, "ratio": peer_s / ours_s,
            "wanted": f"at most {WANTED_S} s, warm", "met": bool(ours_s <= WANTED_S and report.valid),
            "note": f"peer: frictionless. rows: time and peak memory = {shown}",
        },
        {
            "name": f"Check of {ROWS} counts, structure alone", "ours_s": structure_s, "peer_s": peer_s,
            "ratio": peer_s / structure_s, "wanted": f"at least {TIMES} times as fast",
            "met": bool(peer_s >= TIMES * structure_s and sound == [] and report.valid), "note": "what frictionless does too",
        },
        {
            "name": f"The same with 1 % wrong in {len(planted)} ways", "ours_s": wrong_s, "peer_s": ours_s,
            "ratio": wrong_s / ours_s, "wanted": f"at most {SLOWER} times the sound one",
            "met": bool(wrong_s <= SLOWER * ours_s and not missed),
            "note": f"peer: ours without faults. found {dict(planted)}" if not missed else f"NOT all found: {missed}",
        },
    ]  # fmt: skip
