"""Rows that are never thinned: what stands per 100 seeds over time, and what that can say about survival.

Standing plants are the sum of coming and going. Where new seedlings were counted at each visit the deaths follow exactly;
where only standing plants were, a fall is at least that many deaths, and a rise hides them.
"""

from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import pandas as pd

from palea.calc.field.answers import companions, effects, groups
from palea.calc.field.plots import behind_treatments, labelled, places, stratum, units_of
from palea.calc.field.questions import NOTHING, POINTS, RATIO, Place, read
from palea.calc.field.tested import assumed
from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal
from palea.calc.stats import quasi_poisson, share_means
from palea.calc.stats.linear_means import LinearMeans
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Denominator, Rung
from palea.errors import UnfitValue

ESTABLISHED, SURVIVING = "established", "surviving"
STANDING, CROWDING = "standing at equal density", "crowding exponent"
LABELS = ["taxon", "treatment", "environment", "batch", "unit"]
NUMBERS = ["time", "standing", "new", "sown", "live"]
VIABLE, SOWN, EMERGED = (str(word) for word in (Denominator.VIABLE, Denominator.SOWN, Denominator.EMERGED))
NO_ROWS = ("No row was counted on the planned day.", "Enter how many plants stand in each row; write 0 where none does.")
BOUNDS = (
    "Bounds, not an interval: only standing plants were counted, so deaths that new seedlings made up for are hidden. Count "
    "new seedlings at each visit to know it."
)
ONLY_BOUNDS = (
    "Survival can only be bounded, because new seedlings were not counted at every visit: compare what is established "
    "instead, or count new seedlings."
)
NO_DENSITY = "No earlier day was named whose standing plants are the density, or no row that day had any."
METHOD = (
    "Established: plants standing on the planned day, of live seeds sown, unit of replication the row; one spread for all "
    "treatments of a species and site, blocks (in a split plot: main plots) additive, score intervals, t quantiles. Levels "
    "of the main plots are compared between main plots."
)
CROWDED = (
    " At equal density: log-linear model of the plants standing on the planned day with the log of those standing on day "
    "{since:g} as covariate, quasi-Poisson, one dispersion a species and site; effects are ratios of a to b. The exponent "
    "says how crowding told: 1, every plant lived alike; below 1, plants in full rows died more."
)
ASSUMPTIONS = ("Rows were laid out at random within their blocks or main plots.",
               "Rows vary alike in all treatments of a species and site, given the level of the share.")


class Lives(NamedTuple):
    """What visits say about the plants of rows; arrays have the rows' shape.

    emerged : plants that came up by the last visit, at least.  died : deaths, at least.  exact : whether both are so.
    lower, upper : share of those that came up which still stand, at least and at most; equal where exact.
    """

    emerged: np.ndarray
    died: np.ndarray
    exact: np.ndarray
    lower: np.ndarray
    upper: np.ndarray


def lives(standing, new=None, live=np.inf):
    """Survival of plants in rows from what stood at each visit -> Lives.

    standing : (..., visits) plants, in order of time.  new : (..., visits) seedlings new since the visit before; nan, or
    None altogether: not counted. At the first visit all that stands is new.  live : (...) live seeds sown, the most that
    can have come up.
    A rise beyond the new seedlings counted must be seedlings that were missed, and makes the answer a bound. Plants that
    came and died between two visits are in no count.
    Raises UnfitValue for a missing or negative number standing, or fewer live seeds than plants.
    Source: derived by hand: standing = standing before + new - died.

    >>> found = lives([8, 9, 6], [8, 2, 0])
    >>> float(found.died), round(float(found.upper), 2), bool(found.exact)
    (4.0, 0.6, True)
    >>> found = lives([8, 9, 6], live=20)  # one new at least, three dead at least
    >>> float(found.died), round(float(found.lower), 2), round(float(found.upper), 2)
    (3.0, 0.3, 0.67)
    """
    standing = np.asarray(standing, float)
    if not (standing >= 0).all():
        msg = "A number standing is missing or below 0. Leave out the visit at which a row was not counted."
        raise UnfitValue(msg)
    rise = np.diff(standing, axis=-1, prepend=0.0)
    known = np.full(standing.shape, np.nan) if new is None else np.array(np.broadcast_to(new, standing.shape), float)
    known[..., 0] = standing[..., 0]
    came = np.fmax(known, np.maximum(rise, 0))
    emerged = came.sum(axis=-1)
    exact = (known == came).all(axis=-1)
    last, most = standing[..., -1], np.where(exact, emerged, live)
    if (most < emerged).any():
        msg = f"At least {emerged.max():g} plants came up in a row with {np.min(live):g} live seeds; correct either."
        raise UnfitValue(msg)
    with np.errstate(divide="ignore", invalid="ignore"):
        lower, upper = np.where(np.isinf(most), 0.0, last / most), last / emerged
    return Lives(emerged, (came - rise).sum(axis=-1), exact, lower, upper)


def compare(
    visits, asked, at=np.nan, since=np.nan, denominator=None, confidence=0.95, *, pooled=False, means=share_means, alone=False
):
    """Established on the planned day with verdicts, survival or its bounds, and standing at equal density -> Effects.

    visits : one row a row (plot) and visit: taxon, treatment, environment, batch, unit, time [d], standing, new (missing:
    not counted), sown and live (seeds of the whole row; live = viable); and where there are such block, main_plot, level,
    tested and tested_error (of `live`: see field.tested).
    asked : declared contrasts on "established" or "surviving" (points) and "standing at equal density" (a ratio); a and b
    may be levels of the main plots, as fenced and open; `across` as in questions.read.
    at : the planned day; nan: the last visit.  since : day whose standing plants are the density; nan: no such model.
    denominator : to judge established on in place of the declared one.  pooled : a mean over the sites was declared.
    means, alone : the calculation of means of shares, and whether the primaries of a quantity are adjusted for by themselves;
    earlier versions have others.
    Survival is of the plants that came up, exact where new seedlings were counted at every visit; else bounds, without a
    verdict. Refusal where no row was counted on the planned day. Raises UnfitValue as `lives` does.
    Source: McCullagh & Nelder 1989, ch. 4.5 and 6.2; Newcombe 1998; two error strata: Cochran & Cox 1957, ch. 7.
    """
    rows = labelled(visits, LABELS, NUMBERS).dropna(subset="standing").sort_values("time", kind="stable")
    day = rows["time"].max() if np.isnan(at) else at
    rows = rows[rows["time"] <= day]
    last = rows[rows["time"] == day].reset_index(drop=True)
    if last.empty:
        return Refusal(quantity=ESTABLISHED, missing=NO_ROWS[0], remedy=NO_ROWS[1])
    shares = _shares(last)
    found = places(shares, means=means)
    rows_of = {name: asked[asked["quantity"].eq(name)] if alone else asked for name in (ESTABLISHED, SURVIVING, STANDING)}
    questions = read(rows_of[ESTABLISHED], found, {ESTABLISHED}, denominator)
    came = _came(rows, last)
    living = places(came.query("exact").assign(n=lambda c: c["emerged"], k=lambda c: c["standing"]).query("n > 0"), means=means)
    estimates = [
        *groups(found, POINTS, confidence), *_survival(came, living, confidence),
    ]
    told = effects(living, read(rows_of[SURVIVING], living, {SURVIVING}), POINTS, confidence, pooled=pooled, absent=ONLY_BOUNDS)
    crowded = _crowded(rows, last, since) if np.isfinite(since) else {}
    dense = read(rows_of[STANDING], crowded, {STANDING})
    ratios = effects(crowded, dense, RATIO, confidence, pooled=pooled, absent=NO_DENSITY)
    answers = (
        *effects(found, questions, POINTS, confidence, pooled=pooled), *companions(found, questions, POINTS, confidence, SOWN),
        *told, *ratios,
    )
    exponents = [_exponent(key, place, confidence) for key, place in crowded.items()]
    return Effects(
        units=units_of(shares), groups=tuple(replace(e, time=float(day)) for e in (*estimates, *exponents)),
        effects=tuple(replace(e, time=float(day)) for e in answers), assumptions=(*ASSUMPTIONS, *assumed(shares)),
        method=METHOD + (CROWDED.format(since=since) if crowded else ""), warnings=tuple(_warnings(came)),
    )


def _shares(last):
    """One row a row and denominator: k standing of n."""
    counted = last.assign(tested="", tested_error=0.0)
    both = [rows.assign(denominator=name, n=last[column]) for rows, name, column in (
        (last, VIABLE, "live"), (counted, SOWN, "sown"))]  # fmt: skip
    shares = pd.concat(both, ignore_index=True).assign(quantity=ESTABLISHED, k=lambda s: s["standing"])
    return shares[shares["n"] > 0].reset_index(drop=True)


def _came(rows, last):
    """The rows of `last` with what is known of the lives in them."""
    found = []
    for unit, part in rows[rows["unit"].isin(last["unit"])].groupby("unit", sort=False):
        live = part["live"].iloc[-1]
        told = lives(part["standing"].to_numpy(), part["new"].to_numpy(), live if live > 0 else np.inf)
        hidden = (part["standing"].diff() > part["new"].where(part["new"].notna(), np.inf)).any()
        found.append({"unit": unit, "hidden": hidden} | {name: value.item() for name, value in told._asdict().items()})
    both = last.merge(pd.DataFrame(found), on="unit")
    return both.assign(quantity=SURVIVING, denominator=EMERGED, tested="", tested_error=0.0)


def _survival(came, living, confidence):
    """Survival of each treatment: with an interval where all its rows are exact, else bounds."""
    for (taxon, environment, treatment), part in came.groupby(["taxon", "environment", "treatment"], sort=False):
        of = {"taxon": taxon, "environment": environment, "treatment": treatment}
        key = (taxon, environment, SURVIVING, EMERGED)
        if part["exact"].all() and key in living and treatment in living[key].behind:
            alone = replace(living[key], behind={treatment: living[key].behind[treatment]})
            yield from groups({key: alone}, POINTS, confidence)
        else:
            yield _bounds(of, part)


def _bounds(of, part):
    """Of all rows together: at least what stands of all that can have come up, at most of those that must have."""
    standing, least = part["standing"].sum(), part["emerged"].sum()
    most = np.where(part["exact"], part["emerged"], part["live"]).sum()
    reason = BOUNDS if least else NOTHING.format(of["treatment"])
    lower = 100 * standing / most if most > 0 else np.nan
    return Estimate(
        SURVIVING, MappingProxyType(of), np.nan, float(lower), float(100 * standing / least) if least else np.nan,
        denominator=EMERGED, rung=str(Rung.PLOT), n_units=len(part), n_batches=part["batch"].nunique(),
        n_seeds=_whole(least), reason=reason,
    )  # fmt: skip


def _crowded(rows, last, since):
    """{key: Place} of plants standing on the planned day at equal density on day `since`."""
    early = rows[rows["time"] == since].set_index("unit")["standing"]
    both = last.assign(early=last["unit"].map(early))
    both = both[both["early"] > 0]  # where nothing stood there is no density, and nothing that could live on
    found = {}
    for key, part in both.groupby(["taxon", "environment"], sort=False):
        place = _place((*key, STANDING, ""), part.reset_index(drop=True))
        if place is not None:
            found[place.key] = place
    return found


def _place(key, rows):
    names, at = np.unique(rows["treatment"], return_inverse=True)
    log = np.log(rows["early"].to_numpy())
    columns = [np.eye(names.size)[at], (log - log.mean())[:, None], *_blocks(rows)]
    for used in (columns, columns[:2]):
        design = np.hstack(used)
        if np.linalg.matrix_rank(design) == design.shape[1] < len(rows):
            break
    try:
        fitted = quasi_poisson.fit(design, rows["standing"])
    except UnfitValue:
        return None
    if fitted.df_residual < 1:
        return None
    labels = (*map(str, names), CROWDING)
    inner = slice(len(labels))
    means = LinearMeans(labels, fitted.coefficients[inner], fitted.covariance[inner, inner], float(fitted.df_residual),
                        "quasi-Poisson", fitted.dispersion, len(used) > 2)
    return Place(key, ((Rung.PLOT, means),), behind_treatments(rows, rows["early"]))


def _blocks(rows):
    if not stratum(rows):
        return []
    columns = np.eye(len(rows[stratum(rows)].unique()))[pd.factorize(rows[stratum(rows)])[0]]
    return [(columns - columns.mean(axis=0))[:, 1:]]


def _exponent(key, place, confidence):
    means = place.rungs[0][1]
    ends = means.interval(CROWDING, t_quantile(confidence, means.df))
    of = MappingProxyType({"taxon": key[0], "environment": key[1], "treatment": ""})
    return Estimate(CROWDING, of, *ends, unit="1", confidence=confidence, df=means.df, rung=str(Rung.PLOT),
                    **place.stands(*place.behind))


def curve(visits, confidence=0.95, denominator=VIABLE):
    """Standing per 100 live seeds over time, as lines with a band -> Curves, or Refusal where nothing was counted.

    visits : as in `compare`.  denominator : "viable" (of live seeds) or "sown units".
    Band: each visit by itself, between rows; nan for a single row. `units` holds each row's own line.
    Source: as `compare`.
    """
    rows = labelled(visits, LABELS, NUMBERS).dropna(subset="standing")
    rows = rows.assign(n=rows["live" if denominator == VIABLE else "sown"], k=rows["standing"], quantity=ESTABLISHED,
                       denominator=denominator)
    rows = rows[rows["n"] > 0]
    if rows.empty:
        return Refusal(quantity=ESTABLISHED, missing=NO_ROWS[0], remedy=NO_ROWS[1])
    lines = []
    for (taxon, environment), part in rows.groupby(["taxon", "environment"], sort=False):
        bands = {time: _band(here, confidence) for time, here in part.groupby("time")}
        for treatment, own in part.groupby("treatment", sort=False):
            points = [(time, *band[treatment]) for time, band in bands.items() if treatment in band]
            of = {"taxon": taxon, "environment": environment, "treatment": treatment}
            seeds = own.drop_duplicates("unit")["n"].sum()
            lines.append(Curve(of, *np.array(points).T, shape="line", n_batches=own["batch"].nunique(),
                               n_units=own["unit"].nunique(), n_seeds=_whole(seeds)))
    own = rows[[*LABELS, "time", "quantity", "denominator"]].assign(value=100 * rows["k"] / rows["n"])
    return Curves(
        units=own.reset_index(drop=True), quantity=ESTABLISHED, denominator=denominator, curves=tuple(lines),
        estimates=tuple(_at_end(line, confidence, denominator) for line in lines), method=METHOD, assumptions=ASSUMPTIONS,
    )


def _whole(seeds):
    """Live seeds as a whole number; a product that ends on a half is cut first, so that it is rounded one way everywhere."""
    return round(round(seeds, 6))


def _band(rows, confidence):
    """{treatment: (value, lower, upper)} in % at one visit."""
    by = rows.groupby("treatment")
    plain = (100 * by["k"].sum() / by["n"].sum()).to_dict()
    means = share_means.of_counts(rows["treatment"], rows["k"], rows["n"], beta=False) if len(rows) > len(by) else None
    many = by["unit"].nunique().gt(1)
    found = {}
    for name, value in plain.items():
        ends = means.interval(name, t_quantile(confidence, means.df))[1:] if means and many[name] else (np.nan, np.nan)
        found[name] = (value, 100 * ends[0], 100 * ends[1])
    return found


def _at_end(line, confidence, denominator):
    return Estimate(
        ESTABLISHED, line.of, float(line.value[-1]), float(line.lower[-1]), float(line.upper[-1]), confidence=confidence,
        denominator=denominator, time=float(line.time[-1]), rung=str(Rung.PLOT), n_batches=line.n_batches,
        n_units=line.n_units, n_seeds=line.n_seeds,
    )


def _warnings(came):
    rising = came.loc[came["hidden"], "unit"].tolist()
    if rising:
        listed = ", ".join(rising[:5]) + (f" and {len(rising) - 5} more" if len(rising) > 5 else "")
        yield (
            f"More plants stood than before, and fewer new ones were counted, in {len(rising)} rows: {listed}. Late "
            "emergence or a miscount: their survival is a bound."
        )
