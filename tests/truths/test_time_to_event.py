"""The best-fitting curve of interval-censored times against exact published-data values."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.stats.time_to_event import cells, masses, npmle

DATA = Path(__file__).parent / "data"

# Data: Finkelstein & Wolfe 1985, Biometrics 41:933-945. Masses: expectation-maximisation carried to 1e-14 with the
# Karush-Kuhn-Tucker conditions checked, in another program; they agree with published values of three digits.
RAD = {
    (4, 5): 0.0463467740, (6, 7): 0.0333633709, (7, 8): 0.0886673681, (11, 12): 0.0707529218, (24, 25): 0.0926458366,
    (33, 34): 0.0817857649, (38, 40): 0.1208798274, (46, 48): 0.4655581364,
}
RADCHEM = {
    (4, 5): 0.0432826277, (5, 8): 0.0432826277, (11, 12): 0.0692055834, (16, 17): 0.1453977153,
    (18, 19): 0.1410948977, (19, 20): 0.1157459257, (24, 25): 0.0998653107, (30, 31): 0.0708813765,
    (35, 36): 0.1608311074, (44, 48): 0.0552064139, (48, 60): 0.0552064139,
}


def cosmesis(arm):
    table = pd.read_csv(DATA / "breast_cosmesis.csv").fillna({"left": 0})
    return table[table["treatment"] == arm].groupby(["left", "right"]).size().reset_index(name="count")


@pytest.mark.parametrize(("arm", "published", "loglik"), [
    ("Rad", RAD, -58.06002195), ("RadChem", RADCHEM, -65.63696491),
])
def test_masses_of_the_cosmesis_data(arm, published, loglik):
    counted = cosmesis(arm)
    steps = npmle(counted["left"], counted["right"], counted["count"])
    used = steps.mass > 1e-12
    found = dict(zip(zip(steps.lower[used], steps.upper[used], strict=True), steps.mass[used], strict=True))
    assert found == {place: pytest.approx(mass, abs=2e-10) for place, mass in published.items()}
    assert steps.loglik == pytest.approx(loglik, abs=1e-8)
    assert steps.gap < 1e-7


@pytest.mark.parametrize(("arm", "surviving"), [("Rad", 0.831622), ("RadChem", 0.913435)])
def test_share_without_the_event_after_eight_months(arm, surviving):
    counted = cosmesis(arm)
    steps = npmle(counted["left"], counted["right"], counted["count"])
    assert 1 - steps.seen_by(8) == pytest.approx(surviving, abs=1e-6)


@pytest.mark.parametrize(("arm", "median"), [("Rad", 39.0), ("RadChem", 19.5)])
def test_median_lies_where_r_survfit_puts_it(arm, median):
    """R survival 3.5.3 survfit stops its EM early and reports midpoints: only the interval can be compared."""
    counted = cosmesis(arm)
    steps = npmle(counted["left"], counted["right"], counted["count"])
    at = np.flatnonzero((steps.lower < steps.quantile(0.5)[0]) & (steps.quantile(0.5)[0] <= steps.upper))[0]
    assert (steps.lower[at] + steps.upper[at]) / 2 == median


@pytest.mark.parametrize("arm", ["Rad", "RadChem"])
def test_many_at_once_agree_with_one_at_a_time(arm):
    counted = cosmesis(arm)
    where = cells(counted["left"], counted["right"])
    both = masses(where, np.tile(counted["count"], (2, 1)), tolerance=1e-9)
    steps = npmle(counted["left"], counted["right"], counted["count"])
    assert both == pytest.approx(np.tile(steps.mass, (2, 1)), abs=1e-6)


def test_shared_visits_are_open_on_the_left():
    """Arithmetic: 10, 30 and 10 of 50 in (0,1], (1,2], (2,3]. Closed on both sides would give 50 % at 1 and at 2."""
    steps = npmle([0, 1, 2], [1, 2, 3], [10, 30, 10])
    assert steps.seen_by([0, 1, 2, 3]) == pytest.approx([0, 0.2, 0.8, 1], abs=1e-12)


def test_survival_of_the_made_up_dishes():
    """Arithmetic on 50 seeds: 48, 41, 29, 20, 15, 12, 11, 10 wait after days 3 to 10."""
    seeds = pd.read_csv(DATA / "synthetic_germination_plateau.csv")
    rows = seeds.groupby(["left", "right"]).size().reset_index(name="n")
    waiting = 1 - npmle(rows["left"], rows["right"], rows["n"]).seen_by(np.arange(3, 11))
    assert waiting == pytest.approx([0.96, 0.82, 0.58, 0.4, 0.3, 0.24, 0.22, 0.2], abs=1e-12)


def test_watched_events_give_kaplan_meier():
    """Freireich et al. 1963, 6-MP arm: survival as R survfit (survival 3.5.3) and the textbooks have it."""
    arm = pd.read_csv(DATA / "freireich_6mp.csv").query("treat == '6-MP'")
    steps = npmle(arm["time"], np.where(arm["cens"] == 1, arm["time"], np.inf), np.ones(len(arm)))
    surviving = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    assert 1 - steps.seen_by([6, 7, 10, 13, 16, 22, 23]) == pytest.approx(surviving, abs=5e-5)
