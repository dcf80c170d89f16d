"""What a row leaves open, and which of two written dates surely came first: blanks with a reason are no gaps, and a date
known to the month is a span.
"""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.derived.lookup import TEXT


def surely_before(first, then):
    """Where every moment that `first` can mean lies before every one that `then` can mean; False where one is blank."""
    return pd.Series(latest(first) < earliest(then), index=first.index)


def unsaid(frame, column):
    """Where `column` is blank and the row's own why_blank gives no reason for it."""
    blank = frame[column].isna()
    if "why_blank" not in frame:
        return blank
    return blank & ~frame["why_blank"].str.contains(rf"(?:^|;)\s*{column}:").fillna(value=False).astype(bool)


def lacking(frame, table, by, asked):
    """One text a row: the titles, quoted, of blank columns among those asked for, "" where none is; reasons given count as said.

    table : name of the table that `frame` is of.  by : Series of words along it.  asked : {word: columns asked for}.
    """
    text = pd.Series("", index=frame.index, dtype=TEXT)
    for column in dict.fromkeys(c for columns in asked.values() for c in columns):
        asking = by.isin([word for word, columns in asked.items() if column in columns])
        wanting = asking.fillna(value=False).astype(bool) & unsaid(frame, column)
        text = text.mask(wanting, text + f", “{schema.table(table)[column].title}”")
    return text.str.removeprefix(", ")


def amounts(amount, unit, dimension):
    """Amounts in the base unit of a dimension (g for mass, mL for volume), nan where the unit is of another."""
    in_base = {u: schema.word("unit", u).get("in_base") for u in schema.words("unit", dimension=dimension)}
    return amount * unit.map(in_base).astype(float)


def dimensions(unit):
    """The dimension of each unit, missing where it is blank or unknown."""
    return unit.map({u: schema.word("unit", u)["dimension"] for u in schema.words("unit")}).astype(TEXT)


def sums(grouped):
    """Sums of grouped numbers (a Series or frame by group), nan where one of the group's values is blank."""
    return grouped.sum().where(grouped.count().eq(grouped.size(), axis=0))
