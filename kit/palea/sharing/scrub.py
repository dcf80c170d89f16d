"""What was withheld must not be told elsewhere: in notes, titles, sentences that were kept, tables of a package's own.

A secret is what redaction took out and no other row still tells: exact coordinates as anybody would write them, names of
withheld places, names of people who gave no consent. It is looked for in every text that leaves the house. A number near
a withheld coordinate that is written with three decimals or more is taken for one too, in texts alone: in a column of
numbers it is a measurement.
"""

import re
from dataclasses import dataclass

import pandas as pd

from palea.derived.facts import plain
from palea.tables.descriptor import thaw

MARK = "[withheld]"
NEAR = 1.0  # degrees from a withheld coordinate within which a number in a text is taken for one
SHORTEST = 4  # letters of a name that is looked for by itself
NUMBER = re.compile(r"(?<![\d.])[-+]?\d{1,3}[.,]\d{3,}(?!\d)")
DEGREES = re.compile(r"\d{1,3}\s*°\s*\d{1,2}(?:[.,]\d+)?\s*['′](?:\s*\d{1,2}(?:[.,]\d+)?\s*[\"″])?\s*[NSEW]?")
PLACES = (("lots", "place"), ("sites", "name"))
ABOUT_PEOPLE = ("name", "orcid", "organisation", "ror")


@dataclass(frozen=True)
class Secrets:
    """texts : what must not be told, longest first.  numbers : withheld coordinates, in degrees."""

    texts: tuple[str, ...]
    numbers: tuple[float, ...]

    def __bool__(self):
        return bool(self.texts or self.numbers)

    def out_of(self, text):
        """A text without what was withheld."""
        for secret in self.texts:
            text = re.sub(rf"(?<!\w){re.escape(secret)}(?!\w)", MARK, text, flags=re.IGNORECASE)
        if not self.numbers:
            return text
        return DEGREES.sub(MARK, NUMBER.sub(lambda found: MARK if self._is_near(found.group()) else found.group(), text))

    def _is_near(self, text):
        value = abs(float(text.replace(",", ".")))
        return any(abs(value - abs(number)) < NEAR for number in self.numbers)


def secrets(before, after):
    """What redaction of `before` took out, and nothing in `after` still tells."""
    texts, numbers = set(), set()
    for table, name in PLACES:
        old, new = plain(before[table]), plain(after[table])
        texts |= _gone(old[name], new[name])
        for column in ("latitude", "longitude"):
            moved = old[column].notna() & ~old[column].eq(new[column])
            numbers |= set(old.loc[moved, column]) - set(new[column].dropna())
    old, new = before["people"], after["people"]
    for name in ABOUT_PEOPLE:
        texts |= _gone(old[name], new[name])
    parts = {part.strip() for text in texts for part in text.split(",")}  # of "Hollow Sands, east face" the first says it all
    known = _still_told(after)
    longest = sorted({t for t in texts | parts if len(t) >= SHORTEST} - known, key=lambda t: (-len(t), t))
    return Secrets(tuple(longest), tuple(sorted(numbers)))


def scrubbed(package, hidden):
    """(the package without what was withheld in any text cell or in its descriptor, number of texts changed)."""
    changed = 0
    for table in package.names:
        frame = package[table]
        fresh = {}
        for name in frame.columns:
            if isinstance(frame[name].dtype, pd.StringDtype):
                told = frame[name].map(hidden.out_of, na_action="ignore").astype(frame[name].dtype)
                other = told.notna() & told.ne(frame[name])
                if other.any():
                    fresh[name], changed = told, changed + int(other.sum())
        if fresh:
            package = package.replacing(table, frame.assign(**fresh))
    facts = {}
    for name in ("title", "description", "contributors", "sources", "keywords", "homepage"):
        if name in package.descriptor:
            raw = thaw(package.descriptor)[name]
            told = _in(raw, hidden)
            if told != raw:
                facts[name], changed = told, changed + 1
    return (package.describing(**facts) if facts else package), changed


def files(folder, names, hidden):
    """Take what was withheld out of text files of a folder that are no tables of the schema; how many were changed."""
    changed = 0
    for name in names:
        path = folder / name
        try:
            text = path.read_text(encoding="utf-8")
        except (UnicodeDecodeError, OSError):
            continue  # what is no text says nothing in words; pictures that may be shared were looked at before
        told = hidden.out_of(text)
        if told != text:
            path.write_text(told, encoding="utf-8", newline="")
            changed += 1
    return changed


def _gone(old, new):
    """Texts of a column that were there and are not any more."""
    left = set(new.dropna())
    return {text.strip() for text in old.dropna() if text not in left and text.strip()}


def _still_told(after):
    """Texts of the same columns that may be told: another lot's place, a person who agreed."""
    told = {text for table, name in PLACES for text in after[table][name].dropna()}
    return told | {text for name in ABOUT_PEOPLE for text in after["people"][name].dropna()}


def _in(value, hidden):
    if isinstance(value, str):
        return hidden.out_of(value)
    if isinstance(value, dict):
        return {key: _in(part, hidden) for key, part in value.items()}
    return [_in(part, hidden) for part in value] if isinstance(value, list | tuple) else value
