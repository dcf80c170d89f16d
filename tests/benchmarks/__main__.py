"""Run every bench_*.py of this folder and print how we compare: `python tests/benchmarks [names] [--cache FOLDER]`."""

import argparse
import importlib
import importlib.util
import os
import sys
from pathlib import Path

HERE = Path(__file__).parent
HEAD = f"{'benchmark':<44}{'ours, ms':>11}{'peer, ms':>11}{'ratio':>9}  wanted\n"
# One thread for small linear algebra, for us and for peers alike: two threads wait for each other on a busy machine.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def main():
    found = {path.stem.removeprefix("bench_"): path.stem for path in sorted(HERE.glob("bench_*.py"))}
    asked = argparse.ArgumentParser(prog="python tests/benchmarks", description=__doc__)
    asked.add_argument("names", nargs="*", metavar="name", help=f"only these, of: {', '.join(found)}")
    asked.add_argument("--cache", type=Path, help="folder for peers' own environments, outside the repository")
    options = asked.parse_args()
    unknown = [name for name in options.names if name not in found]
    if unknown:
        asked.error(f"there is no benchmark {', '.join(unknown)}; there are: {', '.join(found)}")
    if options.cache:
        os.environ["PALEA_BENCHMARK_CACHE"] = str(options.cache.resolve())
    if importlib.util.find_spec("palea") is None:
        sys.path.insert(0, str(HERE.parents[1] / "kit"))
    told, met = HEAD, True
    for name in options.names or found:
        rows = results_of(found[name])
        sys.stdout.write(f"{told}{lines(rows)}\n")
        sys.stdout.flush()
        told, met = "", met and all(row.get("met", True) for row in rows)
    return 0 if met else 1


def results_of(module):
    try:
        result = importlib.import_module(module).run()
    except Exception as fault:  # noqa: BLE001 the others are measured all the same
        return [{"name": module, "skipped": f"it FAILED: {type(fault).__name__}: {fault}", "met": False}]
    return [judged(row) for row in (result if isinstance(result, list) else [result])]


def judged(row):
    """A number in `wanted` means: ours / peer, at most this."""
    if isinstance(row.get("wanted"), (int, float)):
        return row | {"met": row.get("met", row["ratio"] <= row["wanted"]), "wanted": f"at most {row['wanted']:g}"}
    return row


def lines(rows):
    """Plain text, one line a benchmark, notes below it."""
    lines = []
    for row in rows:
        if "skipped" in row:
            lines.append(f"{row['name']:<44}skipped: {row['skipped']}")
            continue
        lines.append(
            f"{row['name']:<44}{1000 * row['ours_s']:>11.2f}{1000 * row['peer_s']:>11.2f}{row['ratio']:>9.2f}  "
            f"{row['wanted']}{'' if row.get('met', True) else '  MISSED'}"
        )
        if row.get("note"):
            lines.append(f"    {row['note']}")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
