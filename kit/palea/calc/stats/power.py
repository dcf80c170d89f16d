"""How many units a comparison needs, and what a number of units can show, by formula.

Shares are 0 to 1. Numbers of units are for each of two arms and come back unrounded (17.2): round up what is sown.
Seeds of a dish or plants of a plot are alike (rho), so m of them count as m / DE, DE = 1 + (m - 1) rho.
"""

import numpy as np
from scipy import optimize, special

from palea.calc.stats.proportions import design_effect
from palea.errors import UnfitValue

MOST_UNITS = 1e9  # beyond it a question has no practical answer


def share_variance(share, seeds=1, rho=0.0, dishes=1, batch_sd=0.0):
    """Variance of the share of one unit: pq DE / (m d) within it, and (pq)^2 s^2 between batches.

    share : p.  seeds : m a dish or plot.  rho : correlation of two seeds of one dish.  dishes : d that are pooled in
    one unit (dishes of a batch).  batch_sd : s, standard deviation of batches on the logit scale.
    Source: Kish 1965, Survey Sampling (DE); batches by the delta method, derived by hand.

    >>> float(share_variance(0.5, 25, 0.05).round(4))
    0.022
    """
    share, seeds = _share(share, "share"), _above(seeds, "seeds")
    spread = share * (1 - share)
    return spread * design_effect(seeds, rho) / (seeds * _above(dishes, "dishes")) + (spread * batch_sd) ** 2


def units_for_difference(share_a, share_b, power=0.8, alpha=0.05, *, sides=2, **unit):
    """Units an arm to see that two shares differ: (z_a + z_b)^2 (v_a + v_b) / d^2, v as `share_variance` of `unit`.

    With dishes of m seeds that is (z_a + z_b)^2 (p1 q1 + p2 q2) DE / (m d^2). sides : 2, or 1 for a one-sided test.
    inf where the shares are equal. Raises UnfitValue for shares, power or alpha outside 0 to 1.
    Source: Fleiss 1981, Statistical Methods for Rates and Proportions, ch. 3; design effect: Kish 1965.

    >>> float(units_for_difference(0.70, 0.80, seeds=25, rho=0.02).round(1))
    17.2
    """
    total = share_variance(share_a, **unit) + share_variance(share_b, **unit)
    return _units(_normal(alpha, sides) + _beta(power), total, np.abs(np.asarray(share_a, float) - share_b))


def units_for_no_worse(share_a, share_b, margin, power=0.8, alpha=0.05, **unit):
    """Units an arm to show that a is no worse than b by more than `margin`, higher counting as better; one-sided.

    (z_a + z_b)^2 (v_a + v_b) / (margin + p_a - p_b)^2; inf where a is expected to lie below b by the margin or more.
    Source: Farrington & Manning 1990, Stat. Med. 9:1447 (without the restricted variance: plain, unpooled).

    >>> float(units_for_no_worse(0.75, 0.75, 0.10, seeds=25, rho=0.03).round(2))
    15.95
    """
    total = share_variance(share_a, **unit) + share_variance(share_b, **unit)
    room = _above(margin, "margin") + np.asarray(share_a, float) - share_b
    return _units(_normal(alpha, 1) + _beta(power), total, np.maximum(room, 0))


def units_for_equivalence(share_a, share_b, margin, power=0.8, alpha=0.05, **unit):
    """Units an arm to show that two shares differ by less than `margin` either way: two one-sided tests.

    Solves Phi((m - d) / s - z) + Phi((m + d) / s - z) - 1 = power for the number behind s; with d = 0 that is
    (z_a + z_(b/2))^2 (v_a + v_b) / m^2. inf where the expected difference d reaches the margin.
    Source: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657; Chow, Shao & Wang 2003, Sample Size Calculations in
    Clinical Research, ch. 4 (from memory).

    >>> round(units_for_equivalence(0.75, 0.75, 0.15, seeds=25, rho=0.02), 1)
    8.4
    """
    total = float(share_variance(share_a, **unit) + share_variance(share_b, **unit))
    gap, margin = abs(float(share_a) - float(share_b)), float(_above(margin, "margin"))
    _beta(power)
    if gap >= margin:
        return np.inf

    def short(log_units):
        return power_of_equivalence(gap, margin, np.sqrt(total / np.exp(log_units)), alpha=alpha) - power

    return float(np.exp(optimize.brentq(short, -20, np.log(MOST_UNITS), xtol=1e-12))) if total else 0.0


def power_of_equivalence(difference, margin, error, df=np.inf, alpha=0.05):
    """Chance that two one-sided tests at alpha both reject, exactly.

    difference : the true one.  margin : m > 0.  error : true standard error of the estimate.  df : of its estimate;
    inf: known. Source: Phillips 1990, J. Pharmacokinet. Biopharm. 18:137 (the integral, here by quadrature).

    >>> round(power_of_equivalence(0.0, 1.0, 0.3), 4)
    0.9087
    """
    low, high = (-margin - difference) / error, (margin - difference) / error
    if np.isinf(df):
        return max(float(special.ndtr(high - _normal(alpha, 1)) - special.ndtr(low + _normal(alpha, 1))), 0.0)
    critical = special.stdtrit(df, 1 - alpha)
    most = margin / error / critical  # a standard deviation beyond it leaves no room between the two tests
    nodes, weights = np.polynomial.legendre.leggauss(200)
    top = special.gammainc(df / 2, df * most**2 / 2)
    spread = np.sqrt(2 * special.gammaincinv(df / 2, top * (nodes + 1) / 2) / df)
    inside = special.ndtr(high - critical * spread) - special.ndtr(low + critical * spread)
    return float(top / 2 * weights @ np.maximum(inside, 0))


def power_of_difference(share_a, share_b, units, alpha=0.05, *, sides=2, **unit):
    """Chance to see that two shares differ with that many units an arm; normal, shapes broadcast.

    >>> float(power_of_difference(0.60, 0.66, 171, seeds=8, rho=0.05).round(3))
    0.8
    """
    total = share_variance(share_a, **unit) + share_variance(share_b, **unit)
    distance = np.abs(np.asarray(share_a, float) - share_b) / np.sqrt(total / units)
    return special.ndtr(distance - _normal(alpha, sides))


def smallest_difference(share, units, power=0.8, alpha=0.05, *, up=True, sides=2, **unit):
    """The smallest difference from `share` that so many units an arm can see, upwards or downwards; nan: none.

    >>> float(round(smallest_difference(0.60, 16, seeds=8, rho=0.05), 3))
    0.184
    """
    share, room = float(_share(share, "share")), (1 - float(share) if up else float(share))
    sign = 1 if up else -1

    def short(difference):
        return power_of_difference(share + sign * difference, share, units, alpha, sides=sides, **unit) - power

    _beta(power)
    if short(room) < 0:
        return np.nan
    return optimize.brentq(short, 1e-9, room, xtol=1e-12)


def units_for_shares(share_a, share_b, power=0.8, alpha=0.05, *, by="pooled"):
    """Independent seeds an arm for the plain test of two shares: the variance pooled under the null, or arcsine.

    by : "pooled", (z_a sqrt(2 p q) + z_b sqrt(p1 q1 + p2 q2))^2 / d^2, or "arcsine", 2 ((z_a + z_b) / h)^2.
    Source: Fleiss 1981, ch. 3; Cohen 1988, Statistical Power Analysis, ch. 6.

    >>> [float(units_for_shares(0.5, 0.75, 0.9, by=way).round(3)) for way in ("pooled", "arcsine")]
    [76.707, 76.653]
    """
    a, b, z, zb = _share(share_a, "share_a"), _share(share_b, "share_b"), _normal(alpha, 2), _beta(power)
    if by == "arcsine":
        return 2 * ((z + zb) / (2 * np.arcsin(np.sqrt(a)) - 2 * np.arcsin(np.sqrt(b)))) ** 2
    mean = (a + b) / 2
    return (z * np.sqrt(2 * mean * (1 - mean)) + zb * np.sqrt(a * (1 - a) + b * (1 - b))) ** 2 / (a - b) ** 2


def power_of_shares(share_a, share_b, seeds, alpha=0.05):
    """Chance to see a difference of two shares with independent seeds, the variance pooled under the null.

    >>> float(power_of_shares(0.5, 0.75, 50).round(4))
    0.7402
    """
    a, b = _share(share_a, "share_a"), _share(share_b, "share_b")
    mean, own = (a + b) / 2, a * (1 - a) + b * (1 - b)
    return special.ndtr((np.sqrt(seeds) * abs(a - b) - _normal(alpha, 2) * np.sqrt(2 * mean * (1 - mean))) / np.sqrt(own))


def power_of_means(difference, sd, units, alpha=0.05, *, sides=2):
    """Chance that a t test of two means with `units` an arm sees `difference`; noncentral t, units need not be whole.

    The far tail is left out, as it is where power is of interest. Source: Cohen 1988, ch. 2.

    >>> float(power_of_means(1, 1, 20).round(4))
    0.869
    """
    df = 2 * (np.asarray(units, float) - 1)
    critical = special.stdtrit(df, 1 - alpha / sides)
    return 1 - special.nctdtr(df, np.abs(difference) / (sd * np.sqrt(2 / np.asarray(units, float))), critical)


def units_for_means(difference, sd, power=0.8, alpha=0.05, *, sides=2):
    """Units an arm for a t test of two means. inf where there is no difference.

    >>> round(units_for_means(1, 1, 0.9), 3)
    22.021
    """
    _above(sd, "sd")
    return _least(lambda n: float(power_of_means(difference, sd, n, alpha, sides=sides)), power, difference != 0)


def units_for_ratio(ratio, log_sd, power=0.8, alpha=0.05, *, sides=2):
    """Units (batches) an arm to see that a time differs by a ratio, as in 1.2 for a fifth later.

    log_sd : standard deviation of the unit's log time, near its coefficient of variation. A t test on logs.
    Source: Cohen 1988, ch. 2, on the log scale (common practice, no source).
    """
    return units_for_means(np.log(_above(ratio, "ratio")), log_sd, power, alpha, sides=sides)


def units_for_means_equivalence(difference, sd, margin, power=0.8, alpha=0.05):
    """Units an arm to show that two means differ by less than `margin`: exact two one-sided t tests.

    On logs for a ratio (difference log r, margin log m). inf where the difference reaches the margin.
    Source: Phillips 1990, J. Pharmacokinet. Biopharm. 18:137.
    """
    margin = float(_above(margin, "margin"))

    def chance(units):
        return power_of_equivalence(difference, margin, sd * np.sqrt(2 / units), 2 * (units - 1), alpha)

    return _least(chance, power, abs(difference) < margin)


def power_of_anova(noncentrality, df, df_error, alpha=0.05):
    """Chance that an F test rejects; noncentral F.  noncentrality : lambda.  df, df_error : of the two mean squares."""
    return 1 - special.ncfdtr(df, df_error, noncentrality, special.fdtri(df, df_error, 1 - alpha))


def power_of_blocks(effects, sd, blocks, alpha=0.05):
    """Chance to see that treatments differ in complete blocks: lambda = b sum tau^2 / s^2 on (t - 1), (t - 1)(b - 1).

    effects : (t,) expected means, of any common level.  sd : of a plot within its block.
    Source: Cochran & Cox 1957, Experimental Designs, ch. 2 (noncentral F).

    >>> float(power_of_blocks([0, 0, 0, 10], 6, 4).round(4))
    0.4766
    """
    effects = np.asarray(effects, float)
    noncentrality = blocks * np.sum((effects - effects.mean()) ** 2) / sd**2
    return power_of_anova(noncentrality, effects.size - 1, (effects.size - 1) * (blocks - 1), alpha)


def events_for_hazard(ratio, power=0.8, alpha=0.05, *, share_a=0.5, margin=1.0, sides=2):
    """Deaths in both arms together to see a hazard ratio: (z_a + z_b)^2 / (s (1 - s) (log ratio - log margin)^2).

    share_a : s, the share of plants in arm a.  margin : hazard ratio to show it to lie below (no worse), 1: no margin.
    Source: Schoenfeld 1983, Biometrics 39:499.

    >>> float(events_for_hazard(2.0).round(1))
    65.3
    """
    distance = np.abs(np.log(_above(ratio, "ratio")) - np.log(_above(margin, "margin")))
    return _units(_normal(alpha, sides) + _beta(power), 1 / (share_a * (1 - share_a)), distance)


def plants_for_hazard(survival_b, ratio, power=0.8, alpha=0.05, *, seeds=1, rho=0.0, **more):
    """Units (plots of `seeds` plants) an arm to see a hazard ratio by the time at which `survival_b` of b still stand.

    Survival of a is survival_b ^ ratio (proportional hazards); deaths as `events_for_hazard`, times DE / m.
    Source: Schoenfeld 1983, Biometrics 39:499; design effect: Kish 1965.
    """
    deaths = 1 - (_share(survival_b, "survival_b") + survival_b**ratio) / 2
    return events_for_hazard(ratio, power, alpha, **more) / deaths / 2 * design_effect(seeds, rho) / seeds


def _units(quantiles, variance, distance):
    with np.errstate(divide="ignore"):
        return quantiles**2 * variance / np.asarray(distance, float) ** 2


def _least(chance, power, possible):
    """The number of units at which `chance` reaches `power`; two at least, so that there is a spread to see."""
    _beta(power)
    if not possible:
        return np.inf
    low, high = 1.0 + 1e-3, 4.0
    if chance(2.0) >= power:
        return 2.0
    while chance(high) < power:
        low, high = high, high * 2
        if high > MOST_UNITS:
            return np.inf
    return optimize.brentq(lambda n: chance(n) - power, max(low, 2.0), high, xtol=1e-9)


def _normal(alpha, sides):
    if not 0 < alpha < 1:
        msg = f"alpha is {alpha}; allowed is above 0 and below 1, as in 0.05."
        raise UnfitValue(msg)
    return special.ndtri(1 - alpha / sides)


def _beta(power):
    if not 0 < power < 1:
        msg = f"power is {power}; allowed is above 0 and below 1, as in 0.8."
        raise UnfitValue(msg)
    return special.ndtri(power)


def _share(value, name):
    value = np.asarray(value, float)
    if not np.all((value >= 0) & (value <= 1)):
        msg = f"{name} is {np.atleast_1d(value)[0]:g}; allowed is 0 to 1, as in 0.75 for 75 %."
        raise UnfitValue(msg)
    return value


def _above(value, name):
    value = np.asarray(value, float)
    if not np.all(value > 0):
        msg = f"{name} is {np.atleast_1d(value)[0]:g}; allowed is a number above 0."
        raise UnfitValue(msg)
    return value
