"""Views as earlier versions of recipes were handed them; read by palea.analyses.earlier alone."""

from palea.derived import reserves
from palea.derived.counting import bases, ends, of_bases
from palea.derived.view import view


@view(ends, trial_outcomes="trial_id outcome")
def shares(ends, trial_outcomes):
    """As counting.shares, but each dish by itself: one in which every seed came up counted as cut, whatever its neighbours.

    For germination.final/1. The later leaves such a dish out where dishes like it were not cut: shares of filled seed
    would else rest on the dishes that did best.
    """
    return of_bases(ends, trial_outcomes, bases(ends, as_a_rule=False))


@view(shares, ends)
def ends_of_seed(shares, ends):
    """As reserves.ends_of_seed, of the shares above. For decision.reserve/1."""
    return reserves.ends_of_seed.function(shares, ends)
