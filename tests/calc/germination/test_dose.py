"""Dose curves: made-up series whose truth is known, when hormesis may be tried, refusals."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.germination.dose import dose, dose_of_values, hormesis_may_be_tried
from palea.calc.results import Refusal
from palea.calc.stats import binomial_links
from palea.calc.stats import dose_response as curves
from palea.calc.stats.effective_doses import effective_dose
from palea.errors import UnfitValue

ARROW = pd.StringDtype("pyarrow")
DOSES = (0.0, 50.0, 150.0, 500.0, 1500.0, 5000.0)
TEXT = ("taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "series", "active", "dose_unit")


def typed(frame):
    return frame.astype({name: ARROW for name in TEXT if name in frame})


def series(doses=DOSES):
    rows = [("D0", "GA3", f"D{x:g}", x, "mg/kg") for x in doses]
    return typed(pd.DataFrame(rows, columns=["series", "active", "treatment", "dose", "dose_unit"]))


def sown(share, doses=DOSES, dishes=8, seeds=25, rho=0.02, seed=1, batches=1):
    """Dishes of AM along a series; share : function of the dose."""
    chance = np.random.default_rng(seed)
    rows = []
    for x in doses:
        p = float(share(x))
        own = chance.beta(p * (1 - rho) / rho, (1 - p) * (1 - rho) / rho, dishes) if rho else np.full(dishes, p)
        rows += [("AM", f"D{x:g}", "20-10", f"D{x:g}-b{d % batches}", f"D{x:g}-{d}", "germinated", "filled",
                  float(chance.binomial(seeds, q)), float(seeds)) for d, q in enumerate(own)]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "k", "n"]
    return typed(pd.DataFrame(rows, columns=columns))


def promoted(x, low=0.3, high=0.85, half=300.0, steep=1.8):
    return high + (low - high) / (1 + (x / half) ** steep)


def found(result, quantity):
    hits = [e for e in result.estimates if e.quantity == quantity]
    assert len(hits) == 1, [e.quantity for e in result.estimates]
    return hits[0]


def test_a_promoting_dose_is_recovered():
    """30 % without, 85 % with much, half way at 300 mg/kg, steepness 1.8; 4000 seeds a dose."""
    result = dose(sown(promoted, dishes=40, seeds=100, rho=0), series())
    assert found(result, "response without the active").value == pytest.approx(30, abs=2)
    assert found(result, "response at a high dose").value == pytest.approx(85, abs=2)
    half = found(result, "dose for half the effect")
    assert half.value == pytest.approx(300, rel=0.1)
    assert half.lower < 300 < half.upper
    assert half.unit == "mg/kg"
    assert found(result, "steepness of the dose response").value == pytest.approx(1.8, rel=0.15)
    assert "GA3 at 0, 50, 150, 500, 1500, 5000 mg/kg" in found(result, "response without the active").reason


def test_intervals_hold_the_half_dose():
    """Eight dishes of 25 a dose, rho .02, 80 trials: 95 %; three standard errors are 7 points."""
    inside = 0
    for seed in range(80):
        half = found(dose(sown(promoted, seed=seed), series()), "dose for half the effect")
        inside += half.lower <= 300 <= half.upper
    assert inside / 80 >= 0.87


def test_a_killing_dose_needs_three_parameters():
    result = dose(sown(lambda x: 0.8 / (1 + (x / 400) ** 2), rho=0, dishes=20), series())
    assert found(result, "dose for half the effect").value == pytest.approx(400, rel=0.1)
    high = [e.value for e in result.estimates if e.quantity == "response at a high dose"]
    assert not high or high[0] < 5


def test_batches_are_the_units_where_every_dose_has_two():
    several = dose(sown(promoted, batches=4), series())
    assert found(several, "dose for half the effect").rung == "batch"
    assert found(several, "dose for half the effect").df == 24 - 4
    one = dose(sown(promoted), series())
    assert found(one, "dose for half the effect").rung == "dish"
    assert any("one batch" in warning for warning in one.warnings)


def hormetic(x, d=0.5, f=0.003, e=300.0, b=2.2):
    return (d + f * x) / (1 + (x / e) ** b)


def test_a_rise_at_low_doses_is_found_where_it_is():
    doses = (0.0, 20.0, 60.0, 120.0, 300.0, 1000.0, 4000.0)
    result = dose(sown(hormetic, doses, dishes=20, seeds=50, rho=0), series(doses))
    peak = found(result, "highest response")
    truth = max(hormetic(x) for x in np.linspace(1, 1000, 5000))
    assert peak.value == pytest.approx(100 * truth, abs=4)
    assert peak.lower < 100 * truth < peak.upper
    assert "rise at low doses was shown" in found(result, "response without the active").reason


def test_hormesis_is_not_tried_without_two_doses_below_the_peak():
    doses = np.repeat([0.0, 1, 2, 4, 8], 2)
    assert hormesis_may_be_tried(doses, np.repeat([5.0, 6, 7, 8, 2], 2))
    assert not hormesis_may_be_tried(doses, np.repeat([5.0, 6, 9, 4, 2], 2))
    assert not hormesis_may_be_tried(doses, np.repeat([5.0, 6, 7, 8, 9], 2)), "no dose past the peak"
    assert not hormesis_may_be_tried(doses, np.repeat([9.0, 6, 7, 8, 2], 2)), "no rise"
    doses = (0.0, 120.0, 1000.0, 2000.0, 4000.0)
    result = dose(sown(hormetic, doses, dishes=20, seeds=50, rho=0), series(doses))
    assert not [e for e in result.estimates if e.quantity == "highest response"]


@pytest.mark.parametrize(("doses", "says"), [
    ((0.0, 50.0, 150.0, 500.0), "here are 3 above 0."), ((50.0, 150.0, 500.0, 1500.0, 5000.0), "5 above 0 and no 0"),
])
def test_too_few_doses_are_refused(doses, says):
    result = dose(sown(promoted, doses), series(doses))
    assert isinstance(result, Refusal)
    assert says in result.missing
    assert "four above 0" in result.remedy


def test_a_flat_response_gives_no_dose():
    result = dose(sown(lambda _: 0.6, seed=4), series())
    assert isinstance(result, Refusal)
    assert "No response to the dose was shown" in result.missing
    assert isinstance(dose(sown(promoted), series()[:0]), Refusal)


def test_measured_values_by_least_squares():
    chance = np.random.default_rng(5)
    rows = [("AM", f"D{x:g}", "20-10", "b", f"D{x:g}-{d}", "root length", 8 / (1 + (x / 400) ** 2) + chance.normal(0, 0.2), "mm")
            for x in DOSES for d in range(6)]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "value", "value_unit"]
    result = dose_of_values(typed(pd.DataFrame(rows, columns=columns)), series())
    half = found(result, "dose for half the effect")
    assert half.lower < 400 < half.upper
    assert found(result, "response without the active").unit == "mm"
    assert found(result, "response without the active").value == pytest.approx(8, abs=0.3)


@settings(max_examples=20)
@given(st.floats(0.001, 1000))
def test_the_unit_of_the_dose_does_not_matter(factor):
    x = np.repeat(DOSES, 4)
    y = 5 / (1 + (x / 400) ** 2) + np.tile([0.05, -0.05, 0.1, -0.1], len(DOSES))
    one, two = curves.fit(x, y), curves.fit(x * factor, y)
    assert two.loss == pytest.approx(one.loss, rel=1e-6)
    assert effective_dose(two, 0.5).value == pytest.approx(factor * effective_dose(one, 0.5).value, rel=1e-4)


def test_what_cannot_be_is_refused_in_words():
    with pytest.raises(UnfitValue, match="different doses"):
        curves.fit([0, 1, 2], [1, 2, 3])
    with pytest.raises(UnfitValue, match="share is 1"):
        effective_dose(curves.fit(np.repeat(DOSES, 2), np.repeat([5.0, 4, 3, 2, 1, 0.5], 2)), 1.0)
    with pytest.raises(UnfitValue, match="link is 'log'"):
        binomial_links.fit(np.ones((2, 1)), [1, 1], [2, 2], "log")
    with pytest.raises(UnfitValue, match="repeat each other"):
        binomial_links.fit(np.ones((3, 2)), [1, 1, 1], [2, 2, 2])
