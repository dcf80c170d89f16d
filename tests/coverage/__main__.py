"""Simulate how often palea's intervals hold what is true: `python tests/coverage [NAME ...] [--sets N] [--page]`.

Each study is stored in results/ as soon as it is done, and README.md is written anew.
"""

import argparse
import os
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import stored
from page import PAGE, page
from studies import STUDIES
from study import simulate


def main():
    by_name = {study.name: study for study in STUDIES}
    asked = argparse.ArgumentParser(prog="python tests/coverage", description=__doc__)
    asked.add_argument("names", nargs="*", metavar="name", help=f"only these, of: {', '.join(by_name)}")
    asked.add_argument("--sets", type=int, help="data sets a cell, in place of the study's own number")
    asked.add_argument("--page", action="store_true", help="only write README.md from what is stored")
    options = asked.parse_args()
    unknown = [name for name in options.names if name not in by_name]
    if unknown:
        asked.error(f"there is no study {', '.join(unknown)}; there are: {', '.join(by_name)}")
    for study in () if options.page else [by_name[name] for name in options.names or by_name]:
        since = time.monotonic()
        stored.write(study.name, {"rows": simulate(study, options.sets)})
        sys.stderr.write(f"{study.name}: {time.monotonic() - since:.0f} s\n")
    PAGE.write_text(page(STUDIES), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
