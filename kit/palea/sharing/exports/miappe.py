"""A package as the tables that MIAPPE asks for; what it asks for and the package does not hold is listed, not invented.

A trial is a study, a lot a biological material, a dish or plot an observation unit. Source: MIAPPE Checklist and Data
Model v1.1, https://www.miappe.org (names of attributes and whether they must be there, in miappe.json).
"""

import json
from functools import cache
from pathlib import Path

from palea.derived.facts import Facts
from palea.sharing.exports import miappe_material, miappe_seen, miappe_study
from palea.sharing.exports.sheet import Sheet

DATA = "Observation"  # the standard leaves the layout of data files open; ours is one row a value
MISSING = "Not in the package"
MUST, MAY = "must be there", "may be there"
OF_THE_PACKAGE = ("Investigation", "Data File")  # sections that are told from the descriptor, not from tables
PARTS = {
    "Investigation": miappe_study.investigation,
    "Study": miappe_study.studies,
    "Person": miappe_study.people,
    "Data File": miappe_study.data_files,
    "Biological Material": miappe_material.materials,
    "Environment": miappe_material.environment,
    "Experimental Factor": miappe_material.factors,
    "Event": miappe_study.events,
    "Observation Unit": miappe_seen.units,
    "Observed Variable": miappe_seen.variables,
}


def sheets(package):
    """(a sheet a section of the standard, the observations, and what is missing; sentences about that)."""
    facts = Facts(package)
    made, missing = [], []
    for section, part in PARTS.items():
        frame = part(package if section in OF_THE_PACKAGE else facts)
        made.append(Sheet.of(section, _laid(section, frame)))
        missing += _missing(section, frame)
    seen = Sheet.of(DATA, miappe_seen.observations(facts))
    listed = Sheet(MISSING, ("Section", "Line", "Attribute", "Asked for", "Blank rows", "Rows"), tuple(missing))
    must = [f"{row[0]}: {row[2]} (blank in {row[4]} of {row[5]} rows)" for row in missing if row[3] == MUST]
    said = [f"MIAPPE asks for more than the package holds. {'; '.join(must)}."] if must else []
    return [*made, seen, listed], said


@cache
def attributes():
    """{section: [(line of the standard, name of an attribute, whether it must be there)]}."""
    raw = json.loads(Path(__file__).with_name("miappe.json").read_text(encoding="utf-8"))
    return {section: [tuple(entry) for entry in entries] for section, entries in raw.items()}


def _laid(section, frame):
    """A section with all its attributes in the order of the standard, after what it belongs to; own columns come last."""
    asked = [name for _, name, _ in attributes()[section]]
    above = [name for name in frame.columns if name not in asked and name.endswith(" ID")]
    own = [name for name in frame.columns if name not in (*asked, *above)]
    return frame.reindex(columns=[*above, *asked, *own])


def _missing(section, frame):
    """(section, line, attribute, asked for, blank rows, rows) of each attribute that is blank somewhere."""
    for line, name, must in attributes()[section]:
        blank = int(frame[name].isna().sum()) if name in frame.columns else len(frame)
        if blank or not len(frame):
            yield section, line, name, MUST if must else MAY, blank, len(frame)
