"""Portions of seed for one bag: what each establishes at each place, what of it waits, and what it weighs."""

import pandas as pd

from palea import schema
from palea.calc.decision.reserve import WAITING
from palea.calc.terms import Denominator
from palea.derived import counting
from palea.derived.chain import KEYS, established, germinated
from palea.derived.contrasts import asked
from palea.derived.lookup import numbers, stacked
from palea.derived.priced import masses
from palea.derived.view import view


@view(established)
def reached(established):
    """One row a way and stage: KEYS, stage, share (0 to 1) of units sown that reach it."""
    sums = established.groupby([*KEYS, "stage", "of"], sort=False)[["entered", "passed"]].sum().reset_index()
    steps = sums.assign(step=sums["passed"] / sums["entered"])
    shares = {}
    for row in steps.itertuples(index=False):  # stages lie in order, so what one is of was met before
        way = (row.taxon, row.environment, row.treatment)
        shares[*way, row.stage] = shares.get((*way, row.of), 1.0) * row.step
    return steps[[*KEYS, "stage"]].assign(share=pd.Series(list(shares.values()), index=steps.index, dtype=float))


@view(reached)
def seasons(reached):
    """One row a place and treatment: taxon, season (the place), portion (treatment), established [% of viable seed].

    A place stands for a kind of season: dry or not, it is what the seed met there. Only where viable seed is known.
    """
    wide = reached.pivot_table(index=KEYS, columns="stage", values="share", sort=False)
    wide = wide.reindex(columns=["viable", "established"]).dropna().reset_index()
    return pd.DataFrame({
        "taxon": wide["taxon"], "season": wide["environment"], "portion": wide["treatment"],
        "established": (100 * wide["established"] / wide["viable"]).clip(upper=100.0),
    })  # fmt: skip


@view(seasons, reached, germinated, masses)
def portions(seasons, reached, germinated, masses):
    """One row a treatment of `seasons`: taxon, portion, waiting [% of viable], viable [% of units], thousand_g (bare seed),
    build_up [% of bare seed].

    waiting : living seed that did not germinate in the dishes of `chain.germinated`; nan where none was counted out.
    """
    told = seasons[["taxon", "portion"]].drop_duplicates().reset_index(drop=True)
    sums = germinated.groupby("treatment")[["entered", "passed"]].sum()
    alive = reached[reached["stage"].eq("viable")].drop_duplicates("treatment").set_index("treatment")["share"]
    mass = masses.set_index("treatment")
    return told.assign(
        waiting=100 * (1 - numbers(told["portion"], sums["passed"] / sums["entered"])),
        viable=100 * numbers(told["portion"], alive),
        thousand_g=numbers(told["portion"], mass["clean_g"]),
        build_up=100 * (numbers(told["portion"], mass["product_g"] / mass["clean_g"]) - 1).clip(lower=0.0),
    )


@view(seasons, asked)
def mixtures(seasons, asked):
    """One row a primary contrast of plots of which both sides were followed: first (b), second (a), seasons they share.

    The one that was followed in most places is first.
    """
    field = asked["environment"].isin(seasons["season"])
    mine = asked[asked["primary"] & asked["refused"].eq("") & field][["a", "b"]].drop_duplicates()
    places = seasons.groupby("portion")["season"].agg(frozenset).to_dict()
    both = [len(places.get(a, frozenset()) & places.get(b, frozenset())) for a, b in mine.itertuples(index=False)]
    told = pd.DataFrame({"first": mine["b"], "second": mine["a"], "seasons": pd.Series(both, index=mine.index, dtype=float)})
    return told[told["seasons"] > 0].sort_values("seasons", ascending=False, kind="stable").reset_index(drop=True)


@view(counting.shares, counting.ends)
def ends_of_seed(shares, ends):
    """Shares of dishes as germination.final reads them, with waiting seed of viable whether or not it was planned.

    Waiting is every way to end without germinating that leaves the seed alive; nan-free only where a dish was counted out.
    """
    if shares["quantity"].eq(WAITING).any():
        return shares
    keys = ["taxon", "treatment", "environment", "batch", "block", "unit"]
    seen, alive, waits = (
        ends[list(schema.words("outcome", ends_a_seed=True, **asked))].sum(axis=1)
        for asked in ({}, {"viable": True}, {"waiting": True})
    )
    told = ends[keys].assign(quantity=WAITING, denominator=str(Denominator.VIABLE), k=waits, n=alive)
    return stacked([shares, told[seen.ge(ends["sown"]) & alive.gt(0)]]).reset_index(drop=True)
