"""The sentences and figures of kept answers without what was withheld, and with every number of their own.

A figure is made of many thousand numbers that say where something is drawn, and a sentence tells numbers that the answer
gives. Near a withheld coordinate lie some of them by chance, and without them a figure could not be drawn, nor a sentence be
read. So of a figure only its texts are looked into, and numbers that stand among the answer's own results are no places.
"""

import json
import re
from functools import cache, partial
from pathlib import PurePosixPath

import numpy as np

from palea import schema
from palea.derived.facts import plain

# What a figure holds in numbers alone: attributes of an SVG (W3C, Scalable Vector Graphics 2) that say where and how large
# something is drawn (letters stand alone there, as the M of a path), the ends of an axis as its description tells them, and the
# figures that stand along it.
_NUMBERS, _MOVES = r"[-+\d., ()%]*", "translate|rotate|scale|matrix|px"
DRAWN = re.compile(
    r"( (?:d|transform|points|viewBox|width|height|x|y|x1|y1|x2|y2|cx|cy|r|rx|ry|dx|dy|opacity|(?:fill|stroke)-opacity|"
    rf'stroke-(?:width|dasharray|dashoffset|miterlimit)|font-size)="{_NUMBERS}'
    rf'(?:(?:[A-Ya-y](?![A-Za-z])|[Zz]|{_MOVES}){_NUMBERS})*"'
    r'| with values from [-−+\d.,e]+ to [-−+\d.,e]+(?=")|>[-−+]?[\d.,]+(?=</text>))'
)
STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
NUMBERS = tuple(field.name for field in schema.table("results").fields.values() if field.type == "number")


def without(folder, names, results, hidden):
    """Take what was withheld out of the files of kept answers; how many were changed.

    names : relative paths, as analyses/ID/figure.svg.  results : table of that name.  hidden : Secrets.
    """
    numbers, changed = numbers_of(results), 0
    for name in names:
        path = folder / name
        try:
            text = path.read_text(encoding="utf-8")
        except (UnicodeDecodeError, OSError):
            continue  # what is no text says nothing in words
        own = numbers.get(PurePosixPath(name).parts[1], ())
        told = _told(text, path.suffix, cache(partial(hidden.out_of, own=own)))  # a figure says the same many times
        if told != text:
            path.write_text(told, encoding="utf-8", newline="")
            changed += 1
    return changed


def numbers_of(results):
    """{analysis: the numbers that it gives, without their signs and in order}."""
    frame = plain(results)
    found = {}
    for name, rows in frame.groupby("analysis_id", sort=False):
        values = np.abs(rows[list(NUMBERS)].to_numpy(float, na_value=np.nan))
        found[name] = np.unique(values[np.isfinite(values)])
    return found


def _told(text, suffix, change):
    if suffix == ".svg":
        return "".join(part if n % 2 else change(part) for n, part in enumerate(DRAWN.split(text)))
    return in_strings(text, change) if suffix == ".json" else change(text)


def in_strings(text, change):
    """A JSON text with its strings changed and all else as it is written; changed as a whole where it is no JSON."""
    return STRING.sub(lambda found: _string(found.group(), change), text) if _is_json(text) else change(text)


def _is_json(text):
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def _string(written, change):
    """A JSON string as it was written, or written anew where it tells something."""
    said = json.loads(written)
    told = change(said)
    return written if told == said else json.dumps(told)
