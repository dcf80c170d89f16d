"""Earlier calculations where no kept package shows them apart: the numbers are those that commit 93d52c4 gave."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.decision.cost import cost, cost_curves
from palea.calc.earlier import block_means
from palea.calc.earlier.decided import cost_1, cost_curves_1
from palea.calc.stats import share_means

PASSED = pd.DataFrame({
    "taxon": "S", "treatment": ["A"] * 3 + ["B"] * 3, "stage": "established",
    "unit": ["p1", "p2", "p3", "q1", "q2", "q3"], "entered": 100, "passed": [0, 2, 7, 4, 9, 14],
})  # fmt: skip
PRICES = pd.DataFrame({
    "taxon": "S", "treatment": ["A", "B"], "price": [0.0, 120.0], "received_g": 2.0, "per_received": [0.0, 30.0],
    "per_clean": [50.0, 0.0],
})  # fmt: skip
HECTARE = {"A": (66.66666666666667, 28.57142857142857, 200.0), "B": (66.66666666666666, 42.857142857142854, 150.0)}


def _ends(result, quantity):
    return {e.of["treatment"]: (e.value, e.lower, e.upper) for e in result.estimates if e.quantity == quantity}


def test_a_cost_of_few_plots_is_what_it_was():
    was = _ends(cost_1(PASSED, PRICES), "cost of a hectare")
    for name, ends in HECTARE.items():
        assert was[name] == pytest.approx(ends, rel=1e-12)
    now = _ends(cost(PASSED, PRICES), "cost of a hectare")
    assert np.isnan(now["A"][2]), "a plot in which nothing established costs without end"
    assert now["B"][1] < 42 < 150 < now["B"][2], "three plots say less than their percentiles"


def test_a_cost_curve_of_few_plots_is_what_it_was():
    was = _ends(cost_curves_1(PASSED, PRICES), "cost of a plant")
    for name, ends in HECTARE.items():
        assert was[name] == pytest.approx([end / 20_000 for end in ends], rel=1e-12)
    assert np.isnan(_ends(cost_curves(PASSED, PRICES), "cost of a plant")["A"][2])


def test_means_without_blocks_were_no_others():
    arguments = (["a", "a", "b", "b"], [10, 12, 20, 22], [25, 25, 25, 25])
    for name in ("of_batches", "of_counts"):
        was, now = (getattr(module, name)(*arguments) for module in (block_means, share_means))
        assert [was.told(arm, 2.0) for arm in "ab"] == [now.told(arm, 2.0) for arm in "ab"]


def test_a_treatment_at_an_end_was_drawn_from_it_where_there_were_blocks():
    arguments = (["a"] * 3 + ["b"] * 3, [0, 0, 0, 8, 12, 16], [25] * 6, list("123123"))
    was, now = (module.of_counts(*arguments) for module in (block_means, share_means))
    assert now.told("a", 2.0)[0] == 0
    assert 0 < was.told("a", 2.0)[0] < 0.02
