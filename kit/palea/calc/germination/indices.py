"""The classical measures of how fast and how evenly a dish germinated, from the new germinants of each visit.

They take a seed as germinated on the day it was counted, so visits far apart make them coarse and late; the curve and
the fitted times of palea.calc.germination.time know that it came up between two visits.
"""

import numpy as np
import pandas as pd

from palea.calc.germination.arms import KEYS, ONE_BATCH
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Rung
from palea.errors import UnfitValue

MEAN, VARIANCE, VARIATION = "mean germination time", "variance of germination time", "variation of germination time"
RATE, VELOCITY, SPEED = "mean germination rate", "velocity coefficient", "germination speed index"
UNCERTAINTY, SYNCHRONY, SPREAD = "germination uncertainty", "germination synchrony", "spread t10 to t90"
UNITS = {
    MEAN: "d", VARIANCE: "d2", VARIATION: "%", RATE: "/d", VELOCITY: "%/d", SPEED: "/d", "t10": "d", "t50": "d",
    "t90": "d", SPREAD: "d", UNCERTAINTY: "bit", SYNCHRONY: "1",
}
EVENNESS = (UNCERTAINTY, SYNCHRONY, SPREAD)
VARIANTS = ("farooq", "coolbear")


def measures(day, count):
    """Every measure of each dish: {quantity: (dishes,)}, units as in UNITS.

    day : (dishes, visits) days since first wetting, rising along a row; nan where a dish had no such visit.
    count : (dishes, visits) new germinants n_i, >= 0; nan as if there had been no visit.
    With N = sum n_i, f_i = n_i / N: mean t = sum n_i t_i / N; variance s2 = sum n_i (t_i - t)^2 / (N - 1); variation
    100 s / t; rate 1 / t; velocity 100 N / sum n_i t_i; uncertainty - sum f_i log2 f_i; synchrony sum C(n_i, 2) /
    C(N, 2); speed sum n_i / t_i; t10, t90 and spread as `time_to` (farooq), t50 as `time_to` (coolbear).
    nan throughout where N = 0; variance, variation and synchrony also where N = 1; speed where a seed was counted on
    day 0. All on one day: variance and uncertainty 0, synchrony 1.
    Raises UnfitValue for a negative count, or days that do not rise.
    Source: Ranal & Santana 2006, Rev. Bras. Bot. 29:1-11; speed: Maguire 1962, Crop Sci. 2:176-177; velocity:
    Kotowski 1926, Proc. Am. Soc. Hortic. Sci. 23:176-184 (formulas from memory, checked by computation).
    """
    day, count = _checked(day, count)
    with np.errstate(divide="ignore", invalid="ignore"):
        total = _none_is_nan(count.sum(axis=1))
        pairs = _none_is_nan(total * (total - 1) / 2)
        mean = (count * day).sum(axis=1) / total
        variance = (count * (day - mean[:, None]) ** 2).sum(axis=1) / _none_is_nan(total - 1)
        share = count / total[:, None]
        bits = np.where(share > 0, share * np.log2(np.where(share > 0, share, 1)), 0 * share).sum(axis=1)
        speed = np.where(count > 0, count / day, 0).sum(axis=1) + 0 * total
    found = {
        MEAN: mean, VARIANCE: variance, VARIATION: 100 * np.sqrt(variance) / mean, RATE: 1 / mean, VELOCITY: 100 / mean,
        UNCERTAINTY: 0 - bits, SYNCHRONY: (count * (count - 1) / 2).sum(axis=1) / pairs, SPEED: speed,
        "t10": time_to(day, count, 0.1), "t50": time_to(day, count, 0.5, "coolbear"), "t90": time_to(day, count, 0.9),
    }
    found[SPREAD] = found["t90"] - found["t10"]
    return {name: np.where(np.isfinite(found[name]), found[name], np.nan) for name in UNITS}


def time_to(day, count, share, variant="farooq", of=None):
    """Day by which a share of the germinants is reached, linear between the visits on either side: (dishes,).

    day, count : as in `measures`.  share : 0 to 1.  of : (dishes,) take the share of these, as of seeds sown, in place
    of N; nan where it is not reached.
    variant : "farooq" aims at share x N; "coolbear" at share x (N + 1), published for the half.
    The visit before the first one is day 0 with nothing germinated. nan where N = 0.
    Source: Farooq et al. 2005, J. Integr. Plant Biol. 47:187-193; Coolbear, Francis & Grierson 1984, J. Exp. Bot.
    35:1609-1617 (from memory).

    >>> time_to([[3, 4, 5, 6]], [[2, 7, 12, 9]], 0.5).round(4)
    array([4.5])
    """
    day, count = _checked(day, count)
    if variant not in VARIANTS:
        msg = f"variant is {variant!r}; allowed are {' and '.join(VARIANTS)}."
        raise UnfitValue(msg)
    total = count.sum(axis=1)
    aim = share * ((total if of is None else np.asarray(of, float)) + (variant == "coolbear"))
    reached = np.cumsum(count, axis=1)
    at = (reached >= aim[:, None] - 1e-9).argmax(axis=1)
    row = np.arange(len(day))
    before = np.where(at > 0, reached[row, at - 1], 0.0)
    since = np.where(at > 0, day[row, at - 1], 0.0)
    new = reached[row, at] - before
    part = np.divide(aim - before, new, out=np.full(len(day), np.nan), where=new > 0)
    return np.where((total > 0) & (reached[row, at] >= aim - 1e-9), since + part * (day[row, at] - since), np.nan)


def _checked(day, count):
    """Both (dishes, visits) without nan: a visit that was not made becomes one that repeats the last day, with none."""
    day, count = np.broadcast_arrays(np.asarray(day, float), np.asarray(count, float))
    made = np.isfinite(day) & np.isfinite(count)
    if (count[made] < 0).any():
        msg = f"A count of new germinants is {count[made].min():g}; allowed is 0 or above."
        raise UnfitValue(msg)
    latest = np.maximum.accumulate(np.where(made, day, -np.inf), axis=1)
    if (made & (day < latest)).any():
        msg = "The days of a dish must rise from visit to visit; sort its visits by day."
        raise UnfitValue(msg)
    return np.where(np.isfinite(latest), latest, 0.0), np.where(made, count, 0.0)


def _none_is_nan(number):
    return np.where(number > 0, number, np.nan)


def indices(newly, confidence=0.95):
    """All classical measures but evenness: mean of each group with its t interval, and each dish.

    newly : frame, one row a dish and visit: taxon, treatment, environment, batch, unit, day [d], count (new germinants,
    0 where there were none; a visit not made has no row or nan).
    Returns Values. With two or more batches the interval is that between batch means (dishes of a batch averaged) on
    batches - 1 degrees of freedom, else between dishes, with the one-batch warning. Dishes in which a measure does not
    exist (nan) are left out of it and stay in `units`. Refusal where no dish has counts by day.
    Source: Ranal & Santana 2006, Rev. Bras. Bot. 29:1-11 (measures); common practice (mean and t interval).
    """
    return of_dishes(newly, confidence, [name for name in UNITS if name not in EVENNESS])


def uniformity(newly, confidence=0.95):
    """How evenly in time: uncertainty in bits and synchrony 0 to 1, and the days from 10 to 90 %; as `indices`.

    Uncertainty depends on how many visits there were: only dishes visited on the same days compare.
    Source: Ranal & Santana 2006, Rev. Bras. Bot. 29:1-11; common practice (mean and t interval).
    """
    return of_dishes(newly, confidence, EVENNESS)


def of_dishes(newly, confidence, wanted):
    """Only the measures that are wanted, in that order; the rest as `indices`.

    Source: as indices.
    """
    if not newly["count"].notna().any():
        return Refusal(quantity=wanted[0], missing="No dish has counts of new germinants by day.",
                       remedy="Enter the counts of each visit; the final share alone has no time in it.")
    units = _by_dish(newly, wanted)
    estimates, alone = _means(units, confidence)
    return Values(
        units=units.drop(columns="sown"), estimates=tuple(estimates),
        method="A seed counts as germinated on the day of the visit that saw it. t10 and t90 aim at a share of N "
        "(Farooq's variant), t50 at half of N + 1 (Coolbear's), linear between visits. Mean of batch means with a t "
        "interval between batches; of dishes where there is one batch.",
        assumptions=("Batch means, or dishes, scatter about the mean of the group like normal errors.",),
        warnings=(f"{ONE_BATCH} ({', '.join(sorted(alone))}.)",) if alone else (),
    )


def _by_dish(newly, wanted):
    """One row a dish and quantity: groups and dishes in the order in which they came, quantities as wanted."""
    sheet = newly.dropna(subset=["count", "day"]).sort_values("day", kind="stable")
    dish = sheet.groupby([*KEYS, "unit"], sort=False, dropna=False)
    row, visit = dish.ngroup().to_numpy(), dish.cumcount().to_numpy()
    day = np.full((row.max() + 1, visit.max() + 1), np.nan)
    count = day.copy()
    day[row, visit], count[row, visit] = sheet["day"].to_numpy(float), sheet["count"].to_numpy(float)
    named = sheet[visit == 0][[*KEYS, "unit", "batch"]].reset_index(drop=True)
    named["sown"] = sheet["sown"].to_numpy(float)[visit == 0] if "sown" in sheet else np.nan
    named["batch"] = named["batch"].fillna("").astype(str)
    found = measures(day, count)
    group = named.groupby(list(KEYS), sort=False, dropna=False).ngroup().to_numpy()
    at, dish = np.repeat(np.arange(len(wanted)), len(named)), np.tile(np.arange(len(named)), len(wanted))
    line = np.lexsort((at, group[dish]))
    at, dish = at[line], dish[line]
    value = np.array([found[name] for name in wanted])[at, dish]
    quantity = pd.Series(list(wanted)).iloc[at].array
    return named.iloc[dish].reset_index(drop=True).assign(quantity=quantity, denominator="", value=value)


def _means(units, confidence):
    """(estimates, treatments of a single batch) of each group and quantity, whose dishes stand together in `units`."""
    number = units.groupby([*KEYS, "quantity"], sort=False, dropna=False).ngroup().to_numpy()
    known = units["value"].notna().to_numpy()
    value, sown = units["value"].to_numpy(float), units["sown"].to_numpy(float)
    of_batch = units[known].groupby([number[known], "batch"], sort=True)["value"].mean()
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    ends = np.append(starts[1:], len(number))
    cut = of_batch.index.get_level_values(0).searchsorted(np.arange(len(starts) + 1))
    batch, of_batch = units["batch"].to_numpy(), of_batch.to_numpy()
    named = units.iloc[starts][[*KEYS, "quantity"]].to_numpy(dtype=object)
    estimates, alone = [], set()
    for n, (*key, quantity) in enumerate(named):
        here = slice(starts[n], ends[n])
        mine = known[here]
        estimates.append(_mean(
            dict(zip(KEYS, map(str, key), strict=True)), quantity, value[here][mine], of_batch[cut[n] : cut[n + 1]],
            np.nansum(sown[here][mine]), confidence,
        ))  # fmt: skip
        alone |= {str(key[KEYS.index("treatment")])} if len(set(batch[here])) == 1 else set()
    return estimates, alone


def _mean(of, quantity, dishes, batches, seeds, confidence):
    """Estimate of one group: between batch means where there are two or more, else between dishes."""
    by_batch = len(batches) > 1
    values = batches if by_batch else dishes
    lower = upper = df = np.nan
    if len(values) > 1:
        df = len(values) - 1.0
        half = t_quantile(confidence, df) * values.std(ddof=1) / np.sqrt(len(values))
        most = 1.0 if quantity == SYNCHRONY else np.inf
        lower, upper = np.clip([values.mean() - half, values.mean() + half], 0, most)  # none of them can be negative
    return Estimate(
        quantity, of, float(values.mean()) if len(values) else np.nan, float(lower), float(upper),
        confidence=confidence, unit=UNITS[quantity], df=df, n_batches=len(batches), n_units=len(dishes),
        n_seeds=int(seeds),
        rung=str(Rung.BATCH if by_batch else Rung.DISH),
        reason="" if len(values) else "In none of these dishes did enough seeds germinate for it.",
    )
