"""Models of u for palea.calc.stats.threshold_time: hydrotime, hydrothermal time, thermal time up to and past the optimum.

Each holds the condition of every inspection interval and says how far the population is by a time, in normal deviates.
`natural` turns its own parameters into those that are reported.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri


@dataclass(frozen=True)
class Hydrotime:
    """Probit(g) = (psi - theta / t - psi_b50) / sigma: a seed with base water potential psi_b needs theta = (psi - psi_b) t.

    psi : (n,) water potential of each interval, MPa. Own parameters: psi_b50 / sigma, 1 / sigma, theta / sigma, in which
    u is linear.
    Source: Gummerson 1986, J. Exp. Bot. 37:729-741; Bradford 1990, Plant Physiol. 94:840-849 (from memory).
    """

    psi: np.ndarray = field(repr=False)
    names = ("base", "spread", "constant")

    def reach(self, shape, time):
        """Normal deviates (r, n) and their derivatives (r, n, 3)."""
        of = np.stack([-np.ones_like(self.psi), self.psi, -1 / time], axis=1)
        return shape @ of.T, np.broadcast_to(of, (len(shape), *of.shape))

    def natural(self, shape):
        """{name: (r,)}; nan where potential or time would not matter or would matter the wrong way."""
        return _where_rising(shape[:, 1:3], {
            "base": _over(shape[:, 0], shape[:, 1]), "spread": _over(1.0, shape[:, 1]),
            "constant": _over(shape[:, 2], shape[:, 1]),
        })  # fmt: skip

    @staticmethod
    def own(base, spread, constant):
        """Own parameters of natural ones."""
        return np.array([base, 1.0, constant]) / spread


@dataclass(frozen=True)
class Hydrothermal:
    """As Hydrotime with the time counted in degrees above a base temperature: theta = (psi - psi_b) (T - Tb) t.

    psi, temperature : (n,), MPa and degrees Celsius.  coldest : lowest temperature at which seed germinated; Tb lies
    below it. Own parameters: as Hydrotime, and log(coldest - Tb).
    Source: Gummerson 1986, J. Exp. Bot. 37:729-741; Bradford 1995, in Kigel & Galili, Seed Development (from memory).
    """

    psi: np.ndarray = field(repr=False)
    temperature: np.ndarray = field(repr=False)
    coldest: float
    names = ("base", "spread", "constant", "base temperature")

    def reach(self, shape, time):
        """Normal deviates (r, n) and their derivatives (r, n, 4)."""
        below = np.exp(shape[:, 3:4])
        warm = np.maximum(self.temperature - self.coldest + below, 1e-6)
        slow = 1 / (warm * time)
        u = -shape[:, :1] + shape[:, 1:2] * self.psi - shape[:, 2:3] * slow
        by_base = shape[:, 2:3] * slow / warm * below  # warmth rises as Tb falls, and u with it
        return u, np.stack([-np.ones_like(u), np.broadcast_to(self.psi, u.shape), -slow, by_base], axis=2)

    def natural(self, shape):
        """{name: (r,)}."""
        return Hydrotime(self.psi).natural(shape) | {"base temperature": self.coldest - np.exp(shape[:, 3])}

    def own(self, base, spread, constant, base_temperature):
        """Own parameters of natural ones."""
        return np.append(Hydrotime.own(base, spread, constant), np.log(self.coldest - base_temperature))


@dataclass(frozen=True)
class Thermal:
    """Log(t) = log(theta) - log(T - Tb) below the optimum, log(theta2) - log(Tm - T) above; log theta is normal, SD s.

    temperature : (n,), degrees Celsius.  above : (n,) whether the interval's temperature lies above the optimum.
    coldest, warmest : lowest and highest temperature at which seed germinated; Tb lies below, Tm above.
    Own parameters: 1 / s, log(theta) / s, log(coldest - Tb) and, where any lies above the optimum, log(theta2) / s and
    log(Tm - warmest).
    Source: Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot. 33:288-296 (two lines of rate against temperature);
    normal log thermal time: Covell et al. 1986, J. Exp. Bot. 37:705-715 (from memory).
    """

    temperature: np.ndarray = field(repr=False)
    above: np.ndarray = field(repr=False)
    coldest: float
    warmest: float

    @property
    def names(self):
        """Of the natural parameters."""
        low = ("constant", "spread", "base temperature")
        return (*low, "constant above", "ceiling", "optimum") if self.above.any() else low

    def reach(self, shape, time):
        """Normal deviates (r, n) and their derivatives (r, n, 3 or 5)."""
        steep = shape[:, :1]
        below = np.exp(shape[:, 2:3])
        warm = np.maximum(self.temperature - self.coldest + below, 1e-6)
        u = steep * (np.log(time) + np.log(warm)) - shape[:, 1:2]
        du = [np.log(time) + np.log(warm), -np.ones_like(u), steep * below / warm]
        if not self.above.any():
            return u, np.stack(du, axis=2)
        over = np.exp(shape[:, 4:5])
        room = np.maximum(self.warmest + over - self.temperature, 1e-6)
        high = steep * (np.log(time) + np.log(room)) - shape[:, 3:4]
        dh = [np.log(time) + np.log(room), -np.ones_like(u), steep * over / room]
        zero = np.zeros_like(u)
        lower = np.stack([*du, zero, zero], axis=2)
        upper = np.stack([dh[0], zero, zero, dh[1], dh[2]], axis=2)
        return np.where(self.above, high, u), np.where(self.above[:, None], upper, lower)

    def natural(self, shape):
        """{name: (r,)}."""
        found = {
            "constant": np.exp(_over(shape[:, 1], shape[:, 0])), "spread": _over(1.0, shape[:, 0]),
            "base temperature": self.coldest - np.exp(shape[:, 2]),
        }  # fmt: skip
        if self.above.any():
            theta2 = np.exp(_over(shape[:, 3], shape[:, 0]))
            ceiling = self.warmest + np.exp(shape[:, 4])
            found |= {"constant above": theta2, "ceiling": ceiling}
            found["optimum"] = optimum(found["base temperature"], ceiling, found["constant"], theta2)
        return _where_rising(shape[:, :1], found)


def optimum(base, ceiling, theta, theta_above):
    """Temperature at which both lines of rate against temperature meet: (theta2 Tb + theta Tm) / (theta + theta2).

    Source: derived by hand from (T - Tb) / theta = (Tm - T) / theta2.

    >>> optimum(2.5, 40.0, 80.0, 40.0)
    27.5
    """
    return (theta_above * base + theta * ceiling) / (theta + theta_above)


def hydrotime_share(psi, time, base, spread, constant):
    """Share germinated by a time at a water potential, of those that ever would: Phi((psi - theta / t - psi_b50) / sigma).

    psi, base, spread : MPa.  time : d, > 0.  constant : MPa d.  Source: Bradford 1990, Plant Physiol. 94:840-849.
    """
    return ndtr((psi - constant / np.asarray(time, float) - base) / spread)


def hydrotime_to(psi, share, base, spread, constant):
    """Time until a share of those that ever would has germinated [d]: theta / (psi - psi_b50 - sigma probit(g)).

    inf where the potential lies at or below the base potential of that share.
    Source: Bradford 1990, Plant Physiol. 94:840-849.

    >>> round(float(hydrotime_to(0.0, 0.5, -0.62, 0.35, 3.1)), 2)
    5.0
    """
    above = np.asarray(psi, float) - base - spread * ndtri(np.asarray(share, float))
    return np.divide(constant, above, out=np.full(np.shape(above), np.inf), where=above > 0)


def thermal_time_to(temperature, constant, base):
    """Time that a thermal time takes at a temperature [d]: theta / (T - Tb); inf at or below Tb.

    Source: Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot. 33:288-296.

    >>> thermal_time_to([22.5, 7.5], 80.0, 2.5).tolist()
    [4.0, 16.0]
    """
    above = np.asarray(temperature, float) - base
    return np.divide(constant, above, out=np.full(np.shape(above), np.inf), where=above > 0)


def _over(top, bottom):
    with np.errstate(divide="ignore", invalid="ignore"):
        return top / bottom


def _where_rising(slopes, found):
    good = (slopes > 0).all(axis=1)
    return {name: np.where(good, value, np.nan) for name, value in found.items()}
