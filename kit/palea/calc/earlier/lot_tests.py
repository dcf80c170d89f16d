"""Version 1 of what tests of lots say: weight of seed, seed that is alive, and both together."""

from palea.calc.lots import life, live_seed, seed_weight
from palea.calc.means import mean_interval


def of_the_kept(weighed, confidence=0.95, lowest=0.0):
    """The t interval of a Weighed from the groups that were kept, as if the others had not been weighed."""
    return mean_interval(weighed.per_1000[weighed.kept], confidence, lowest=lowest)


def thousand_seed_weight_1(
    counted_groups, confidence=0.95, chaffy_limit=seed_weight.CHAFFY_LIMIT, limit=seed_weight.LIMIT
):
    """Version 1 of lots.seed_weight.thousand_seed_weight, with its arguments and shapes.

    Changed since: where groups were left out as too far from the mean, the interval came from the spread of the others. The
    later is better because groups that were left out still say how much groups differ: the interval held the true weight in
    90 of 100 simulated lots, where 95 were promised (tests/coverage, seed-weight).
    Source: as lots.seed_weight.thousand_seed_weight.
    """
    return seed_weight.thousand_seed_weight(counted_groups, confidence, chaffy_limit, limit, interval=of_the_kept)


def viability_1(counted_seeds, confidence=0.95):
    """Version 1 of lots.life.viability, with its arguments and shapes.

    Changed since: where replicates differed by no more than chance the normal quantile was taken, also where fewer than ten
    seeds did, or did not. The later is better because nothing can be seen of how replicates differ where hardly a seed does:
    the t quantile allows for that.
    Source: as lots.life.viability.
    """
    return life.viability(counted_seeds, confidence, fewest=0)


def pure_live_seed_1(purity_parts, counted_seeds, counted_groups, bags, confidence=0.95):
    """Version 1 of lots.live_seed.pure_live_seed, with its arguments and shapes.

    Changed since: the intervals of seed weight and of seed alive that it is made of, see above; they were too narrow.
    Source: as lots.live_seed.pure_live_seed.
    """
    ways = {"interval": of_the_kept, "fewest": 0}
    return live_seed.pure_live_seed(purity_parts, counted_seeds, counted_groups, bags, confidence, **ways)
