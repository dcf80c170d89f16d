"""How long seed keeps: viability against months in store, half-lives, and those of treated seed against bare."""

from dataclasses import replace

import numpy as np

from palea.calc.germination import ageing
from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.stress_terms import HALF_LIFE, UNITS
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import declared, value_means
from palea.calc.terms import Denominator, Rung
from palea.errors import UnfitValue

TEXT = ("taxon", "treatment", "store", "batch", "unit")
FEWEST_LATER = 2
NO_CLIMATE = "How warm and how moist the seed was kept is not recorded for {}: without both a half-life says nothing."
NO_START = "{} has no dishes of month 0, before storage, which are its control."
FEW_MONTHS = "{} was looked at after {} time{} in store; two at least are needed to see a line."
FEW_AT_FIRST = "Fewer than half were viable before storage, so there is no time until half are."
NOT_FALLING = "No fall of viability was shown in this store, so there is no upper end to the half-life."
FAR = "The half-life lies beyond the {:g} months that were looked at: it rests on the line going on as it began."
REMEDY = "Test viability before storage and after two times in it or more, and record temperature and moisture of the store."
ASSUMPTIONS = (
    "The probit of viability falls along a straight line with the months, from one start for all stores of a treatment.",
    "Temperature and moisture of a store stayed as they are recorded.",
)


def storage(viability, asked, confidence=0.95, denominator=Denominator.FILLED):
    """Half-life of each treatment in each store, and declared ratios of half-lives -> Effects, or Refusal.

    viability : frame, one row a dish: taxon, treatment, store (environment id; month 0: any or blank), months,
    temperature_c, moisture_pct (of the seed, or relative humidity of the store: the same for all; not needed at month
    0), batch, unit, k (alive: germinated or still waiting), n (seeds).
    asked : declared contrasts; those on "half-life in storage" are judged, margin a ratio above 1; every other declared
    pair is shown without a verdict.
    Probit of viability against months, a slope a store and one start a treatment, maximum likelihood of counts; covariance
    times Pearson's X2 / df (not below 1) and t on the residual dishes. Half-life: months until half is viable, interval
    by Fieller; without an upper end where no fall is shown. Ratio a to b, on the log scale: between the batches' own
    half-lives (t) where both sides have two or more, else from all dishes by the delta method; not judged where a side
    is not shown to fall.
    Refusal where temperature or moisture of a store is missing throughout, or no treatment has a month 0 and two later
    times; single treatments without are not judged, with the reason.
    Raises UnfitValue for k outside 0 to n or negative months.
    Source: Ellis & Roberts 1980, Ann. Bot. 45:13-30; Finney 1971, Probit Analysis, ch. 4; Fieller 1954, J. R. Stat. Soc.
    B 16:175-185.
    """
    dishes = _checked(viability)
    lines = {key: _line(key[1], part) for key, part in _parts(dishes)}
    fitted = {key: line for key, line in lines.items() if not isinstance(line, str)}
    if not fitted:
        reason = next(iter(lines.values()), "No dish has a count of living seed.")
        return Refusal(quantity=HALF_LIFE, missing=reason, remedy=REMEDY)
    parts = dict(_parts(dishes))
    groups = [e for key, line in lines.items() for e in _groups(key, line, parts[key], confidence, str(denominator))]
    return Effects(
        units=dishes.rename(columns={"store": "environment"}).assign(
            quantity=HALF_LIFE, denominator=str(denominator), value=100 * dishes["k"] / dishes["n"]),
        groups=tuple(groups), effects=tuple(_effects(fitted, parts, asked, confidence)), assumptions=ASSUMPTIONS,
        warnings=tuple(_warnings(parts)),
        method="Probit of viability against months in store, one start a treatment and one slope a store, maximum "
        "likelihood; covariance times Pearson's X2 over its degrees of freedom (not below 1), t quantiles. Half-life is "
        "the time until half is viable, Fieller's interval; ratios on the log scale, each by itself: between "
        "half-lives of batches where both sides have two or more, else from all dishes by the delta method.",
    )  # fmt: skip


def _checked(viability):
    text = {name: viability[name].astype("string").fillna("").to_numpy(str) for name in TEXT}
    numbers = {name: viability[name].to_numpy(float, na_value=np.nan)
               for name in ("months", "temperature_c", "moisture_pct", "k", "n")}
    dishes = viability.assign(**text, **numbers)[[*TEXT, *numbers]]
    dishes = dishes[dishes["k"].notna() & (dishes["n"] > 0) & dishes["months"].notna()].reset_index(drop=True)
    wrong = (dishes["k"] < 0) | (dishes["k"] > dishes["n"])
    if wrong.any():
        bad = dishes[wrong].iloc[0]
        msg = f"k of {bad['unit']} is {bad['k']:g} and n is {bad['n']:g}; k may be 0 to n. Correct the counts of this dish."
        raise UnfitValue(msg)
    return dishes


def _parts(dishes):
    return [(tuple(map(str, key)), part) for key, part in dishes.groupby(["taxon", "treatment"], sort=False)]


def _line(treatment, part):
    """Ageing, or a sentence that says what is missing."""
    later = part[part["months"] > 0]
    bare = later[later["temperature_c"].isna() | later["moisture_pct"].isna()]
    if len(bare):
        return NO_CLIMATE.format(", ".join(dict.fromkeys(bare["store"])) or treatment)
    if not (part["months"] == 0).any():
        return NO_START.format(treatment)
    times = later["months"].nunique()
    if times < FEWEST_LATER:
        return FEW_MONTHS.format(treatment, times, "" if times == 1 else "s")
    try:
        return ageing.fit(*(part[name].to_numpy() for name in ("months", "store", "k", "n")))
    except UnfitValue as error:
        return str(error)


def _groups(key, line, part, confidence, denominator):
    taxon, treatment = key
    if isinstance(line, str):
        yield Estimate(HALF_LIFE, {"taxon": taxon, "environment": "", "treatment": treatment}, np.nan,
                       unit=UNITS[HALF_LIFE], verdict="not judged", reason=line, **_behind(part))
        return
    for store in line.stores:
        here = part[(part["store"] == store) | (part["months"] == 0)]
        of = {"taxon": taxon, "environment": store, "treatment": treatment}
        told = _climate(part[part["store"] == store])
        for quantity, (value, *ends) in line.values(store, confidence).items():
            known = [end if np.isfinite(end) else np.nan for end in ends]
            share = UNITS[quantity] == "%"
            yield Estimate(
                quantity, of, value if np.isfinite(value) else np.nan, *known, confidence=confidence,
                unit=UNITS[quantity], denominator=denominator if share else "", df=float(line.df), rung=str(Rung.DISH),
                reason=" ".join(filter(None, (told, _doubt(line, store, here, quantity, value, ends)))), **_behind(here),
            )  # fmt: skip


def _climate(stored):
    warm, moist = (stored[name].mean() for name in ("temperature_c", "moisture_pct"))
    return f"Kept at {warm:.3g} °C and {moist:.3g} %."


def _doubt(line, store, part, quantity, value, ends):
    """What to say beside a half-life."""
    if quantity != HALF_LIFE:
        return ""
    if line.start <= 0:
        return FEW_AT_FIRST
    if not line.falls(store):
        least = f" It is at least {ends[0]:.3g} months." if ends[0] > 0 else ""
        return NOT_FALLING + least
    last = part["months"].max()
    return FAR.format(last) if value > last else ""


def _behind(part):
    return {"n_batches": part["batch"].nunique(), "n_units": len(part), "n_seeds": round(part["n"].sum())}


def _effects(fitted, parts, asked, confidence):
    """Yield, for each declared pair and each store that both were in, the ratio of half-lives, once."""
    once = {(r.taxon, r.a, r.b): r for r in declared.about(asked, (HALF_LIFE,), beside=(HALF_LIFE,))[::-1]}
    for row in list(once.values())[::-1]:
        a, b = ((row.taxon, side) for side in (row.a, row.b))
        if a in fitted and b in fitted:
            for store in fitted[b].stores:
                if store in fitted[a].stores:
                    sides, of_sides = (fitted[a], fitted[b]), (parts[a], parts[b])
                    yield _ratio(replace(row, environment=store), sides, of_sides, store, confidence)


def _ratio(row, sides, parts, store, confidence):
    """The ratio in one store: between batches where both sides have two or more that fall, else from all dishes."""
    (a, b), behind = sides, _both(*parts)
    low = [name for name, line in ((row.a, a), (row.b, b)) if line.start <= 0]
    flat = [name for name, line in ((row.a, a), (row.b, b)) if not line.falls(store, declared.OUTER)]
    if row.refused or flat or low:
        flatly = f"No fall of viability was shown for {' and '.join(flat)} in this store, so no half-lives can be compared."
        why = FEW_AT_FIRST if low else flatly
        return declared.not_judged(row, why, confidence, UNITS[HALF_LIFE], ratio=True, behind=behind)
    means = _between_batches(row, parts, store)
    if means is not None:
        posed = [(row, means, behind | {"rung": str(Rung.BATCH)}, "")]
        return declared.by_means(posed, confidence, UNITS[HALF_LIFE], ratio=True)[0]
    (log_a, variance_a), (log_b, variance_b) = (line.log_half_life(store) for line in (a, b))
    error = np.sqrt(variance_a + variance_b)

    def interval(level):
        half = max(a.critical(level), b.critical(level)) * error
        return np.exp(log_a - log_b + half * np.array([-1.0, 1.0]))

    return declared.by_intervals(
        row, np.exp(log_a - log_b), interval, confidence, UNITS[HALF_LIFE], behind, ratio=True,
        remark=ONE_BATCH if 1 in (part["batch"].nunique() for part in parts) else "",
    )  # fmt: skip


def _both(a, b):
    a, b = _behind(a), _behind(b)
    return {name: a[name] + b[name] for name in a} | {"rung": str(Rung.DISH)}


def _between_batches(row, parts, store):
    """Means of the logs of the batches' own half-lives; None where a side has fewer than two or one has none."""
    logs = [ageing.logs_by_batch(part, store) for part in parts]
    if min(map(len, logs)) < 2 or not np.isfinite(np.concatenate(logs)).all():
        return None
    return value_means.of_values(np.repeat([row.a, row.b], [len(each) for each in logs]), np.concatenate(logs))


def _warnings(parts):
    alone = sorted(key[1] for key, part in parts.items() if part["batch"].nunique() == 1)
    if alone:
        yield f"{ONE_BATCH} ({', '.join(alone)}.)"
