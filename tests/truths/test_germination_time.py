"""The curve and the times of a made-up lot of dishes against values found in other programs."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from palea.calc.germination.time import curve, times

ASKED = pd.DataFrame(columns=["quantity", "taxon", "environment", "a", "b", "kind", "primary", "refused", "asks_about"])


@pytest.fixture(scope="module")
def intervals():
    """50 seeds dealt over five dishes; together they are the check data."""
    rows = pd.read_csv(Path(__file__).parent / "data" / "synthetic_germination_plateau.csv")
    rows["unit"] = [f"D{i % 5}" for i in range(len(rows))]
    dealt = rows.groupby(["unit", "left", "right"]).size().reset_index(name="count")
    return dealt.assign(taxon="AV", treatment="T01", environment="", batch="B1")


def test_curve_is_the_life_table(intervals):
    """Arithmetic: 2, 9, 21, 30, 35, 38, 39, 40 of 50 seen by days 3 to 10."""
    line = curve(intervals, replicates=99).curves[0]
    by_day = dict(zip(line.time, line.value, strict=True))
    assert [by_day[day] for day in range(3, 11)] == pytest.approx([4, 18, 42, 60, 70, 76, 78, 80], abs=1e-9)


def test_times_of_the_group(intervals):
    """e, d and b: R optim and scipy agree. t10, t90, spread and half of those sown: computed with numpy apart."""
    found = {e.quantity: e.value for e in times(intervals, ASKED, replicates=99, share_of_sown=0.5).groups}
    assert found == {
        "t50": pytest.approx(4.9461186, abs=2e-7), "never-germinating share": pytest.approx(19.834675, abs=2e-5),
        "shape of time to germination": pytest.approx(5.9414687, abs=1e-6), "t10": pytest.approx(3.28571429, abs=1e-8),
        "t90": pytest.approx(7.33333333, abs=1e-8), "spread t10 to t90": pytest.approx(4.04761905, abs=1e-8),
        "time to a share of sown": pytest.approx(5.44444444, abs=1e-8),
    }


def test_a_ratio_is_the_t_test_of_the_logs_of_batch_half_times():
    """scipy: minimize for each batch's log-logistic likelihood, then ttest_ind with equal variances on the logs."""
    chance, rows = np.random.default_rng(11), []
    ends = np.array([0, 3, 5, 7, 10, 14, 21, np.inf])
    for name, e in (("A", 6.5), ("B", 5.0)):
        for batch in range(4):
            day = e * np.exp(chance.normal(0, 0.05)) * (1 / chance.random(100) - 1) ** -0.25
            day[chance.random(100) > 0.8] = np.inf
            place = np.searchsorted(ends, day) - 1
            place[np.isinf(day)] = 6
            for dish in range(4):
                n = np.bincount(place[25 * dish : 25 * dish + 25], minlength=7)
                rows += [(name, f"{name}{batch}", f"{name}{batch}{dish}", *ends[i : i + 2], n[i]) for i in range(7)]
    frame = pd.DataFrame(rows, columns=["treatment", "batch", "unit", "left", "right", "count"])
    asked = pd.DataFrame([{
        "taxon": "AV", "environment": "", "a": "A", "b": "B", "quantity": "t50", "kind": "superiority", "refused": "",
        "margin": np.nan, "wanted": "lower", "primary": True, "asks_about": "coat", "margin_late": False,
    }])
    effect = times(frame.assign(taxon="AV", environment=""), asked).effects[0]

    by_batch = frame.groupby(["treatment", "batch", "left"])["count"].sum()
    logs = {n: [_log_half_time(ends, by_batch[n, b].to_numpy()) for b in by_batch[n].index.unique(0)] for n in "AB"}
    found = stats.ttest_ind(logs["A"], logs["B"])
    for level, mine in ((0.95, (effect.lower, effect.upper)), (0.90, (effect.inner_lower, effect.inner_upper))):
        span = found.confidence_interval(level)
        assert mine == pytest.approx(np.exp([span.low, span.high]), rel=1e-5)
    assert effect.value == pytest.approx(np.exp(np.mean(logs["A"]) - np.mean(logs["B"])), rel=1e-5)
    assert (effect.p_value, effect.df) == (pytest.approx(found.pvalue, rel=1e-3), 6)


def _log_half_time(ends, counts):
    def minus_loglik(theta):
        d, e, b = 1 / (1 + np.exp(-theta[0])), np.exp(theta[1]), np.exp(theta[2])
        grown = np.append(d / (1 + (np.maximum(ends[:-1], 1e-9) / e) ** -b), 1)
        return -counts @ np.log(np.maximum(np.diff(grown), 1e-300))

    exact = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 20_000, "maxfev": 20_000}
    return optimize.minimize(minus_loglik, [1.0, np.log(5), np.log(4)], method="Nelder-Mead", options=exact).x[1]
