"""Invented field trials whose truth is known. Numbers are those of the invented demo: plots, visits, spread.

At "Hollow Sands" 16 blocks of single plots, thinned to 8 plants; at "Long Spit" 10 blocks of a fenced and an open main
plot with one row of each treatment, never thinned.
"""

import numpy as np
import pandas as pd
import pytest

QUESTION = {
    "taxon": "AM", "environment": "", "a": "T07", "b": "T01", "quantity": "emerged", "denominator": "viable",
    "kind": "superiority", "margin": np.nan, "wanted": "higher", "primary": True, "asks_about": "coat", "refused": "",
    "margin_late": False, "across": "",
}
SAND, SPIT = "Hollow Sands", "Long Spit"
KEPT_VISITS = np.array([21.0, 63, 105, 147, 189])  # weeks 16 22 28 34 40, from the thinning in week 13


def _expit(x):
    return 1 / (1 + np.exp(-x))


def _beta(chance, share, rho, size=None):
    total = (1 - rho) / rho
    return chance.beta(share * total, (1 - share) * total, size)


def ask(**given):
    """One declared contrast, or several where a value is a list."""
    size = max([len(value) for value in given.values() if isinstance(value, list)], default=1)
    return pd.DataFrame(QUESTION | given, index=range(size))


def emerged(shares, seed=1, *, blocks=16, live=110, wild=0.0, rho=0.03, block_sd=0.25, place=SAND, quantity="emerged"):
    """Plots of a site: emerged of viable and of sown (120 a plot). shares : {treatment: of viable}."""
    chance, rows = np.random.default_rng(seed), []
    of_block = chance.normal(0, block_sd, blocks)
    for treatment, share in shares.items():
        for block in range(blocks):
            typical = _expit(np.log(share / (1 - share)) + of_block[block])
            k = chance.binomial(live, _beta(chance, typical, rho)) + chance.poisson(wild)
            rows += [(treatment, f"B{block}", base, k, n) for base, n in (("viable", live), ("sown units", 120))]
    frame = pd.DataFrame(rows, columns=["treatment", "block", "denominator", "k", "n"])
    return frame.assign(
        taxon="AM", environment=place, batch=frame["treatment"] + "-1", quantity=quantity,
        unit=place + frame["treatment"] + frame["block"], k=frame["k"].astype(float), n=frame["n"].astype(float),
    )


def unsown(mean, seed=1, plots=16, place=SAND):
    """Plots without seed of ours."""
    counts = np.random.default_rng([seed, 9]).poisson(mean, plots).astype(float)
    return pd.DataFrame({"taxon": "AM", "environment": place, "unit": [f"U{i}" for i in range(plots)], "k": counts})


def kept(shares, seed=1, *, blocks=16, plants=8, rho=0.05, removed=0):
    """Kept plants followed to day 189. shares : {treatment: alive then}. removed : taken out of each plot at day 63."""
    chance, rows = np.random.default_rng(seed), []
    for treatment, share in shares.items():
        for block in range(blocks):
            hazard = 1 - _beta(chance, share, rho) ** (1 / len(KEPT_VISITS))
            alive, since = plants, 0.0
            for day in KEPT_VISITS:
                died = chance.binomial(alive, hazard)
                alive -= died
                rows.append((treatment, block, since, day, died))
                if day == 63 and removed:
                    out = min(alive, removed)
                    alive -= out
                    rows.append((treatment, block, day, np.inf, out))
                since = day
            rows.append((treatment, block, since, np.inf, alive))
    return _plots(rows)


def emerging(half_times, seed=1, *, blocks=16, seeds=110, share=0.25, shape=3.5, plot_sd=0.1):
    """New seedlings between visits. half_times : {treatment: d}."""
    chance, rows = np.random.default_rng(seed), []
    visits = 7 * np.array([1.0, 2, 3, 4, 5, 6, 9, 12])
    for treatment, half in half_times.items():
        for block in range(blocks):
            own = half * np.exp(chance.normal(0, plot_sd))
            steps = np.diff(share / (1 + (visits / own) ** -shape), prepend=0)
            counts = chance.multinomial(seeds, [*steps, 1 - steps.sum()])
            ends = zip([0, *visits], [*visits, np.inf], counts, strict=True)
            rows += [(treatment, block, left, right, count) for left, right, count in ends]
    return _plots(rows)


def _plots(rows):
    frame = pd.DataFrame(rows, columns=["treatment", "block", "left", "right", "count"])
    block = "B" + frame["block"].astype(str)
    return frame.assign(taxon="AM", environment=SAND, batch=frame["treatment"] + "-1", block=block,
                        unit=frame["treatment"] + block, count=frame["count"].astype(float))


def weighed(means, seed=1, *, blocks=16, most=5):
    """Up to five plants a plot, dry mass in g. means : {treatment: of a typical plant}."""
    chance, rows = np.random.default_rng(seed), []
    of_block = chance.normal(0, 0.15, blocks)
    for treatment, mean in means.items():
        for block in range(blocks):
            middle = np.log(mean) + of_block[block] + chance.normal(0, 0.15)
            masses = np.exp(middle + chance.normal(0, 0.45, chance.integers(3, most + 1)))
            rows += [(treatment, f"B{block}", mass) for mass in masses]
    frame = pd.DataFrame(rows, columns=["treatment", "block", "value"])
    return frame.assign(taxon="AM", environment=SAND, batch=frame["treatment"] + "-1", quantity="plant dry mass",
                        unit=frame["treatment"] + frame["block"], n_plants=1.0)


def spit(shares, seed=1, *, blocks=10, fence=1.3, counted_new=4, exponent=0.25, hazard=0.03):
    """Rows of a split plot, never thinned: standing at each visit, new at the first `counted_new` of them.

    shares : {treatment: that come up, of 74 live}. Open rows die `fence` times as fast, full rows faster after week 12.
    """
    chance, rows = np.random.default_rng(seed), []
    weeks = np.array([3, 5, 8, 12, 18, 25, 32, 40])
    for block in range(blocks):
        of_block = chance.normal(0, 0.25)
        for level in ("fenced", "open"):
            of_main = of_block + chance.normal(0, 0.15)
            for treatment, share in shares.items():
                came = chance.binomial(74, _expit(np.log(share / (1 - share)) + of_main))
                come = chance.multinomial(came, [0.5, 0.3, 0.15, 0.05])
                stand = 0
                for i, week in enumerate(weeks):
                    rate = hazard * (week - (weeks[i - 1] if i else 2)) * (fence if level == "open" else 1.0)
                    rate *= 1.0 if i < 4 else 1.4 * (max(stand, 1) / 10) ** exponent
                    new = come[i] if i < 4 else 0
                    died = chance.binomial(stand, 1 - np.exp(-rate))
                    stand += new - died
                    seen = float(new) if i < counted_new else np.nan
                    rows.append((treatment, f"B{block}", level, 7.0 * week, float(stand), seen, float(died)))
    columns = ["treatment", "block", "level", "time", "standing", "new", "died"]
    frame = pd.DataFrame(rows, columns=columns)
    main = frame["block"] + frame["level"]
    return frame.assign(taxon="AM", environment=SPIT, batch=frame["treatment"] + "-1", main_plot=main,
                        unit=main + frame["treatment"], sown=80.0, live=74.0)


class Trials:
    """What the tests ask for."""

    ask, emerged, unsown, kept, emerging = map(staticmethod, (ask, emerged, unsown, kept, emerging))
    weighed, spit = map(staticmethod, (weighed, spit))
    sand, spit_name = SAND, SPIT


@pytest.fixture
def trials():
    """Makers of invented trials."""
    return Trials
