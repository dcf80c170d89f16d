"""Invented results of the size that a real trial gives: three species, 28 arms, 448 dishes, drawn with a fixed seed.

Nothing here is a truth about statistics: the intervals are a plain t on batch means, enough to have something to draw.
"""

import numpy as np
import pandas as pd
import pytest

from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal, Values

# species: {arm: (share of filled units that become normal seedlings, time to half of them in days)}
ARMS = {
    "AV": {
        "T01": (0.37, 7),
        "T02": (0.38, 7),
        "T03": (0.68, 7),
        "T04": (0.68, 7),
        "T05": (0.67, 7.2),
        "T06": (0.66, 7.7),
        "T16": (0.68, 7.2),
    },
    "CC": {
        "T01": (0.64, 5),
        "T02": (0.64, 5),
        "T03": (0.48, 5),
        "T04": (0.48, 5),
        "T05": (0.47, 5.2),
        "T06": (0.46, 6.1),
        "T08": (0.46, 6.8),
        "T09": (0.29, 7.5),
        "T15": (0.50, 4.9),
        "T17": (0.47, 5.2),
    },
    "AM": {
        "T01": (0.56, 5.5),
        "T02": (0.56, 5.5),
        "T03": (0.56, 5.5),
        "T04": (0.55, 5.5),
        "T05": (0.55, 5.7),
        "T06": (0.55, 6.1),
        "T07": (0.55, 16.2),
        "T10": (0.59, 5.4),
        "T11": (0.84, 4.1),
        "T12": (0.55, 5.1),
        "T13": (0.30, 5.1),
    },
}
LABELS = {
    "T01": "in the hull, untouched",
    "T02": "cleaned by hand",
    "T03": "cleaned with the brush machine",
    "T04": "handled sham",
    "T05": "film, blank",
    "T06": "encrusted, blank",
    "T07": "waxy film",
    "T08": "pellet",
    "T09": "contractor's pellet",
    "T10": "film with gibberellic acid, 150 mg/kg",
    "T11": "soaked in gibberellic acid, 400 mg/L",
    "T12": "soaked in water",
    "T13": "film with gibberellic acid, 2000 mg/kg",
    "T15": "film with potassium nitrate",
    "T16": "film with inoculant",
    "T17": "film with wetting agent",
}
TAXA = {"AV": "Anthyllis vulneraria", "CC": "Corynephorus canescens", "AM": "Armeria maritima"}
# a, b, asks_about, kind, primary
CONTRASTS = {
    "AV": [
        ("T02", "T01", "hull", "equivalence", False),
        ("T03", "T02", "clean_method", "superiority", True),
        ("T04", "T03", "handling", "equivalence", False),
        ("T05", "T03", "coat", "equivalence", False),
        ("T06", "T03", "coat", "equivalence", False),
        ("T16", "T05", "active", "equivalence", False),
    ],
    "CC": [
        ("T02", "T01", "hull", "equivalence", False),
        ("T03", "T02", "clean_method", "superiority", True),
        ("T04", "T03", "handling", "equivalence", False),
        ("T05", "T03", "coat", "equivalence", False),
        ("T06", "T03", "coat", "equivalence", False),
        ("T08", "T03", "coat", "no worse", False),
        ("T09", "T03", "product", "superiority", False),
        ("T15", "T05", "active", "superiority", False),
        ("T17", "T05", "active", "equivalence", False),
    ],
    "AM": [
        ("T02", "T01", "hull", "equivalence", True),
        ("T03", "T02", "clean_method", "equivalence", False),
        ("T04", "T03", "handling", "equivalence", False),
        ("T05", "T03", "coat", "equivalence", False),
        ("T06", "T03", "coat", "equivalence", False),
        ("T07", "T05", "coat", "equivalence", False),
        ("T10", "T05", "active", "superiority", False),
        ("T13", "T05", "dose", "superiority", False),
        ("T12", "T03", "soak", "equivalence", False),
        ("T11", "T12", "active", "superiority", False),
        ("T11", "T10", "route", "superiority", False),
    ],
}
FILLED = {True: 0.97, False: 0.70}
REFUSED = "Soak delivered 200, coat 92 mg/kg: route and dose changed together."
DAYS = np.array([0, 3, 5, 7, 10, 14, 21, 28, 35, 42.0])
T, T90, MARGIN = 2.08, 1.72, 15.0


@pytest.fixture(scope="session")
def names():
    """Readable labels of taxa, treatments and the environment."""
    arms = {f"{taxon}-{arm}": LABELS[arm] for taxon in ARMS for arm in ARMS[taxon]}
    return TAXA | arms | {"G1-20-10": "20/10 °C"}


@pytest.fixture(scope="session")
def dishes():
    """One row a dish: four batches of four dishes of 25 an arm, the contractor's pellet sixteen dishes of one batch."""
    chance, rows = np.random.default_rng(20260504), []
    for taxon, arms in ARMS.items():
        for arm, (share, t50) in arms.items():
            batches = np.repeat([1] if arm == "T09" else [1, 2, 3, 4], 16 if arm == "T09" else 4)
            shift = dict(zip(range(1, 5), chance.normal(0, 0.10, 4), strict=True))
            for i, batch in enumerate(batches):
                filled = chance.binomial(25, FILLED[arm != "T01"])
                p = 1 / (1 + np.exp(-(np.log(share / (1 - share)) + shift[batch] + chance.normal(0, 0.15))))
                rows.append(
                    {
                        "taxon": taxon,
                        "treatment": f"{taxon}-{arm}",
                        "environment": "G1-20-10",
                        "batch": f"{taxon}-{arm}-{batch}",
                        "unit": f"G1-{taxon}-{arm}-{batch}-{i % 16 + 1}",
                        "k": chance.binomial(filled, p),
                        "n": filled,
                        "t50": t50,
                    }
                )
    return pd.DataFrame(rows)


@pytest.fixture(scope="session")
def final(dishes):
    """Final germination: groups of filled and of sown units, effects with verdicts, odds ratios and companions."""
    shares = [_shares(dishes, "filled", dishes["n"]), _shares(dishes, "sown units", 25)]
    groups = [g for share in shares for g in _groups(share)]
    found = {(g.of["treatment"], g.denominator): g for g in groups}
    effects = [e for taxon, asked in CONTRASTS.items() for row in asked for e in _effects(taxon, row, found)]
    return Effects(
        pd.concat(shares, ignore_index=True),
        "Batch means, t on batch degrees of freedom.",
        (),
        (),
        tuple(groups),
        tuple(effects),
    )


@pytest.fixture(scope="session")
def times(dishes):
    """Time to 50 %: groups in days, effects as ratios."""
    chance, groups = np.random.default_rng(7), []
    for (taxon, arm), rows in dishes.groupby(["taxon", "treatment"], sort=False):
        value = float(rows["t50"].iloc[0] * np.exp(chance.normal(0, 0.03)))
        groups.append(
            Estimate(
                "t50",
                {"taxon": taxon, "environment": "G1-20-10", "treatment": arm},
                value,
                value * 0.93,
                value * 1.07,
                unit="d",
                n_batches=rows["batch"].nunique(),
                n_units=16,
                n_seeds=400,
                rung="batch",
            )
        )
    found = {g.of["treatment"]: g for g in groups}
    effects = []
    for taxon, asked in CONTRASTS.items():
        for a, b, about, _, _ in asked[:-1]:
            one, other = found[f"{taxon}-{a}"], found[f"{taxon}-{b}"]
            ratio = one.value / other.value
            verdict = "worse" if ratio > 1.1 else "better" if ratio < 0.9 else "not shown"
            of = {"taxon": taxon, "environment": "G1-20-10", "a": f"{taxon}-{a}", "b": f"{taxon}-{b}"}
            effects.append(
                Estimate(
                    "t50",
                    of,
                    ratio,
                    ratio / 1.1,
                    ratio * 1.1,
                    "ratio",
                    unit="1",
                    n_batches=one.n_batches + other.n_batches,
                    n_units=32,
                    n_seeds=800,
                    rung="batch",
                    inner_lower=ratio / 1.08,
                    inner_upper=ratio * 1.08,
                    asks_about=about,
                    verdict=verdict,
                )
            )
    units = dishes.assign(
        quantity="t50", denominator="", value=lambda d: d["t50"] * np.exp(chance.normal(0, 0.08, len(d)))
    )
    return Effects(units, "", (), (), tuple(groups), tuple(effects))


@pytest.fixture(scope="session")
def curves(dishes):
    """Cumulative germination of each dish, and a step curve with a band an arm."""
    chance, rows, found = np.random.default_rng(11), [], []
    for (taxon, arm), dish in dishes.groupby(["taxon", "treatment"], sort=False):
        spread = 1 / (1 + np.where(DAYS > 0, (np.maximum(DAYS, 0.1) / dish["t50"].iloc[0]) ** -3.5, np.inf))
        each = []
        for d in dish.itertuples():
            seen = np.minimum(np.sort(chance.binomial(d.k, spread)), d.k)
            seen[-1] = d.k
            each.append(100 * seen / d.n)
            rows.append(
                pd.DataFrame(
                    {
                        "taxon": taxon,
                        "environment": "G1-20-10",
                        "treatment": arm,
                        "unit": d.unit,
                        "batch": d.batch,
                        "time": DAYS,
                        "value": each[-1],
                    }
                )
            )
        mean, error = np.mean(each, 0), 2 * np.std(each, 0) / 4
        found.append(
            Curve(
                {"taxon": taxon, "environment": "G1-20-10", "treatment": arm},
                DAYS,
                mean,
                np.maximum(mean - error, 0),
                np.minimum(mean + error, 100),
                n_batches=dish["batch"].nunique(),
                n_units=16,
                n_seeds=int(dish["n"].sum()),
            )
        )
    units = pd.concat(rows, ignore_index=True).assign(quantity="germination curve", denominator="filled")
    return Curves(units, "", (), (), "germination curve", "filled", "%", tuple(found))


@pytest.fixture(scope="session")
def speeds(dishes):
    """A number a group that is no share: mean germination time in days."""
    chance = np.random.default_rng(5)
    units = dishes.assign(
        quantity="mean germination time",
        denominator="",
        value=lambda d: d["t50"] * np.exp(chance.normal(0.05, 0.08, len(d))),
    )
    return Values(units, "", (), (), tuple(_groups(units, "mean germination time", "d")))


@pytest.fixture(scope="session")
def refused():
    """A question that the data cannot answer."""
    return Refusal(
        quantity="normal seedlings",
        missing="There is no control of the same lot.",
        remedy="Sow some of AM-0, untouched, beside it.",
    )


def _shares(dishes, denominator, of):
    return dishes.assign(quantity="normal seedlings", denominator=denominator, n=of, value=100 * dishes["k"] / of)


def _groups(units, quantity="normal seedlings", unit="%"):
    for (taxon, arm), rows in units.groupby(["taxon", "treatment"], sort=False):
        by_batch = rows.groupby("batch")["value"].mean()
        spread = by_batch if len(by_batch) > 1 else rows["value"]
        value, half = spread.mean(), T * max(spread.std() / len(spread) ** 0.5, 0.03 * spread.mean())
        yield Estimate(
            quantity,
            {"taxon": taxon, "environment": "G1-20-10", "treatment": arm},
            value,
            value - half,
            value + half,
            unit=unit,
            denominator=rows["denominator"].iloc[0],
            n_batches=len(by_batch),
            n_units=len(rows),
            n_seeds=int(rows["n"].sum()),
            rung="batch",
        )


def _effects(taxon, row, found):
    a, b, about, kind, primary = row
    of = {"taxon": taxon, "environment": "G1-20-10", "a": f"{taxon}-{a}", "b": f"{taxon}-{b}"}
    if about == "route":
        yield Estimate(
            "normal seedlings",
            of,
            np.nan,
            scale="difference",
            denominator="filled",
            verdict="not judged",
            reason=REFUSED,
            asks_about=about,
        )
        return
    for denominator in ("filled", "sown units"):
        one, other = found[of["a"], denominator], found[of["b"], denominator]
        difference, error = one.value - other.value, np.hypot(one.upper - one.value, other.upper - other.value) / T
        low, high, inner_low, inner_high = (difference + q * error for q in (-T, T, -T90, T90))
        margin = MARGIN if kind != "superiority" else np.nan
        verdict = _verdict(low, high, inner_low, inner_high, kind, margin) if denominator == "filled" else ""
        yield Estimate(
            "normal seedlings",
            of,
            difference,
            low,
            high,
            "difference",
            denominator=denominator,
            n_batches=one.n_batches + other.n_batches,
            n_units=one.n_units + other.n_units,
            n_seeds=one.n_seeds + other.n_seeds,
            rung="batch",
            inner_lower=inner_low,
            inner_upper=inner_high,
            margin=margin if verdict else np.nan,
            kind=kind,
            primary=primary and denominator == "filled",
            asks_about=about,
            verdict=verdict,
        )


def _verdict(low, high, inner_low, inner_high, kind, margin):
    inside = inner_low > -margin and inner_high < margin
    if kind == "no worse" and inner_low > -margin:
        return "no worse by more than m"
    if inside:
        return "equivalent within m" if low <= 0 <= high else "differs by less than matters"
    return "better" if low > 0 else "worse" if high < 0 else "not shown"
