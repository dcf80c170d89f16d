"""What a shared copy tells of its journal: all of it, its summary, or when its last line was written."""

import re

from palea.stamp import Stamp
from palea.tables import descriptor, opening

MOMENT = re.compile(r"\d{4}-\d\d-\d\dT[\d:.]+(?:Z|[+-]\d\d:\d\d)", re.ASCII)
NEVER = "1980-01-01T00:00:00+00:00"  # of a package without a journal


def last_stamp(package):
    """Who and when of the last change: the archive of a state is stamped with that state, not with the hour of sharing.

    A copy that was shared without its journal still says when that was.
    """
    lines = package.journal()
    before = str(descriptor.own_facts(package.descriptor).get("last_change", ""))
    return Stamp("palea share", lines[-1]["when"] if lines else before if MOMENT.fullmatch(before) else NEVER)


def without(folder, when):
    """The copy without its journal, whose old values would give away what was made coarse."""
    (folder / descriptor.JOURNAL).unlink(missing_ok=True)
    raw = descriptor.thaw(descriptor.read(folder))
    raw["resources"] = [r for r in raw["resources"] if r["name"] != "journal"]
    raw["palea"] = raw.get("palea", {}) | {"journal_lines": 0, "journal_hash": "", "last_change": when}
    (folder / descriptor.NAME).write_bytes(descriptor.text(raw))
    return opening.open_package(folder)


def summary(package):
    """The journal without names and values: a line a save and table, with how many changes it made and why."""
    counted = {}
    for line in package.journal():
        key = (line["when"], line.get("table", ""), line.get("reason", ""))
        counted[key] = counted.get(key, 0) + 1
    rows = [f"| {when} | {table} | {many} | {why} |" for (when, table, why), many in counted.items()]
    head = ["# What was entered and changed, and when", "", "Names and values are left out.", "", "| when | table | lines | why |"]
    return "\n".join([*head, "|---|---|---|---|", *rows]) + "\n"
