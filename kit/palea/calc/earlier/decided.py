"""Version 1 of what helps to decide: losses, costs, and what is left in reserve."""

import numpy as np

from palea.calc.decision.cost import Price, cost, cost_curves
from palea.calc.decision.losses import losses
from palea.calc.decision.reserve import reserve
from palea.calc.earlier.germinated import final_1
from palea.calc.stats.resampling import percentile_interval


def by_percentiles(drawn, confidence, df, *, logged=False):  # noqa: ARG001 - the same call as the present one
    """Percentiles of the draws, however few units there are."""
    return percentile_interval(drawn, confidence, df)


class PlainPrice(Price):
    """A price by which seed without end at a rate of 0 costs no number, as 0 times infinity does."""

    def beside_seed(self, seed_units):
        """See Price."""
        clean = np.asarray(seed_units, float) * self.clean_g / 1e6
        with np.errstate(invalid="ignore"):
            return self.seed(seed_units) * self.per_received + clean * self.per_clean

    def hectare(self, seed_units):
        """See Price."""
        with np.errstate(invalid="ignore"):
            return self.seed(seed_units) * self.price + self.beside_seed(seed_units)


def losses_1(passed, pairs=None, confidence=0.95, replicates=999, seed=1):
    """Version 1 of decision.losses.losses, with its arguments and shapes.

    Changed since: with fewer than 8 degrees of freedom the interval of a ratio was made of percentiles of the draws, now it
    is a t interval on logs with their spread. The later is better because draws of few units do not reach far enough.
    Source: as decision.losses.losses.
    """
    return losses(passed, pairs, confidence, replicates, seed, by_percentiles)


def cost_1(
    passed, prices, pairs=None, plants=20_000.0, area=5.0, currency="EUR", confidence=0.95, replicates=999, seed=1
):
    """Version 1 of decision.cost.cost, with its arguments and shapes.

    Changed since: as in losses_1; and draws in which nothing established were left out where a rate was 0, though they cost
    without end by the other rates. The later is better because leaving those draws out made the dear end cheaper.
    Source: as decision.cost.cost.
    """
    return cost(passed, prices, pairs, plants, area, currency, confidence, replicates, seed, by_percentiles, PlainPrice)


def cost_curves_1(
    passed, prices, areas=None, plants=20_000.0, largest=50.0, currency="EUR", confidence=0.95, replicates=999, seed=1
):
    """Version 1 of decision.cost.cost_curves, with its arguments and shapes. Changed since: as in cost_1.

    Source: as decision.cost.cost_curves.
    """
    asked = (plants, largest, currency, confidence, replicates, seed)
    return cost_curves(passed, prices, areas, *asked, by_percentiles, PlainPrice)


def reserve_1(shares, newly, asked, confidence=0.95):
    """Version 1 of decision.reserve.reserve, with its arguments and shapes. Changed since: shares, see final_1.

    Source: as decision.reserve.reserve.
    """
    return reserve(shares, newly, asked, confidence, final_1)
