"""Run by test_transaction: saves copies of one package and cuts each save off at another step. Prints JSON.

Not a test by itself. Each save runs in a forked process that the system kills (SIGKILL), as in a power cut.
"""

import json
import os
import shutil
import signal
import sys
from pathlib import Path

from palea.stamp import Stamp
from palea.tables import saving, transaction
from palea.tables.opening import open_package

SURVIVED, CUT = 0, -signal.SIGKILL


def save(folder):
    """One transaction over two tables, a new table, a further file, a file taken away, descriptor and journal."""
    package = open_package(folder)
    package = package.having(
        "counts",
        [{"visit_id": "V1", "unit_id": "U1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel", "count": 13}],
    )
    package = package.having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria maritima"}])
    package = package.having("equipment", [{"equipment_id": "E1", "kind": package_kind()}])
    saving.save(
        package,
        Stamp("sorrel", "2026-05-06T08:00:00+00:00"),
        "misread",
        words="a 3 that looked like a 2",
        files={"analyses/a/figure.svg": b"<svg/>"},
        remove=["old.txt"],
    )


def package_kind():
    """Any kind of equipment that the schema knows."""
    from palea import schema

    return schema.words(schema.table("equipment")["kind"].vocabulary)[0]


def cut_at(folder, step):
    """Save in a process that dies at this step; SURVIVED if there was no such step."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    left = iter(range(step))

    def reached(name):
        if next(left, None) is None:
            (folder.parent / f"{folder.name}.step").write_text(name, encoding="utf-8")
            os.kill(os.getpid(), signal.SIGKILL)

    transaction.reached = reached
    try:
        save(folder)
    except BaseException:  # noqa: BLE001 the exit code says it
        os._exit(1)
    os._exit(SURVIVED)


def main(built, work):
    """The state after each cut: exit code and the folder that is left."""
    cuts = []
    for step in range(500):
        folder = work / f"cut-{step}"
        shutil.copytree(built, folder)
        code, named = cut_at(folder, step), work / f"cut-{step}.step"
        cuts.append({"code": code, "folder": str(folder), "step": named.read_text() if named.exists() else ""})
        if cuts[-1]["code"] != CUT:
            break
    sys.stdout.write(json.dumps(cuts))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
