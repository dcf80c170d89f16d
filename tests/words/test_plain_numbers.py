"""Numbers that are no differences, whole counts, curves that fall, and verdicts without a number."""

import numpy as np

from palea.calc.results import Curve, Curves, Effects, Estimate, Values
from palea.words import say

SIDES = {"taxon": "AM", "a": "T07", "b": "T01"}


def test_a_break_even_area_is_no_change():
    area = Estimate("break-even area", SIDES, 9.7, 4.5, 27.9, scale="value", unit="har", n_units=32)
    (told,) = say(Effects(effects=(area,)), {})
    assert "T07 against T01: 10 ha (95 % interval 4 to 28" in told
    assert "raised" not in told


def test_a_verdict_without_a_number_is_told():
    asked = {"scale": "difference", "denominator": "filled", "margin": 15.0, "verdict": "equivalent within m"}
    both = Estimate("normal seedlings", SIDES, np.nan, **asked)
    (told,) = say(Effects(effects=(both,)), {})
    assert "equivalent within 15 points" in told
    assert "not judged" not in told


def test_a_whole_count_has_no_decimals():
    needed = Estimate("units needed", {"treatment": "T07"}, 171.0, unit="1")
    (told,) = say(Values(estimates=(needed,)), {})
    assert "171" in told
    assert "171.0" not in told


def test_half_of_a_curve_that_falls_is_not_said():
    time, alive = np.array([0.0, 50.0, 100.0]), np.array([100.0, 80.0, 61.0])
    curve = Curve({"taxon": "AM", "treatment": "T01"}, time, alive, alive - 5, alive + 5, n_units=16, n_seeds=79)
    (told,) = say(Curves(quantity="survival curve", denominator="emerged", curves=(curve,)), {})
    assert "half of them" not in told
    assert "79 plants" in told
