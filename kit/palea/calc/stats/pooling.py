"""Effects of several trials as one: a mean of what they share, and how far they differ.

Each trial i saw y_i with sampling variance v_i; true effects scatter about the mean with variance tau2.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize, special

from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

REML, DL = "REML", "DL"


@dataclass(frozen=True)
class Pooled:
    """Several effects pooled. All on the scale of the effects.

    mean, error : pooled mean and its standard error.  lower, upper : its interval.  df : of that interval.
    predicted : (lower, upper) for the true effect of one more trial like these; nan with fewer than 3 trials.
    tau2 : variance of true effects.  q, q_p : test of no scatter.  i2 : share of scatter beyond sampling, %.
    weights : (k,) summing to 1.  p_value : of mean 0.
    """

    mean: float
    error: float
    lower: float
    upper: float
    df: float
    predicted: tuple[float, float]
    tau2: float
    q: float
    q_p: float
    i2: float
    p_value: float
    weights: np.ndarray = field(repr=False)


def pool(effects, variances, *, method=REML, knapp_hartung=True, confidence=0.95):
    """Random-effects mean of several effects -> Pooled.

    effects, variances : (k,), k >= 2; variances above 0.  method : of tau2, REML or DL.
    knapp_hartung : variance of the mean from the weighted scatter itself, with t on k - 1 degrees of freedom; never
    below the plain one when the trials agree by chance (tau2 = 0). Else plain, normal.
    Prediction: mean +- t on k - 2 degrees of freedom x sqrt(tau2 + error^2). I2 from tau2 and the typical variance.
    Raises UnfitValue for fewer than two effects, a missing one, or a variance that is not above 0.
    Source: DerSimonian & Laird 1986, Control. Clin. Trials 7:177; Viechtbauer 2005, J. Educ. Behav. Stat. 30:261 (REML);
    Hartung & Knapp 2001, Stat. Med. 20:3875; Sidik & Jonkman 2002, Stat. Med. 21:3153; Higgins, Thompson &
    Spiegelhalter 2009, J. R. Stat. Soc. A 172:137 (prediction); Higgins & Thompson 2002, Stat. Med. 21:1539 (I2).

    >>> round(pool([0.0, 1.0, 2.0], [0.1, 0.1, 0.1]).mean, 6)
    1.0
    """
    y, v = _checked(effects, variances)
    tau2 = between(y, v, method)
    weights = 1 / (v + tau2)
    mean = float(weights @ y / weights.sum())
    error, df = float(weights.sum() ** -0.5), np.inf
    if knapp_hartung:
        stretch = float(weights @ (y - mean) ** 2) / (y.size - 1)
        error, df = error * np.sqrt(max(stretch, 1.0) if tau2 == 0 else stretch), float(y.size - 1)
    half = t_quantile(confidence, df) * error
    q = heterogeneity(y, v)
    typical = _typical(v)
    return Pooled(
        mean, float(error), float(mean - half), float(mean + half), df, _predicted(mean, error, tau2, y.size, confidence),
        tau2, q, float(special.chdtrc(y.size - 1, q)), float(100 * tau2 / (tau2 + typical)),
        float(2 * special.stdtr(df, -abs(mean / error)) if np.isfinite(df) else 2 * special.ndtr(-abs(mean / error))),
        weights / weights.sum(),
    )  # fmt: skip


def between(effects, variances, method=REML):
    """tau2, the variance of true effects, at least 0, by restricted maximum likelihood or DerSimonian & Laird."""
    y, v = _checked(effects, variances)
    moments = _by_moments(y, v)
    if method == DL:
        return moments
    if method != REML:
        msg = f"method is {method!r}; allowed are {REML} and {DL}."
        raise UnfitValue(msg)
    top = 10 * (np.var(y, ddof=1) + v.max()) + 10 * moments
    grid = np.concatenate([[0.0], np.geomspace(1e-8 * top, top, 60)])
    best = int(np.argmax([_restricted(t, y, v) for t in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
    if best == 0 and _slope(0.0, y, v) <= 0:
        return 0.0
    if _slope(low, y, v) * _slope(high, y, v) < 0:
        return float(optimize.brentq(_slope, low, high, args=(y, v), xtol=1e-14))
    return float(optimize.minimize_scalar(lambda t: -_restricted(t, y, v), bounds=(low, high), method="bounded").x)


def heterogeneity(effects, variances):
    """Cochran's Q: weighted scatter about the mean of fixed weights; chi-squared on k - 1 where nothing differs."""
    y, v = _checked(effects, variances)
    mean = (y / v).sum() / (1 / v).sum()
    return float(((y - mean) ** 2 / v).sum())


def _by_moments(y, v):
    w = 1 / v
    scale = w.sum() - (w**2).sum() / w.sum()
    return float(max((heterogeneity(y, v) - (y.size - 1)) / scale, 0.0))


def _restricted(tau2, y, v):
    """Restricted log-likelihood, up to a constant."""
    w = 1 / (v + tau2)
    mean = w @ y / w.sum()
    return 0.5 * (np.log(w).sum() - np.log(w.sum()) - w @ (y - mean) ** 2)


def _slope(tau2, y, v):
    w = 1 / (v + tau2)
    mean = w @ y / w.sum()
    return 0.5 * (-w.sum() + (w**2).sum() / w.sum() + w**2 @ (y - mean) ** 2)


def _typical(v):
    w = 1 / v
    return (v.size - 1) * w.sum() / (w.sum() ** 2 - (w**2).sum())


def _predicted(mean, error, tau2, trials, confidence):
    if trials < 3:
        return np.nan, np.nan
    half = t_quantile(confidence, trials - 2) * np.sqrt(tau2 + error**2)
    return float(mean - half), float(mean + half)


def variance_of(lower, upper, confidence, df=np.inf):
    """Sampling variance of an effect from its symmetric interval: ((upper - lower) / (2 quantile))^2.

    df : of the interval; where missing (nan) the normal quantile is taken. Shapes broadcast.
    """
    df = np.where(np.isnan(np.asarray(df, float)), np.inf, np.asarray(df, float))
    tail = (1 + np.asarray(confidence, float)) / 2
    quantile = np.where(np.isinf(df), special.ndtri(tail), special.stdtrit(np.where(np.isinf(df), 1, df), tail))
    return ((np.asarray(upper, float) - np.asarray(lower, float)) / (2 * quantile)) ** 2


def _checked(effects, variances):
    y, v = np.broadcast_arrays(np.asarray(effects, float), np.asarray(variances, float))
    if y.ndim != 1 or y.size < 2:
        msg = f"{y.size} effects were given; pooling needs 2 or more."
        raise UnfitValue(msg)
    bad = ~(np.isfinite(y) & np.isfinite(v) & (v > 0))
    if bad.any():
        at = int(bad.argmax())
        msg = f"Effect {at} is {y[at]:g} with variance {v[at]:g}; both must be known, and the variance above 0."
        raise UnfitValue(msg)
    return y, v
