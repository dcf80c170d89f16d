"""What a heading calls: a column of a table, an outcome, a day or a date; by plain comparison of letters and figures."""

import json
import re
from functools import cache
from pathlib import Path

from palea import schema
from palea.bench.take_in import written

_DAY = re.compile(
    r"(?:d|days?|tag|jour|dag|dia|das|dai)?[ ._-]*(\d{1,2}|[1-9]\d{2})(?:[ ._-]*(?:d|days?|das|dai))?\.?", re.IGNORECASE
)
_WEEK = re.compile(r"(?:w|wk|week|woche)[ ._-]*(\d{1,3})", re.IGNORECASE)
_TAIL = re.compile(r"_(?:mg|g|kg|ml|mm|cm|m|m2|c|pct|n|d|min|h)$")


@cache
def synonyms():
    """{column of a table: what laboratories call it}, {outcome: ...} and further meanings, as they stand in the file beside."""
    return json.loads(Path(__file__).with_name("synonyms.json").read_text(encoding="utf-8"))


def plain(text):
    """A text in small letters and figures alone: "Plot ID" and "plot_id" are one.

    >>> plain("Plot-ID "), plain("Keimlinge, normal")
    ('plotid', 'keimlingenormal')
    """
    return "".join(c for c in text.casefold() if c.isalnum())


def fields(table):
    """{plain name: column} of a table of the schema: names, titles and what laboratories say; an unsure name is left out."""
    known, taken = schema.table(table), {}
    said = synonyms()["columns"]
    for name, of in known.fields.items():
        for text in {name, of.title, of.label, _TAIL.sub("", name)}:
            taken.setdefault(plain(text), []).append(name)
    found = {text: columns[0] for text, columns in taken.items() if len(columns) == 1 or text == plain(columns[0])}
    for name in known.fields:
        for text in said.get(f"{table}.{name}", said.get(name, ())):
            found.setdefault(plain(text), name)
    return found


def meaning(text):
    """What else a heading of a count sheet can mean, as a key of `synonyms()["meanings"]`; "" for none."""
    wanted = plain(text)
    return next((key for key, said in synonyms()["meanings"].items() if wanted in map(plain, (key, *said))), "")


def outcome(text):
    """The outcome that a text names, in the schema's words or a laboratory's; "" for none."""
    wanted = plain(text)
    for name, word in schema.vocabulary("outcome").words.items():
        said = synonyms()["outcomes"].get(name, ())
        if wanted and wanted in map(plain, (name, word["title"], *said)):
            return name
    return ""


def counting(text):
    """The way of counting that a text names; "" for none."""
    wanted = plain(text)
    for name, word in schema.vocabulary("counting").words.items():
        if wanted and wanted in map(plain, (name, word["title"], *synonyms()["counting"].get(name, ()))):
            return name
    return ""


def day(text):
    """The day that a heading names, counted from day 0; None for none. Weeks are seven days."""
    text = text.strip()
    if found := _WEEK.fullmatch(text):
        return int(found[1]) * 7
    found = _DAY.fullmatch(text)
    return int(found[1]) if found else None


def day_and_outcome(text):
    """(day or None, outcome or "") of a heading that says both, as "d7 normal" or "normal_d7"; (None, "") else."""
    words = [w for w in re.split(r"[\s_/,·-]+", text.strip()) if w]
    for k in range(1, len(words)):
        one, other = " ".join(words[:k]), " ".join(words[k:])
        for first, second in ((one, other), (other, one)):
            if day(first) is not None and outcome(second):
                return day(first), outcome(second)
    return None, ""


def is_part_of_heading(text):
    """Whether a text in a second row of a heading belongs there: a day, a date, an outcome, a unit, a word of counting."""
    bare = text.strip("()[] ")
    return day(text) is not None or written.is_date(text) or any(f(bare) for f in (outcome, written.unit, counting, meaning))
