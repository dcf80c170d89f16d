"""How a sentence is followed to its rows: links to the rows of the appendix on which a paragraph rests."""

from palea.documents.page import Link
from palea.record.lots import few_told
from palea.record.story import anchor

SHOWN = 2  # rows that are named; the rest is counted


def rows(table, ids):
    """Runs of text behind a paragraph: “[runs R-1 to R-4]”, leading to the first of the rows; nothing for no row."""
    there = list(dict.fromkeys(ids))
    return (" [", Link(f"{table} {few_told(there, SHOWN)}", anchor(table, there[0])), "]") if there else ()
