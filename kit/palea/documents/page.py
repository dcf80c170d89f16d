"""A page as a frozen value: parts, paragraphs, tables, pictures, and gaps that show. It knows nothing of seed.

Whoever reports something builds a Page; `html.write`, `markdown.write` and `docx.write` make a file of it. Inline text
is a tuple of runs: plain strings and Strong, Emphasis, Code, Link, Gap. Wherever runs are asked for, a single one may be
given alone. The level of a heading follows from how deep its Part lies, so headings cannot skip one.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace


@dataclass(frozen=True)
class Strong:
    """Words that must not be missed."""

    text: str


@dataclass(frozen=True)
class Emphasis:
    """Words set apart, as the name of a species is."""

    text: str


@dataclass(frozen=True)
class Code:
    """An identifier, a file name, a hash: to be copied letter by letter."""

    text: str


@dataclass(frozen=True)
class Link:
    """Words that lead to an anchor on the same page; where the page has no such anchor, the words alone are shown.

    Without words it is a reference to a table or figure: `numbered` gives it the words, “Table 3”.
    """

    text: str
    anchor: str


def reference(anchor):
    """A Link to a table or figure that will be called by its number."""
    return Link("", anchor)


@dataclass(frozen=True)
class Gap:
    """Something that a reader needs and that is not there: “[not recorded: pan speed, batch 3]”.

    what : the thing, named so that it can be looked up.  anchor : where on the page its cell is told; "" for nowhere.
    reason : why it is not there, in a word or two.
    """

    what: str
    anchor: str = ""
    reason: str = "not recorded"

    @property
    def text(self):
        """The mark as it is printed."""
        return f"[{self.reason}: {self.what}]"


Run = str | Strong | Emphasis | Code | Link | Gap
Runs = tuple[Run, ...]


def runs(given):
    """Runs from a single run, or from runs nested in tuples, lists and generators; empty strings are left out.

    >>> runs(("sown on ", ("", Strong("day 1"))))
    ('sown on ', Strong(text='day 1'))
    """
    if isinstance(given, tuple | list | Iterator):
        return tuple(run for part in given for run in runs(part))
    return (given,) if given != "" else ()


class _WithRuns:
    """Makes proper runs of what was given for the fields named in `_runs`, so that callers may hand over a string."""

    _runs = ()

    def __post_init__(self):
        for name in self._runs:
            object.__setattr__(self, name, runs(getattr(self, name)))


@dataclass(frozen=True)
class Paragraph(_WithRuns):
    """A paragraph. `small` is for what stands behind a statement rather than being one."""

    runs: Runs
    anchor: str = ""
    small: bool = False
    _runs = ("runs",)


@dataclass(frozen=True)
class Listing:
    """Items in a list, each of runs; numbered where order matters. `small` as in Paragraph, or for long lists."""

    items: tuple[Runs, ...]
    ordered: bool = False
    small: bool = False

    def __post_init__(self):
        object.__setattr__(self, "items", tuple(runs(item) for item in self.items))


@dataclass(frozen=True)
class Column:
    """Heading and alignment ("left" or "right") of a column; numbers stand right."""

    heading: str
    align: str = "left"


@dataclass(frozen=True)
class Row:
    """Cells, each of runs, and an anchor by which the row is found."""

    cells: tuple[Runs, ...]
    anchor: str = ""

    def __post_init__(self):
        object.__setattr__(self, "cells", tuple(runs(cell) for cell in self.cells))


@dataclass(frozen=True)
class Grid(_WithRuns):
    """A table. Every row has as many cells as there are columns; the first cell names the row."""

    caption: Runs
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    anchor: str = ""
    _runs = ("caption",)

    def __post_init__(self):
        super().__post_init__()
        object.__setattr__(self, "columns", tuple(c if isinstance(c, Column) else Column(c) for c in self.columns))
        object.__setattr__(self, "rows", tuple(r if isinstance(r, Row) else Row(tuple(r)) for r in self.rows))
        for row in self.rows:
            if len(row.cells) != len(self.columns):
                msg = f"A row of {len(row.cells)} cells does not fit {len(self.columns)} columns: {row.cells}."
                raise ValueError(msg)


@dataclass(frozen=True)
class Picture(_WithRuns):
    """A drawing as SVG text, and what it shows in words for those who cannot see it (never empty)."""

    svg: str = field(repr=False)
    alternative: str
    caption: Runs = ()
    anchor: str = ""
    _runs = ("caption",)

    def __post_init__(self):
        super().__post_init__()
        if not self.alternative.strip():
            msg = "A picture needs a text alternative: say what it shows."
            raise ValueError(msg)


@dataclass(frozen=True)
class Photograph(_WithRuns):
    """A picture of pixels, and what it shows in words. data : bytes of a PNG or JPEG that carries nothing but the picture."""

    data: bytes = field(repr=False)
    media_type: str
    alternative: str
    caption: Runs = ()
    anchor: str = ""
    _runs = ("caption",)

    def __post_init__(self):
        super().__post_init__()
        if not self.alternative.strip():
            msg = "A photograph needs a text alternative: say what it shows."
            raise ValueError(msg)


@dataclass(frozen=True)
class Note:
    """A box that stands out. kind : "hazard", "caution" or "remark"; the writer adds its mark and word."""

    kind: str
    children: tuple
    title: str = ""
    anchor: str = ""

    def __post_init__(self):
        object.__setattr__(self, "children", tuple(self.children))


@dataclass(frozen=True)
class Anchor:
    """A place to which links lead, where no other part of the page carries it."""

    name: str


@dataclass(frozen=True)
class Part:
    """A heading and what stands under it: blocks, and parts of its own.

    letter : what numbers of tables and figures begin with from here on, as in “Table A3”; "" for none.
    """

    heading: str
    children: tuple
    anchor: str = ""
    letter: str = ""

    def __post_init__(self):
        object.__setattr__(self, "children", tuple(self.children))


@dataclass(frozen=True)
class Page:
    """A whole document. facts : pairs of term and runs that stand under the title (who, when, which licence).

    contents : whether a list of its parts stands at the head, where it has enough of them.
    compact : set close, with pictures beside the text, so that a short page stays on one sheet.
    """

    title: str
    children: tuple
    subtitle: str = ""
    facts: tuple[tuple[str, Runs], ...] = ()
    language: str = "en"
    contents: bool = True
    compact: bool = False

    def __post_init__(self):
        object.__setattr__(self, "children", tuple(self.children))
        object.__setattr__(self, "facts", tuple((term, runs(told)) for term, told in self.facts))


def walk(thing) -> Iterator:
    """Everything on a page in reading order: blocks, rows, columns and runs, plain strings of runs included."""
    if isinstance(thing, tuple):
        for part in thing:
            yield from walk(part)
        return
    yield thing
    if hasattr(thing, "__dataclass_fields__"):
        for name in (f.name for f in fields(thing)):
            value = getattr(thing, name)
            if isinstance(value, tuple):
                yield from walk(value)


def gaps(page):
    """All gaps of a page, in reading order."""
    return [thing for thing in walk(page) if isinstance(thing, Gap)]


def anchors(page):
    """Names of all anchors of a page, in reading order; a gap's or a link's `anchor` is where it leads, so not one."""
    places = (thing for thing in walk(page) if not isinstance(thing, Gap | Link))
    named = (place.name if isinstance(place, Anchor) else getattr(place, "anchor", "") for place in places)
    return [name for name in named if name]


def said(given):
    """Runs as plain text, without any marking."""
    return "".join(run if isinstance(run, str) else run.text for run in runs(given))


def numbered(page):
    """The page with its tables and figures called by number: captions begin with it, references say it.

    Numbers run through the page; under a Part with a letter they begin anew, as in “Table A1”.
    """
    called = {}
    counted = _rebuilt(page, _Counting(called))
    return _rebuilt(counted, lambda thing, _letter: _referred(thing, called))


class _Counting:
    """Gives numbers in reading order, and keeps which anchor got which in `called`."""

    def __init__(self, called):
        self.called, self.counts = called, {}

    def __call__(self, thing, letter):
        kind = "Table" if isinstance(thing, Grid) else "Figure" if isinstance(thing, Picture | Photograph) else ""
        if not kind or not thing.caption:
            return thing
        number = self.counts[kind, letter] = self.counts.get((kind, letter), 0) + 1
        label = f"{kind} {letter}{number}"
        if thing.anchor:
            self.called[thing.anchor] = label
        return replace(thing, caption=(Strong(f"{label}. "), *thing.caption))


def _referred(thing, called):
    if isinstance(thing, Link) and not thing.text:
        return Link(called.get(thing.anchor, "(not shown)"), thing.anchor)
    return thing


def _rebuilt(thing, change, letter=""):
    """The thing with every part of it changed, outer ones first. change : (thing, letter of its Part) -> thing."""
    if isinstance(thing, tuple):
        return tuple(_rebuilt(part, change, letter) for part in thing)
    if not hasattr(thing, "__dataclass_fields__"):
        return thing
    letter = getattr(thing, "letter", "") or letter
    thing = change(thing, letter)
    inner = {
        f.name: _rebuilt(v, change, letter) for f in fields(thing) if isinstance(v := getattr(thing, f.name), tuple)
    }
    return replace(thing, **inner) if inner else thing
