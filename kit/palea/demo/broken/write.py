"""The invented journey with fifty mistakes planted in it, one each, and a list of what has to be found."""

import json
import shutil

from palea.demo.broken import counts, kept, plans, seed
from palea.demo.broken.desk import Desk
from palea.demo.write import write as write_journey
from palea.sharing.redact import redacted
from palea.stamp import Stamp
from palea.tables import manifest, opening, saving

MISTAKES = tuple(sorted((*counts.MISTAKES, *seed.MISTAKES, *plans.MISTAKES, *kept.MISTAKES), key=lambda m: m.number))
TITLE = "Fifty planted mistakes in the invented journey: for trying the check, and for nothing else"
LIST = "planted.json"


def write(folder):
    """Write the broken package into a new folder, and beside it, as <folder>.json, what has to be found. Its path."""
    package = write_journey(folder)
    fit, _ = redacted(package)
    saving.save(
        fit.describing(title=TITLE),
        Stamp("C. Sorrel", package.journal()[-1]["when"]),
        "redaction",
        words="Made coarse.",
    )
    _forget(folder)
    desk = Desk(folder)
    planted = [(m, m.plant(desk)) for m in MISTAKES]
    desk.write()
    manifest.write(folder)
    folder.with_suffix(".json").write_text(_listed(desk, planted), encoding="utf-8")
    return folder


def _forget(folder):
    """Saving keeps the state before beside the package; a copy that leaves the house has none."""
    for path in folder.iterdir():
        if path.name.startswith("."):
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def _listed(desk, planted):
    """Number, what was done wrong and where it has to be found, as JSON."""
    rows = [
        {
            "number": m.number,
            "what": m.what,
            "findings": [
                {"rule": rule, "table": table, "row": desk.line(table, row) if isinstance(row, dict) else row}
                for rule, table, row in found
            ],
        }
        for m, found in planted
    ]
    return json.dumps({"about": TITLE, "mistakes": rows}, ensure_ascii=False, indent=1) + "\n"


def found_in(folder):
    """(rule, table, row) of everything that the check finds in a package that is to be shared, ungrouped."""
    from palea.checks import attached, run, sharing

    package = opening.open_package(folder)
    own = (*sharing.places(package), *attached.positions(package))
    return {(f.rule, f.table, f.row): f for f in (*run.findings_of(package), *own)}
