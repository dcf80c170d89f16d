"""Where in a grid the table lies: what stands above it, its heading of one row or more, its rows, and what is no row."""

import re
from dataclasses import dataclass

from palea.bench.take_in import names, written

_TOTALS = re.compile(
    r"(grand |sub)?(total|sum|mean|average|avg|summe|gesamt|mittel(wert)?|somme|moyenne|suma|media|std)s?\b.*|"
    r"(s\.?d|s\.?e)\b.*|[øσ∑].*",
    re.IGNORECASE,
)
_PAIR = re.compile(r"\s*([^:]{2,40}):\s*(.*)")
LOOKED_AT = 40  # rows in which the heading must begin
MOST_HEADINGS = 4


@dataclass(frozen=True)
class Layout:
    """Rows are numbered from 0, as in the Grid.

    headings : rows of the heading.  columns : the text of each column's heading, parts of several rows one below the
    other, outermost first.  body : rows of the table.  above : {what: value} of pairs that stand above the table.
    left_out : [(row, why)] of rows that are no rows of the table.
    """

    headings: tuple
    columns: tuple
    body: tuple
    above: dict
    left_out: tuple


def find(grid, headings=()):
    """The Layout of a grid. headings : rows of the heading where somebody said them, from 0."""
    lines = tuple(headings) or _headings(grid.cells)
    columns = _columns(grid.cells, lines)
    body, left_out = _body(grid.cells, lines, columns)
    return Layout(lines, columns, body, _above(grid.cells[: lines[0]]), tuple(_kept_above(grid.cells[: lines[0]])) + left_out)


def _filled(row):
    return sum(map(bool, row))


def _headings(cells):
    """The first row about as wide as the table, with the rows above and below it that belong to the heading."""
    widths = [_filled(row) for row in cells]
    wide = [n for n in widths if n > 1] or [1]
    usual = max(set(wide), key=lambda n: (wide.count(n), n))
    first = next((r for r, n in enumerate(widths[:LOOKED_AT]) if n >= max(2, 0.6 * usual)), 0)
    lines = [first]
    while lines[0] and len(lines) < MOST_HEADINGS and _is_over(cells[lines[0] - 1], cells[first]):
        lines.insert(0, lines[0] - 1)
    while lines[-1] + 1 < len(cells) and len(lines) < MOST_HEADINGS and _is_under(cells[lines[-1] + 1]):
        lines.append(lines[-1] + 1)
    return tuple(lines)


def _is_over(row, heading):
    """Whether a row above the heading is part of it: days, dates or outcomes over its columns."""
    said = [(c, text) for c, text in enumerate(row) if text]
    over = [text for c, text in said if c and c < len(heading)]
    return bool(over) and len(over) == len(said) and all(names.is_part_of_heading(text) for text in over)


def _is_under(row):
    """Whether a row below the first one is part of the heading: outcomes, units or days, and no row has begun."""
    said = [(c, text) for c, text in enumerate(row) if text]
    if not said or not all(names.is_part_of_heading(text) for _, text in said):
        return False
    begun = said[0][0] == 0 or all(text.replace(".", "").isdigit() for _, text in said)
    return not begun or all(written.unit(text.strip("()[]")) or names.outcome(text) for _, text in said)


def _columns(cells, lines):
    """Heading of each column: a text in an upper row also stands over the blank cells to its right."""
    parts = []
    for n, line in enumerate(lines):
        row, below = list(cells[line]), lines[n + 1 :]
        for c in range(1, len(row)):
            if not row[c] and row[c - 1] and any(cells[b][c] for b in below) and names.is_part_of_heading(row[c - 1]):
                row[c] = row[c - 1]
        parts.append(row)
    return tuple(tuple(dict.fromkeys(filter(None, column))) for column in zip(*parts, strict=True))


def _body(cells, lines, columns):
    """(rows of the table, rows left out with the reason)."""
    heading = {cells[line] for line in lines}
    body, left_out = [], []
    for r in range(lines[-1] + 1, len(cells)):
        row = cells[r]
        first = next(filter(None, row), "")
        if not first:
            continue
        if row in heading:
            left_out.append((r, "the heading again"))
        elif _TOTALS.fullmatch(first) and not _is_first_word_of_all(cells, lines):
            left_out.append((r, f"a row of totals (“{first}”)"))
        elif _filled(row) == 1 and len(columns) > 1:
            left_out.append((r, f"a line of text, no row (“{first[:60]}”)"))
        else:
            body.append(r)
    return tuple(body), tuple(left_out)


def _is_first_word_of_all(cells, lines):
    """Whether nearly every row begins as totals do, as where treatments are called “SE 1”, “SE 2”."""
    firsts = [first for row in cells[lines[-1] + 1 :] if (first := next(filter(None, row), ""))]
    return sum(bool(_TOTALS.fullmatch(f)) for f in firsts) * 2 > len(firsts)


def _above(rows):
    """Pairs above the table: “Trial: G1” in one cell, or “Trial” and “G1” in two; by the name in plain letters."""
    told = {}
    for row in rows:
        said = [text for text in row if text]
        for n, text in enumerate(said):
            pair = _PAIR.fullmatch(text)
            if pair and pair[2]:
                told.setdefault(names.plain(pair[1]), pair[2])
            elif n + 1 < len(said) and not (pair and pair[2]):
                told.setdefault(names.plain(text.rstrip(": ")), said[n + 1])
    return told


def _kept_above(rows):
    for r, row in enumerate(rows):
        if any(row):
            yield r, f"above the table (“{', '.join(filter(None, row))[:80]}”)"
