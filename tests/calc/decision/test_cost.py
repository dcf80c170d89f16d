"""What must hold of the way from a bag to a plant and of its price: chains multiply, costs scale and meet where they should."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.decision.chains import chains
from palea.calc.decision.cost import ALWAYS, NEVER, SHRINKS, break_even_area, cost, cost_curves
from palea.calc.decision.losses import losses
from palea.calc.results import Refusal
from palea.errors import UnfitValue

SHARES = st.floats(0.02, 0.98)


def counted(shares, treatment="a", units=6, entered=100, seed=0, spread=0.0, batches=3):
    """Rows of units of every stage with shares near those asked for."""
    rng = np.random.default_rng(seed)
    return pd.DataFrame([
        {"taxon": "S", "treatment": treatment, "environment": "e", "stage": stage, "unit": f"{treatment}{stage}{u}",
         "batch": f"B{u % batches}", "entered": entered,
         "passed": rng.binomial(entered, np.clip(rng.normal(share, spread), 0.01, 0.99)) if spread else round(entered * share)}
        for stage, share in shares.items() for u in range(units)
    ])


STAGES = {"filled": 0.8, "viable": 0.9, "germinated": 0.6, "emerged": 0.5, "established": 0.4}
PAIR = pd.DataFrame([{"taxon": "S", "a": "a", "b": "b"}])


def test_a_chain_is_the_product_of_its_stages():
    found = losses(counted(STAGES))
    assert [e.value for e in found.groups] == pytest.approx((100 * np.cumprod(list(STAGES.values()))).tolist())
    assert [e.quantity for e in found.groups] == list(STAGES)
    assert {e.denominator for e in found.groups} == {"sown units"}


@settings(max_examples=25, deadline=None)
@given(st.lists(SHARES, min_size=2, max_size=5), st.lists(SHARES, min_size=2, max_size=5))
def test_steps_of_a_against_b_multiply_to_the_end(first, second):
    many = min(len(first), len(second))
    names = list(STAGES)[:many]
    rows = pd.concat([
        counted(dict(zip(names, shares, strict=False)), treatment, units=2, entered=10_000, batches=2)
        for treatment, shares in (("a", first), ("b", second))
    ])
    *steps, last = losses(rows, PAIR, replicates=99).effects
    assert np.prod([e.value for e in steps]) == pytest.approx(last.value, rel=1e-9)
    assert [e.quantity for e in steps] == [f"step to {name}" for name in names]


def test_counts_of_sown_and_counts_of_the_stage_before_agree():
    """A field counts what emerged of seeds sown; the chain is the same as if it were told of those that germinated."""
    chained = counted({"germinated": 0.8, "emerged": 0.5})
    direct = counted({"germinated": 0.8, "emerged": 0.4}).assign(of="")
    assert losses(chained).groups[1].value == pytest.approx(losses(direct).groups[1].value)
    named = counted({"filled": 0.9, "germinated": 0.8, "emerged": 0.5}).assign(of=lambda f: f["stage"].map(
        {"filled": "", "germinated": "filled", "emerged": "filled"}))
    assert losses(named).groups[2].value == pytest.approx(100 * 0.9 * 0.5)


def test_rows_may_come_in_any_order():
    rows = counted(STAGES, spread=0.05)
    mixed = pd.concat([rows[rows["stage"] == stage].sample(frac=1, random_state=3) for stage in STAGES])
    assert [vars(e) | {"of": dict(e.of)} for e in losses(rows).groups] == [
        vars(e) | {"of": dict(e.of)} for e in losses(mixed).groups
    ]


def test_intervals_cover_and_shrink():
    """Of 160 made-up chains about 95 % cover the truth: within 4 standard errors of a binomial share, or more."""
    stages = {name: STAGES[name] for name in ("viable", "emerged", "established")}
    truth = 100 * np.prod(list(stages.values()))
    inside, widths = [], {}
    for units in (6, 24):
        for seed in range(80):
            last = losses(counted(stages, units=units, seed=seed, spread=0.05), replicates=399).groups[-1]
            inside.append(last.lower <= truth <= last.upper)
            widths.setdefault(units, []).append(last.upper - last.lower)
    assert 0.95 - 4 * np.sqrt(0.05 * 0.95 / 160) < np.mean(inside) <= 1
    assert np.mean(widths[24]) < 0.7 * np.mean(widths[6])


def test_one_sample_or_none_lost_is_told_and_still_has_an_interval():
    found = losses(pd.concat([counted({"filled": 1.0}), counted({"viable": 0.9}, units=1)]))
    assert "filled; a: viable" in found.warnings[0]
    assert all(e.lower < e.value for e in found.groups)
    assert all(e.upper <= 100 for e in found.groups)


def test_what_cannot_be_compared_is_not_judged():
    found = losses(counted(STAGES), PAIR).effects
    assert [e.verdict for e in found] == ["not judged"]
    assert "No stage was counted for b" in found[0].reason
    other = pd.concat([counted(STAGES), counted({"viable": 0.5, "emerged": 0.5}, "b")])
    assert "not counted at the same stages" in losses(other, PAIR).effects[0].reason
    none = pd.concat([counted({"filled": 0.5}), counted({"filled": 0.0}, "b")])
    assert np.isnan(losses(none, PAIR).effects[0].value)
    assert isinstance(losses(counted(STAGES).assign(passed=np.nan)), Refusal)


@pytest.mark.parametrize("rows", [
    counted(STAGES).assign(passed=101), counted(STAGES).assign(passed=-1), counted(STAGES).assign(of="emerged"),
])
def test_stages_that_cannot_be_are_errors(rows):
    with pytest.raises(UnfitValue):
        chains(rows)


PRICES = pd.DataFrame([
    {"taxon": "S", "treatment": "a", "price": 100.0, "received_g": 2.0, "clean_g": 1.0, "recovery": 0.6,
     "per_received": 20.0, "per_clean": 30.0, "campaign": 900.0},
    {"taxon": "S", "treatment": "b", "price": 100.0, "received_g": 2.0},
])


def two(better=0.8, worse=0.4, spread=0.05):
    return pd.concat([counted({"established": better}, spread=spread), counted({"established": worse}, "b", spread=spread)])


def asked(rows=None, prices=PRICES, **options):
    found = cost(two() if rows is None else rows, prices, PAIR, **{"replicates": 299} | options)
    return {(e.quantity, e.scale, e.of.get("treatment") or e.of["a"]): e for e in found.estimates}


BEARS = ("price", "per_received", "per_clean", "campaign")


def test_twice_the_prices_cost_twice_and_break_even_where_they_did():
    once, twice = asked(), asked(prices=PRICES.assign(**{name: 2 * PRICES[name] for name in BEARS}))
    for (quantity, scale, name), e in once.items():
        times = 2 if "cost" in quantity or "price" in quantity else 1
        assert twice[quantity, scale, name].value == pytest.approx(times * e.value, rel=1e-9)


def test_at_the_break_even_area_and_price_both_cost_the_same():
    found = asked()
    area, price = (found[q, "value", "a"].value for q in ("break-even area", "break-even seed price"))
    assert asked(area=area)["cost of a hectare", "difference", "a"].value == pytest.approx(0, abs=1e-6)
    level = asked(prices=PRICES.assign(price=price))
    assert level["cost of a hectare", "difference", "a"].value == pytest.approx(0, abs=1e-6)


def test_cost_of_a_plant_and_of_a_hectare_agree():
    found = asked(plants=5000)
    for name in ("a", "b"):
        whole, one = (found[q, "value", name] for q in ("cost of a hectare", "cost of a plant"))
        assert one.value * 5000 == pytest.approx(whole.value)
        assert one.lower < one.value < one.upper
    assert asked(area=50)["cost of a plant", "value", "a"].value < asked(area=5)["cost of a plant", "value", "a"].value
    assert asked(area=50)["cost of a plant", "value", "b"].value == asked(area=5)["cost of a plant", "value", "b"].value


@pytest.mark.parametrize(("better", "campaign", "area", "says"), [
    (0.2, 900.0, np.nan, NEVER), (0.9, 0.0, 0.0, ALWAYS), (0.2, -1, None, SHRINKS),
])
def test_where_it_never_or_always_pays(better, campaign, area, says):
    prices = PRICES.assign(campaign=[max(campaign, 0.0), 500.0 if campaign < 0 else 0.0])
    found = asked(two(better), prices)["break-even area", "value", "a"]
    assert found.reason == says
    if area is not None:
        assert found.value == pytest.approx(area, nan_ok=True)
    if np.isnan(found.value):
        assert np.isnan(found.upper)


def test_an_uncertain_gain_leaves_the_upper_end_open():
    """Where a may not pay at all in some replicates, no area is an upper end; the interval says so by a blank."""
    found = asked(two(0.42, 0.40, spread=0.15), PRICES.assign(recovery=1.0, clean_g=2.0, per_received=0, per_clean=0))
    area = found["break-even area", "value", "a"]
    assert np.isfinite(area.value)
    assert np.isnan(area.upper)


def test_what_has_no_price_is_told():
    found = cost(two(), PRICES[PRICES["treatment"] == "a"], PAIR, replicates=99)
    assert found.warnings == ("No price was given for b.",)
    assert found.effects[0].verdict == "not judged"
    assert isinstance(cost(two(), PRICES.assign(price=np.nan)), Refusal)
    with pytest.raises(UnfitValue, match="area"):
        cost(two(), PRICES, area=0)
    with pytest.raises(UnfitValue, match="recovery of a"):
        cost(two(), PRICES.assign(recovery=0.0))


def test_cost_curves_fall_with_the_area_and_meet_the_numbers():
    first, second = cost_curves(two(), PRICES, [1, 5, 50], replicates=99).curves
    assert (np.diff(first.value) < 0).all()
    assert np.ptp(second.value) == pytest.approx(0, abs=1e-12)
    assert first.value[1] == pytest.approx(asked(area=5)["cost of a plant", "value", "a"].value)
    assert (first.lower < first.value).all()
    assert (first.value < first.upper).all()


@settings(deadline=None)
@given(st.floats(1, 500), st.floats(1, 500), st.floats(0, 2000), st.floats(0, 2000))
def test_break_even_areas_are_where_sums_meet(a, b, once_a, once_b):
    area = float(break_even_area(a, b, once_a, once_b))
    if area > 0:
        assert a * area + once_a == pytest.approx(b * area + once_b, rel=1e-6)
    elif area == 0:
        assert a <= b
        assert once_a <= once_b
    else:
        assert a >= b
        assert once_a >= once_b
