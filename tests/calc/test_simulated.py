"""Estimates of designs whose intervals simulation has shown to be short carry a caution; others do not.

The figures stand beside what is stored in tests/coverage. The counts are made up: those designs, without chance.
"""

import numpy as np
import pandas as pd
import pytest

from palea.calc import simulated
from palea.calc.field import emergence
from palea.calc.germination.dose import dose
from palea.calc.germination.final import final
from palea.calc.lots import purity

ARROW = pd.StringDtype("pyarrow")
ASKED = {
    "contrast": "C", "taxon": "A", "environment": "S", "a": "a", "b": "b", "quantity": "emerged", "denominator": "viable",
    "kind": "superiority", "margin": np.nan, "wanted": "higher", "primary": False, "asks_about": "coat", "refused": "",
    "margin_late": False, "across": "",
}  # fmt: skip
WELL, HARDLY = [14, 11, 18, 9, 13, 15, 10, 12], [3, 0, 5, 1, 2, 4, 2, 1]


def carried(result):
    """{treatment, or a pair: study of its caution} of the groups and effects that carry one."""
    return {e.of.get("treatment") or (e.of["a"], e.of["b"], e.scale): e.caution.study for e in result.estimates if e.caution}


def came_up(a, b, batch="one", **asked):
    """Emergence of two treatments in plots of 110 seeds, one block a place in the lists."""
    rows = [(name, f"B{i}", float(k)) for name, some in (("a", a), ("b", b)) for i, k in enumerate(some)]
    plots = pd.DataFrame(rows, columns=["treatment", "block", "k"])
    own = plots["treatment"] + ("1" if batch == "one" else plots.groupby("treatment").cumcount().astype(str))
    plots = plots.assign(taxon="A", environment="S", batch=own, quantity="emerged", n=110.0, denominator="viable",
                         unit=plots["treatment"] + plots["block"])  # fmt: skip
    return emergence.final(plots, pd.DataFrame([ASKED | asked]))


def test_few_plants_in_few_plots_carry_a_caution_and_so_does_what_is_held_against_them():
    assert carried(came_up(WELL, HARDLY)) == {"b": "emergence", ("a", "b", "difference"): "emergence"}


@pytest.mark.parametrize(("a", "b"), [
    (WELL, WELL),
    (WELL * 2, HARDLY * 2),  # sixteen plots
    (WELL, [6, 4, 5, 7, 5, 6, 4, 7]),  # 5 % of the seed
    (WELL[:4], HARDLY[:4]),  # four plots are judged by their own counts, carefully
])  # fmt: skip
def test_other_plots_carry_none(a, b):
    assert carried(came_up(a, b)) == {}


def germinated(levels, lone="", against="b"):
    """Four batches of four dishes of 25, a treatment a level; batches of a treatment apart by one seed in two dishes.

    lone : treatments of which all dishes come from one batch.
    """
    rows = []
    for name, level in zip("abcdef", levels, strict=False):
        for batch in range(4):
            own = name if name in lone else f"{name}{batch}"
            rows += [(name, own, f"{name}{batch}{i}", float(level + (batch % 2) * (i % 2))) for i in range(4)]
    dishes = pd.DataFrame(rows, columns=["treatment", "batch", "unit", "k"])
    dishes = dishes.assign(taxon="A", environment="S", quantity="normal seedlings", denominator="filled", n=25.0)
    asked = [ASKED | {"quantity": "normal seedlings", "denominator": "filled", "a": "a", "b": b} for b in against]
    return final(dishes, pd.DataFrame(asked))


def test_a_treatment_far_above_others_near_zero_carries_a_caution_and_the_others_do_not():
    assert carried(germinated([8, 1, 1, 1, 1, 1])) == {"a": "final-batches", ("a", "b", "difference"): "final-batches"}


@pytest.mark.parametrize("levels", [
    [8, 1],  # of two, neither is far from the others
    [3, 1, 1, 1, 1, 1],  # not so far
    [12, 8, 8, 8, 8, 8],
])  # fmt: skip
def test_other_batches_carry_none(levels):
    assert carried(germinated(levels)) == {}


def test_what_is_judged_on_dishes_carries_none():
    """Seeds of a dish are alike by one correlation at any level: that does not make an interval short."""
    assert carried(germinated([8, 1, 1, 1, 1, 1], lone="abcdef")) == {}
    mixed = carried(germinated([8, 1, 1, 1, 1, 1], lone="f", against="bf"))
    assert mixed == {"a": "final-batches", ("a", "b", "difference"): "final-batches"}


def samples(*pure):
    return purity.purity(pd.DataFrame([
        {"taxon": "A", "lot": "L", "test": "P", "replicate": n, "pure_g": share / 10, "other_g": 0.0,
         "inert_g": (100 - share) / 10, "sample_g": 10.0} for n, share in enumerate(pure)
    ]))  # fmt: skip


def test_purity_near_the_end_in_an_uneven_lot_carries_a_caution():
    cautious = {e.quantity for e in samples(99.0, 95.0, 98.5, 94.0).estimates if e.caution == simulated.LEANING}
    assert cautious == {purity.PURE, purity.INERT}
    for others in ((97.0, 97.4, 97.2, 96.8), (87.0, 83.0, 86.5, 82.0), (99.0, 95.0)):
        assert not any(e.caution for e in samples(*others).estimates)


def answered(high, apart):
    """Six doses in dishes of 25: a response from 30 % to `high`, dishes of a dose apart by so many seeds either way."""
    doses = [0.0, 50.0, 150.0, 500.0, 1500.0, 5000.0]
    rows = [(f"D{x:g}", f"D{x:g}-{i}", np.clip(round(25 * (high + (0.3 - high) / (1 + (x / 300) ** 1.8))) + way * apart, 0, 25))
            for x in doses for i, way in enumerate((1, -1, 1, -1, 1, -1, 1, -1))]
    dishes = pd.DataFrame(rows, columns=["treatment", "unit", "k"]).assign(
        taxon="A", environment="E", batch=lambda f: f["treatment"], quantity="germinated", denominator="filled", n=25.0)
    series = pd.DataFrame([("D0", "X", f"D{x:g}", x, "mg/kg") for x in doses],
                          columns=["series", "active", "treatment", "dose", "dose_unit"])  # fmt: skip
    return dose(dishes.astype({c: ARROW for c in dishes if c not in ("k", "n")}),
                series.astype({c: ARROW for c in series if c != "dose"}))


@pytest.mark.parametrize(("high", "apart", "study"), [(0.6, 5, "dose"), (0.6, 1, None), (0.9, 5, None)])
def test_a_small_response_among_uneven_dishes_carries_a_caution(high, apart, study):
    told = {e.caution.study if e.caution else None for e in answered(high, apart).estimates}
    assert told == {study}
