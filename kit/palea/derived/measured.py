"""Values of units and what was declared equivalent about them."""

import pandas as pd

from palea.calc.terms import Kind
from palea.derived import contrasts, counting, field_counts
from palea.derived.factors import intended
from palea.derived.lookup import stacked
from palea.derived.view import view


@view(contrasts.asked, intended)
def asked(asked, intended):
    """One row a declared equivalence and environment: taxon, environment, a, b, quantity, denominator, margin, wanted,
    margin_late, contrast.

    contrast names the step by the levels of both sides, so that one step in several species is one question. Contrasts
    that cannot be judged (see derived.contrasts) are left out: their own stage says why.
    """
    mine = asked[asked["kind"].eq(str(Kind.EQUIVALENCE)) & asked["refused"].eq("") & asked["taxon"].ne("")]
    level = intended.drop_duplicates("treatment").set_index("treatment")
    steps = [_step(level, *sides) for sides in mine[["asks_about", "a", "b"]].itertuples(index=False)]
    columns = ["taxon", "environment", "a", "b", "quantity", "denominator", "margin", "wanted", "margin_late"]
    return mine[columns].assign(contrast=pd.Series(steps, index=mine.index, dtype=object)).reset_index(drop=True)


def _step(level, factor, a, b):
    if factor not in level or not {a, b} <= set(level.index):
        return ""
    own, other = level.loc[[a, b], factor]
    return f"{factor}: {own or 'none'} against {other or 'none'}"


@view(counting.shares)
def in_dishes(shares):
    """Shares of dishes, under a name of their own."""
    return shares


@view(field_counts.shares)
def in_plots(shares):
    """Shares of plots, under a name of their own."""
    return shares


@view(asked, in_dishes, in_plots)
def values(asked, in_dishes, in_plots):
    """One row a dish or plot and share that is asked about: taxon, treatment, environment, batch, unit, quantity,
    denominator, value [%]; all treatments of that species and place, since their scatter is pooled.
    """
    keys = ["taxon", "environment", "quantity", "denominator"]
    wanted = asked[keys].drop_duplicates()
    both = stacked([in_dishes, in_plots])
    kept = both[[*keys, "treatment", "batch", "unit", "k", "n"]].merge(wanted, on=keys, how="inner")
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "value"]
    return kept.assign(value=100 * kept["k"] / kept["n"])[columns]
