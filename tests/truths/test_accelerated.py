"""Accelerated time models from inspection intervals, against R 4.2.2, survival 3.5.3: survreg(Surv(left, right, type =
"interval2") ~ treatment) on the breast cosmesis data (Finkelstein & Wolfe 1985, Biometrics 41:933), and on 50 made-up
seeds of which 40 germinate (data/synthetic_germination_plateau.csv).
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.stats.accelerated import ERRORS, fit
from palea.errors import UnfitValue

DATA = Path(__file__).parent / "data"


@pytest.fixture
def cosmesis():
    frame = pd.read_csv(DATA / "breast_cosmesis.csv", comment="#")
    left, right = frame["left"].fillna(0), frame["right"].fillna(np.inf)
    design = np.column_stack([np.ones(len(frame)), frame["treatment"].eq("RadChem")])
    return left, right, np.ones(len(frame)), design


@pytest.fixture
def seeds():
    frame = pd.read_csv(DATA / "synthetic_germination_plateau.csv", comment="#")
    return frame["left"], frame["right"].fillna(np.inf), np.ones(len(frame))


def test_weibull_on_cosmesis(cosmesis):
    found = fit(*cosmesis, family="weibull")
    assert found.coefficients == pytest.approx([3.8992762, -0.5675505], abs=2e-6)
    assert found.standard_errors == pytest.approx([0.1405298, 0.1757296], abs=2e-6)
    assert found.scale == pytest.approx(0.6193397, abs=2e-6)
    assert found.log_likelihood == pytest.approx(-143.3208271, abs=1e-6)


def test_weibull_without_treatment(cosmesis):
    assert fit(*cosmesis[:3], family="weibull").log_likelihood == pytest.approx(-148.7924312, abs=1e-6)


@pytest.mark.parametrize(
    ("family", "place", "scale", "log_likelihood"),
    [
        ("log-logistic", 1.785016134, 0.3477311, -111.9472145),
        ("weibull", 2.154023418, 0.6300887, -120.8705711),
        ("log-normal", 1.860426341, 0.6092428, -112.507464),
    ],
)
def test_three_families_on_the_seeds(seeds, family, place, scale, log_likelihood):
    found = fit(*seeds, family=family)
    assert found.coefficients == pytest.approx([place], abs=5e-6)
    assert found.scale == pytest.approx(scale, abs=5e-6)
    assert found.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)


@pytest.mark.parametrize("family", ERRORS)
def test_time_in_hours_moves_the_place_by_a_logarithm_and_nothing_else(seeds, family):
    left, right, count = seeds
    days, hours = fit(left, right, count, family=family), fit(24 * left, 24 * right, count, family=family)
    assert hours.coefficients - days.coefficients == pytest.approx([np.log(24)], abs=1e-5)
    assert hours.scale == pytest.approx(days.scale, abs=1e-5)


def test_counts_are_repeated_rows(seeds):
    left, right, count = seeds
    rows = pd.DataFrame({"left": left, "right": right, "count": count}).groupby(["left", "right"], as_index=False).sum()
    assert fit(rows["left"], rows["right"], rows["count"]).log_likelihood == pytest.approx(
        fit(*seeds).log_likelihood, abs=1e-9
    )


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (([3], [2], [1]), "left and right at position 0 are no interval"),
        (([3], [np.inf], [1]), "No event was seen"),
        (([0], [2], [1], None, "gompertz"), "There is no family “gompertz”"),
    ],
)
def test_what_cannot_be_fitted_is_said(arguments, sentence):
    with pytest.raises(UnfitValue, match=sentence):
        fit(*arguments)
