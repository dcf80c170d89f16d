"""Survival from times that were seen: the product-limit curve, its median and restricted mean, and the log-rank test.

For deaths known only to lie between two visits see palea.calc.stats.time_to_event, and interval_hazards for effects.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats.proportions import normal_quantile
from palea.errors import UnfitValue

_AT_HALF = 1e-12  # a curve that lies on the share up to rounding has reached it


@dataclass(frozen=True)
class KaplanMeier:
    """A survival curve; arrays have one value a time at which somebody died.

    time : rising.  at_risk : followed until just before it.  died : at it.  survival : share alive after it.
    hazard_sums : sum of d / (n (n - d)) so far, Greenwood's term.  last : latest time anybody was followed to.
    """

    time: np.ndarray
    at_risk: np.ndarray
    died: np.ndarray
    survival: np.ndarray
    hazard_sums: np.ndarray = field(repr=False)
    last: float

    @property
    def error(self):
        """Greenwood's standard error of the survival."""
        with np.errstate(invalid="ignore"):
            return np.where(self.survival > 0, self.survival * np.sqrt(self.hazard_sums), 0.0)

    def interval(self, confidence=0.95, scale="log-log"):
        """(lower, upper) at each time. scale : "log-log" keeps inside 0 to 1 and is the default; "log" is cut at 1.

        nan once nobody is left. Source: Kalbfleisch & Prentice 2002, ch. 1.4 (log-log).
        """
        half = normal_quantile(confidence) * np.sqrt(self.hazard_sums)
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.log(self.survival)
            if scale == "log":
                ends = np.exp(logs - half), np.minimum(np.exp(logs + half), 1.0)
            else:
                stretch = np.exp(half / -logs)
                ends = self.survival**stretch, self.survival ** (1 / stretch)
        return tuple(np.where(self.survival > 0, end, np.nan) for end in ends)

    def quantile(self, share=0.5):
        """Time by which `share` have died; between two deaths where the curve lies level on it; inf: not reached."""
        at = np.flatnonzero(self.survival <= 1 - share + _AT_HALF)
        if not at.size:
            return np.inf
        level = at[np.abs(self.survival[at] - (1 - share)) <= _AT_HALF]
        if level.size:
            after = self.time[level[-1] + 1] if level[-1] + 1 < self.time.size else self.last
            return float((self.time[level[0]] + after) / 2)
        return float(self.time[at[0]])

    def quantile_interval(self, share=0.5, confidence=0.95, scale="log-log"):
        """Times at which the ends of the interval reach 1 - share; inf where one never does.

        Source: Brookmeyer & Crowley 1982, Biometrics 38:29 (times not refused); as read off by common software.
        """
        return tuple(_first(self.time, end, 1 - share) for end in self.interval(confidence, scale))

    def restricted_mean(self, until):
        """(mean, standard error) of the time lived up to `until`: the area below the curve.

        Raises UnfitValue for a time beyond that to which anybody was followed.
        Source: Irwin 1949, J. Hygiene 47:188; variance: Greenwood's, as in Klein & Moeschberger 2003, ch. 4.5.
        """
        if not 0 < until <= self.last:
            msg = f"until is {until:g}; the longest that anybody was followed is {self.last:g}. Choose a time up to that."
            raise UnfitValue(msg)
        inside = self.time < until
        starts = np.concatenate([[0.0], self.time[inside]])
        levels = np.concatenate([[1.0], self.survival[inside]])
        areas = levels * np.diff(np.append(starts, until))
        rest = np.cumsum(areas[::-1])[::-1][1:]  # below the curve from each death on
        n, d = self.at_risk[inside], self.died[inside]
        alive = n > d
        return float(areas.sum()), float(np.sqrt(np.sum(rest[alive] ** 2 * d[alive] / (n * (n - d))[alive])))


def _first(time, end, share):
    reached = np.flatnonzero(end <= share + _AT_HALF)
    return float(time[reached[0]]) if reached.size else np.inf


def fit(time, event, count=None):
    """Product-limit curve -> KaplanMeier.

    time : (n,) of death or of the end of following.  event : (n,) whether it was a death; one taken out (thinned, cut,
    lost) is followed until then and not dead.  count : (n,) plants that a row stands for; 1 each where None.
    Those taken out at the time of a death were at risk of it.
    Raises UnfitValue for a missing or negative time, or where nobody was followed.
    Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457; variance Greenwood 1926.

    >>> fit([1, 2, 3, 4], [1, 1, 0, 1]).survival.round(3).tolist()
    [0.75, 0.5, 0.0]
    """
    time, event, count = _checked(time, event, count)
    deaths = np.unique(time[event & (count > 0)])
    died = np.array([count[event & (time == t)].sum() for t in deaths])
    at_risk = np.array([count[time >= t].sum() for t in deaths])
    with np.errstate(divide="ignore"):
        sums = np.cumsum(died / (at_risk * (at_risk - died))) if deaths.size else np.zeros(0)
    return KaplanMeier(deaths, at_risk, died, np.cumprod(1 - died / at_risk), sums, float(time.max()))


def _checked(time, event, count):
    time, event = np.asarray(time, float), np.asarray(event, bool)
    count = np.ones(time.size) if count is None else np.asarray(count, float)
    bad = np.flatnonzero(~((time >= 0) & (count >= 0)))
    if bad.size:
        at = bad[0]
        msg = f"Row {at + 1} has time {time[at]:g} and count {count[at]:g}; both must be known and 0 or above."
        raise UnfitValue(msg)
    if not count.sum() > 0:
        msg = "Nobody was followed, so there is no curve. Enter what stood at the first visit."
        raise UnfitValue(msg)
    return time, event, count


@dataclass(frozen=True)
class LogRank:
    """Observed and expected deaths a group, the statistic (chi-squared on df), its p. `covariance` is of observed."""

    names: tuple[str, ...]
    observed: np.ndarray
    expected: np.ndarray
    covariance: np.ndarray = field(repr=False)
    statistic: float
    df: int
    p_value: float


def log_rank(time, event, group, count=None, *, rho=0.0, cluster=None):
    """Whether groups die alike -> LogRank. For display: it gives no size of effect.

    time, event, count : as in `fit`.  group : (n,) labels.
    rho : deaths are weighted by (share alive just before)^rho; 0: log-rank, 1: Peto and Peto (early deaths count more).
    cluster : (n,) label of the plot; deaths of a plot then need not be independent, and the variance is that between
    plots, times m / (m - 1). None: plants are taken as independent, which plants of a plot are not.
    Raises UnfitValue as `fit`, and for fewer than two groups.
    Source: Mantel 1966; Harrington & Fleming 1982, Biometrika 69:553 (rho); clusters: Lin & Wei 1989, J. Am. Stat.
    Assoc. 84:1074 (the score residuals added up over a plot).
    """
    time, event, count = _checked(time, event, count)
    names, at = np.unique(np.asarray(group, str), return_inverse=True)
    if names.size < 2:
        msg = "There is one group; the log-rank test needs two."
        raise UnfitValue(msg)
    member = np.eye(names.size)[at]
    deaths = np.unique(time[event & (count > 0)])
    reach = time[:, None] >= deaths  # (n, deaths)
    dies = (time[:, None] == deaths) & event[:, None]
    at_risk = (member * count[:, None]).T @ reach  # (groups, deaths)
    died = count @ dies
    total = at_risk.sum(axis=0)
    weight = np.concatenate([[1.0], np.cumprod(1 - died / total)[:-1]]) ** rho if deaths.size else np.ones(0)
    share = at_risk / total
    observed = (member * count[:, None]).T @ dies @ weight
    expected = share @ (died * weight)
    if cluster is None:
        spread = weight**2 * died * (total - died) / np.maximum(total - 1, 1)
        covariance = np.diag(share @ spread) - (share * spread) @ share.T
    else:
        surprise = count[:, None] * (dies - reach * (died / total)) * weight
        own = member * surprise.sum(axis=1)[:, None] - surprise @ share.T
        covariance = _between(own, cluster)
    gap = (observed - expected)[1:]
    statistic = float(gap @ np.linalg.pinv(covariance[1:, 1:]) @ gap)
    df = names.size - 1
    p_value = float(special.chdtrc(df, statistic))
    return LogRank(tuple(map(str, names)), observed, expected, covariance, statistic, df, p_value)


def _between(own, cluster):
    labels, where = np.unique(np.asarray(cluster, str), return_inverse=True)
    sums = np.stack([np.bincount(where, column) for column in own.T], axis=1)
    return sums.T @ sums * labels.size / max(labels.size - 1, 1)
