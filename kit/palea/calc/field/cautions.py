"""Estimates of counted plots whose design simulation has shown to give intervals that are too narrow."""

from dataclasses import replace

from palea.calc import simulated
from palea.calc.stats import share_means as models
from palea.calc.terms import Rung


def gross(means):
    """Means of the plots as they were counted, whatever was taken off or allowed for since."""
    return gross(means.gross) if hasattr(means, "gross") else means


def with_cautions(estimates, places, plots):
    """The estimates, each with the Caution of its design or none, as a tuple.

    places : {key: Place}.  plots : `counted_plots`, of the same keys.  An effect over several places has that of either.
    """
    risky = list(_risky(places, plots))
    environments = {key[1] for key in places}
    return tuple(replace(each, caution=_caution(each, risky, environments)) for each in estimates)


def _risky(places, plots):
    """Yield (key, rung, names of treatments, Caution) of each place."""
    plants = plots.groupby(["taxon", "environment", "quantity", "denominator", "treatment"])["k"].sum()
    for key, place in places.items():
        for rung, means in place.rungs:
            bare = gross(means)
            if bare is None:
                continue
            if rung == Rung.BATCH and bare.model == models.QUASI:
                yield key, str(rung), simulated.far_above(bare.names, bare.shares), simulated.FAR_BATCHES
            if rung == Rung.PLOT and bare.model == models.BETA:
                counted = [plants[(*key, name)] for name in bare.names]
                units = [place.behind[name][1] for name in bare.names]
                yield key, str(rung), simulated.hardly_up(bare.names, units, counted), simulated.FEW_UP


def _caution(estimate, risky, environments):
    sides = {estimate.of.get(side) for side in ("treatment", "a", "b")}
    where = estimate.of.get("environment")
    for (taxon, place, *share), rung, names, caution in risky:
        same = (taxon, *share, rung) == (estimate.of.get("taxon"), estimate.quantity, estimate.denominator, estimate.rung)
        if same and (where == place or where not in environments) and not names.isdisjoint(sides):
            return caution
    return None
