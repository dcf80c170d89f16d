"""Small ways of saying several things in one cell, as the standards ask for it."""

import pandas as pd

from palea import schema
from palea.derived.lookup import texts


def together(values):
    """Distinct texts of a group, joined by a semicolon; missing where there is none."""
    there = dict.fromkeys(str(v) for v in values if not pd.isna(v))
    return "; ".join(there) or pd.NA


def labelled(words, vocabulary):
    """Titles of the words of a list, in place of the words."""
    return texts(words, {name: schema.word(vocabulary, name)["title"] for name in schema.words(vocabulary)})
