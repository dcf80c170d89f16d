"""What was withheld, and how anybody might have written it elsewhere.

A secret is what redaction took out and no other row still tells: exact coordinates, names of withheld places, names of
people who gave no consent, numbers of permits. A number near a withheld coordinate that is written with three decimals
or more is taken for one, and so is whatever is written as a place is written: degrees and minutes, grid references,
addresses of maps. A number that a kept answer gives itself is none, wherever it lies.
"""

import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from palea import schema
from palea.derived.facts import plain
from palea.sharing.redact import marked

MARK = "[withheld]"
NEAR = 1.0  # degrees from a withheld coordinate within which a number with three decimals is taken for one
AT_IT = 0.02  # degrees from it within which one with two decimals is
SHORTEST = 4  # letters of a name that is looked for by itself
# Looked for at every place, overlapping: in "1,52.123" the comma parts two cells, in "52,123" it is a decimal comma.
NUMBER = re.compile(r"(?<![\d.])(?=([-+]?\d{1,3}[.,](\d{2,}))(?!\d))")
_DEGREES = r"\d{1,3}(?:[.,]\d+)?"
_GAP = r"[\s:°º'′’\"″”]+"
WRITTEN_PLACES = tuple(
    re.compile(pattern)
    for pattern in (
        rf"{_DEGREES}\s*[°º]\s*\d{{1,2}}(?:[.,]\d+)?\s*['′’](?:\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:[\"″”]|''))?\s*[NSEW]?\b",
        rf"(?<![\w.])(?:{_DEGREES}\s*[°º]|\d{{1,3}}[.,]\d{{2,}})\s*[NSEW]\b",  # 52.12 N, but not the 2 N of an acid
        rf"(?<![\w.])\d{{1,3}}{_GAP}\d{{1,2}}(?:[.,]\d+)?(?:{_GAP}\d{{1,2}}(?:[.,]\d+)?)?{_GAP}?[NSEW]\b",  # 52 07 24 N
        rf"\b[NSEW]\s?\d{{1,3}}{_GAP}\d{{1,2}}(?:[.,]\d+)?(?:{_GAP}\d{{1,2}}(?:[.,]\d+)?)?",  # N 52 07.407
        r"\b\d{1,2}\s?[C-HJ-NP-X]\s+\d{6}(?:\.\d+)?\s*m?\s*E?\s*[,/ ]\s*\d{6,7}(?:\.\d+)?(?:\s*m?\s*N)?",  # zone, easting, northing
        r"\b[A-HJ-Z]{2}\s?(\d{3,5})\s(?=\d{3,5}\b)\d{3,5}\b",  # two letters and two groups of figures of a national grid
        r"\b[2-9CFGHJMPQRVWX]{4,8}\+[2-9CFGHJMPQRVWX]{2,3}\b",  # an open location code
        r"(?i)\bgeo:\S+|\bhttps?://\S*map\S*",
    )
)
NAMES_OF_PLANTS = ("scientific_name", "authorship", "family", "name_as_received")


@dataclass(frozen=True)
class Secrets:
    """texts : what must not be told, in any spelling, longest first.  words : names of people by themselves, written with
    a capital.  numbers : withheld coordinates, in degrees.  ids : pairs of an id that told something and its new one.
    """

    texts: tuple[str, ...]
    numbers: tuple[float, ...]
    words: tuple[str, ...] = ()
    ids: tuple[tuple[str, str], ...] = ()

    def __bool__(self):
        return bool(self.texts or self.numbers or self.words)

    def out_of(self, text, own=()):
        """A text without what was withheld; ids by their new names.

        own : numbers, without signs and in order, that are told there for another reason, rounded or not.
        """
        for pattern, new in self._ids:
            text = pattern.sub(new, text)
        for pattern in self._patterns:
            text = pattern.sub(MARK, text)
        if not self.numbers:
            return text
        for pattern in WRITTEN_PLACES:
            text = pattern.sub(MARK, text)
        return self._without_numbers(text, own)

    def are_in(self, name):
        """Whether an id or the name of a file tells one of them: there a person's name may be written small."""
        spelled = any(re.search(p.pattern, name, re.IGNORECASE) for p in self._patterns)
        return spelled or any(self._is_near(found) for found in NUMBER.finditer(name))

    @cached_property
    def _ids(self):
        longest = sorted(self.ids, key=lambda pair: (-len(pair[0]), pair))
        return [(re.compile(rf"(?<![\w.-]){re.escape(old)}(?![\w-])"), new) for old, new in longest]

    @cached_property
    def _patterns(self):
        spelled = [re.compile(_spelled(text), re.IGNORECASE) for text in self.texts]
        return (*spelled, *(re.compile(_spelled(word)) for word in self.words))

    def _without_numbers(self, text, own=()):
        parts, end = [], 0
        for found in NUMBER.finditer(text):
            if found.start(1) >= end and self._is_near(found) and not _is_among(own, found):
                parts += [text[end : found.start(1)], MARK]
                end = found.end(1)
        return "".join([*parts, text[end:]])

    def _is_near(self, found):
        value = abs(float(found.group(1).replace(",", ".")))
        within = NEAR if len(found.group(2)) > 2 else AT_IT
        return any(abs(value - abs(number)) < within for number in self.numbers)


def _is_among(own, found):
    """Whether a number, as far as it is written out, is one of these, which are in order."""
    if not len(own):
        return False
    value, half = abs(float(found.group(1).replace(",", "."))), 0.501 * 10.0 ** -len(found.group(2))
    first, behind = np.searchsorted(own, (value - half, value + half))
    return behind > first


def secrets(before, after):
    """What redaction of `before` took out, and nothing in `after` still tells."""
    texts, numbers = set(), set()
    for table in ("lots", "sites"):
        old, new = plain(before[table]), plain(after[table])
        for name in _in_words(table):
            texts |= _gone(old[name], new[name])
        for column in ("latitude", "longitude"):
            moved = old[column].notna() & ~old[column].eq(new[column])
            numbers |= set(old.loc[moved, column]) - set(new[column].dropna())
    old, new = before["people"], after["people"]
    for name in marked("people", "consent"):
        texts |= _gone(old[name], new[name])
    texts |= _gone(before["lots"]["permit"], after["lots"]["permit"])
    texts |= {a.strip() for row in _gone(before["protocols"]["authors"], after["protocols"]["authors"]) for a in row.split(";")}
    # of "Hollow Sands, east face (leased)" the first words say it already; what stands in brackets alone says nothing
    parts = {part.strip() for text in texts for part in re.split(r"[,;]", re.sub(r"\([^()]*\)", "", text))}
    known = _still_told(after)
    longest = sorted({t for t in texts | parts if len(t) >= SHORTEST} - known, key=lambda t: (-len(t), t))
    return Secrets(tuple(longest), tuple(sorted(numbers)), tuple(_family_names(before, after, known)))


def _family_names(before, after, known):
    """The last word of each withheld name of a person, unless it is also said of a plant or of somebody who agreed."""
    people = before["people"][before["people"]["kind"].eq("person").fillna(value=False)]
    gone = _gone(people["name"], after["people"]["name"])
    plants = [text for column in NAMES_OF_PLANTS for text in before["taxa"][column].dropna()]
    open_words = {word for text in [*known, *plants] for word in text.split()}
    last = {name.split()[-1] for name in gone if len(name.split()) > 1}
    return sorted(word for word in last if len(word) >= SHORTEST and word not in open_words and word[0].isupper())


def _spelled(text):
    """A pattern of a text however its words are joined: "Kettle Gate", "kettle-gate", "KettleGate"."""
    words = [re.escape(word) for word in re.split(r"[\s_\-]+", text) if word]
    return r"(?<![^\W_])" + r"[\s_\-]*".join(words) + r"(?![^\W_])"


def _gone(old, new):
    """Texts of a column that were there and are not any more."""
    left = set(new.dropna())
    return {text.strip() for text in old.dropna() if text not in left and text.strip()}


def _still_told(after):
    """Texts of the same columns that may be told: another lot's place, a person who agreed."""
    told = {text for table in ("lots", "sites") for name in _in_words(table) for text in after[table][name].dropna()}
    return told | {text for name in marked("people", "consent") for text in after["people"][name].dropna()}


def _in_words(table):
    """Columns that say in words where something is, of those that are made coarse."""
    return [name for name in marked(table, "blur") if schema.table(table)[name].type == "string"]
