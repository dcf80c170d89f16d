"""What must hold for every decision: chains multiply, costs scale, mixtures weigh, evidence is alike before it is pooled."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.decision.chains import chains
from palea.calc.decision.contrasts import one_factor
from palea.calc.decision.cost import ALWAYS, NEVER, SHRINKS, break_even_area, cost, cost_curves
from palea.calc.decision.equivalence import equivalence, tost
from palea.calc.decision.evidence import pool_evidence
from palea.calc.decision.losses import losses
from palea.calc.decision.mixture import bag, best_share, long_run, mixture, season_mean, share_for_reserve
from palea.calc.decision.reserve import reserve
from palea.calc.results import Effects, Refusal, Values
from palea.calc.stats.pooling import between, pool
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


FACTORS = pd.DataFrame([
    ("T01", "on", "", "", ""), ("T02", "off", "", "", ""), ("T03", "off", "brush", "", ""),
    ("T04", "off", "brush", "", "sham"), ("T05", "off", "brush", "film", ""), ("T17", "off", "brush", "film", ""),
], columns=["treatment", "hull", "clean_method", "coat", "handling"]).assign(
    taxon="CC", active=["", "", "", "", "", "wetting agent"])
BRINGS = {"coat": ("handling",)}


def pairs_of(found):
    return set(zip(found.units["a"], found.units["b"], strict=True))


def test_the_map_joins_what_differs_in_one_thing():
    """Journey, 13: T01-T03 has no edge, T01-T02 and T02-T03 have."""
    edges = pairs_of(one_factor(FACTORS, brings=BRINGS))
    assert {("T01", "T02"), ("T02", "T03"), ("T03", "T04"), ("T03", "T05"), ("T05", "T17")} <= edges
    assert ("T01", "T03") not in edges
    assert ("T04", "T05") in edges, "a coat brings its handling along"
    assert ("T04", "T05") not in pairs_of(one_factor(FACTORS))


def test_the_missing_arm_is_named():
    """Journey, 12: in CC the arm that might pay, the wetting agent on the floret, is missing and the map says so."""
    found = one_factor(FACTORS, pd.DataFrame([
        {"taxon": "CC", "a": "T17", "b": "T01"}, {"taxon": "CC", "a": "T01", "b": "T03"},
        {"taxon": "CC", "a": "T17", "b": "T05"}, {"taxon": "CC", "a": "T17", "b": "T99"}]), BRINGS)
    assert [e.value for e in found.estimates] == pytest.approx([4, 2, 1, np.nan], nan_ok=True)
    assert "T01 with " in found.estimates[0].reason
    assert "active wetting agent" in found.estimates[0].reason
    assert found.estimates[1].reason.startswith("T01 and T03 differ in 2 things at once: hull and clean method.")
    assert found.estimates[2].reason == "T17 and T05 differ in active alone."
    assert found.estimates[3].verdict == "not judged"


def test_the_map_goes_both_ways_and_keeps_species_apart():
    both = pd.concat([FACTORS, FACTORS.assign(taxon="AV")])
    found = one_factor(both)
    assert len(found.units) == 2 * len(one_factor(FACTORS).units)
    turned = one_factor(FACTORS.iloc[::-1])
    assert {frozenset(p) for p in pairs_of(turned)} == {frozenset(p) for p in pairs_of(one_factor(FACTORS))}
    assert "from T17" not in " ".join(found.warnings)
    alone = one_factor(FACTORS[FACTORS["treatment"].isin(["T01", "T02", "T17"])])
    assert alone.warnings == ("No other treatment differs in one factor alone from T17.",)
    assert isinstance(one_factor(FACTORS.head(1)), Refusal)
    with pytest.raises(UnfitValue):
        one_factor(pd.concat([FACTORS, FACTORS]))


def measured(gap, taxon="S", units=8, batches=8, sd=1.0, seed=1):
    rng = np.random.default_rng(seed)
    return pd.DataFrame([
        {"taxon": taxon, "treatment": name, "environment": "e", "batch": f"{name}{u % batches}", "unit": f"{name}{u}",
         "quantity": "dry mass", "value": rng.normal(10 + shift, sd)}
        for name, shift in (("a", gap), ("b", 0.0)) for u in range(units)
    ])


def question(margin=3.0, **more):
    return pd.DataFrame([{"taxon": "", "a": "a", "b": "b", "quantity": "dry mass", "margin": margin} | more])


def test_p_and_interval_say_the_same():
    """Equivalent exactly where p of the two tests is below 5 %."""
    for seed in range(30):
        e = equivalence(measured(1.0, seed=seed), question(2.0)).effects[0]
        inside = e.inner_lower > -2.0 and e.inner_upper < 2.0
        assert inside == (e.p_value < 0.05) == (e.verdict in ("equivalent within m", "differs by less than matters"))


def test_a_claim_for_all_species_needs_each_one():
    values = pd.concat([measured(0.0, "S", seed=1), measured(0.0, "T", seed=2), measured(2.5, "U", seed=3)])
    *each, together = equivalence(values, question()).effects
    assert len(each) == 3
    assert together.p_value == max(e.p_value for e in each)
    assert "taxon" not in together.of
    assert together.verdict == "not shown"
    fine = equivalence(values[values["taxon"] != "U"], question()).effects
    assert fine[-1].verdict == "equivalent within m"
    assert np.isnan(fine[-1].value)


def test_one_batch_is_judged_on_units_and_told():
    found = equivalence(measured(0.0, batches=1), question())
    assert found.effects[0].rung == "dish"
    assert "one batch" in found.effects[0].reason
    assert equivalence(measured(0.0, units=16, batches=4), question()).effects[0].df == 6


@pytest.mark.parametrize(("values", "asked_", "says"), [
    (measured(0.0, units=1), question(), "two units each"), (measured(0.0), question(np.nan), "No margin"),
    (measured(0.0, sd=0.0), question(), "do not agree to the last digit"),
    (measured(0.0), question(quantity="height"), "two units each"), (measured(0.0), question(-1.0), "No margin"),
])
def test_what_is_no_equivalence_question_is_not_judged(values, asked_, says):
    found = equivalence(values, asked_).effects[0]
    assert found.verdict == "not judged"
    assert says in found.reason
    assert isinstance(equivalence(values.assign(value=np.nan), asked_), Refusal)


def test_a_late_margin_earns_no_verdict():
    found = equivalence(measured(0.0), question(margin_late=True)).effects[0]
    assert found.verdict == ""
    assert np.isfinite(found.p_value)


def test_two_one_sided_tests_need_a_margin():
    with pytest.raises(UnfitValue):
        tost(1, 1, 1, 1, 5, 5, 0)
    with pytest.raises(UnfitValue):
        tost(1, 1, 1, 1, 5, 1, 1)


def dishes(waiting):
    rows = []
    for name, k in waiting.items():
        rows += [{"taxon": "S", "treatment": name, "environment": "e", "batch": f"{name}{u // 2}", "block": "",
                  "unit": f"{name}{u}", "quantity": "waiting seed", "denominator": "viable", "k": k + u % 3, "n": 25.0}
                 for u in range(8)]
    return pd.DataFrame(rows)


def sheets(days):
    return pd.DataFrame([
        {"taxon": "S", "treatment": name, "environment": "e", "batch": f"{name}{u // 2}", "block": "", "unit": f"{name}{u}",
         "day": float(day), "count": float(n + (u * (i + 1) // 2) % 3 * (n > 0)), "sown": 25.0}
        for name, counts in days.items() for u in range(8) for i, (day, n) in enumerate(counts.items())
    ])


DECLARED = pd.DataFrame([{
    "contrast": "C", "taxon": "S", "environment": "", "a": "brush", "b": "hand", "quantity": "normal seedlings",
    "denominator": "filled", "kind": "equivalence", "margin": 15.0, "wanted": "higher", "primary": True, "asks_about": "",
    "refused": "", "margin_late": False}])
SPREAD_OUT, AT_ONCE = {3: 3, 7: 3, 14: 3, 28: 3}, {3: 0, 7: 12, 14: 0, 28: 0}


def test_brushed_seed_leaves_less_in_reserve_and_comes_up_at_once():
    found = reserve(dishes({"brush": 7, "hand": 15}), sheets({"brush": AT_ONCE, "hand": SPREAD_OUT}), DECLARED)
    assert isinstance(found, Effects)
    by = {e.quantity: e for e in found.effects if e.scale == "difference" and e.denominator in ("", "viable")}
    assert by["waiting seed"].value == pytest.approx(-32)
    assert all(e.upper < 0 for e in by.values()), by
    assert {e.verdict for e in found.effects} == {""}, "it was not declared, so it carries no verdict"


def test_a_declared_reserve_keeps_its_verdict():
    waiting = DECLARED.assign(quantity="waiting seed", denominator="viable", kind="superiority", margin=np.nan)
    asked_ = pd.concat([DECLARED, waiting])
    found = reserve(dishes({"brush": 7, "hand": 15}), sheets({"brush": AT_ONCE, "hand": SPREAD_OUT}), asked_)
    mine = [e for e in found.effects if e.quantity == "waiting seed" and e.denominator == "viable" and e.scale == "difference"]
    assert [e.verdict for e in mine] == ["worse"]


def test_reserve_answers_with_what_there_is():
    nothing = sheets({"brush": {}}).reindex(columns=["taxon", "treatment", "environment", "batch", "unit", "day", "count", "sown"])
    waiting = dishes({"brush": 7, "hand": 15})
    assert {e.quantity for e in reserve(waiting, nothing, DECLARED).groups} == {"waiting seed"}
    days = sheets({"brush": AT_ONCE, "hand": SPREAD_OUT})
    assert "waiting seed" not in {e.quantity for e in reserve(waiting.assign(k=np.nan), days, DECLARED).groups}
    assert isinstance(reserve(waiting.assign(k=np.nan), nothing, DECLARED), Refusal)
    refused = reserve(waiting, days, DECLARED.assign(refused="They differ in two things."))
    assert {e.verdict for e in refused.effects} == {"not judged"}


YEARS = st.lists(st.tuples(SHARES, SHARES), min_size=1, max_size=4)


@settings(deadline=None)
@given(YEARS, st.floats(0, 1))
def test_the_long_run_never_exceeds_the_mean_season(years, w):
    chances = np.full(len(years), 1 / len(years))
    weights = [1 - w, w]
    low, high = long_run(weights, years, chances), season_mean(weights, years, chances)
    assert low <= high + 1e-12
    if len(years) == 1:
        assert low == pytest.approx(high)


@settings(max_examples=40, deadline=None)
@given(YEARS)
def test_no_share_beats_the_best_one(years):
    chances = np.full(len(years), 1 / len(years))
    for of in (long_run, season_mean):
        best = best_share(years, chances, of=of)
        grid = np.linspace(0, 1, 201)
        assert of([1 - best, best], years, chances) >= of(np.column_stack([1 - grid, grid]), years, chances).max() - 1e-9


def test_a_season_that_leaves_nothing_ends_the_line():
    assert long_run([1, 0], [[0.1, 0.1], [0.0, 0.1]], [0.9, 0.1]) == 0
    assert long_run([1, 0], [[0.1, 0.1], [0.0, 0.1]], [1.0, 0.0]) == pytest.approx(0.1)
    assert best_share([[0.1, 0.05], [0.0, 0.05]], [0.9, 0.1]) > 0


@settings(deadline=None)
@given(SHARES, SHARES, SHARES)
def test_the_reserve_is_kept_with_the_least_share(kept, first, second):
    w = float(share_for_reserve(kept, first, second))
    if np.isnan(w):
        assert max(first, second) < kept
    else:
        assert (1 - w) * first + w * second >= kept - 1e-9
        assert w == 0 or (1 - w) * first + w * second == pytest.approx(kept)


def test_a_bag_holds_the_seeds_it_should():
    mass = bag([0.3, 0.7], 5000, [0.8, 0.5], [2.0, 1.0], [60, 0])
    assert mass[0] / 1.6 / 2.0 * 1000 * 0.8 == pytest.approx(1500)
    assert mass[1] / 1.0 * 1000 * 0.5 == pytest.approx(3500)


def seasons(**more):
    rows = [("good", 0.9, "early", 10.0), ("good", 0.9, "late", 8.5), ("bad", 0.1, "early", 1.0), ("bad", 0.1, "late", 5.95)]
    return pd.DataFrame(rows, columns=["season", "chance", "portion", "established"]).assign(**more)


PORTIONS = pd.DataFrame({"portion": ["early", "late"]})


def test_never_one_best():
    found = mixture(seasons(), PORTIONS)
    assert isinstance(found, Values)
    assert len([e for e in found.estimates if e.quantity == "share held back"]) == 2
    assert "not for numbers to say" in found.warnings[0]
    assert len(found.units) == 101
    assert not [e for e in found.estimates if e.unit == "g"], "without masses there is no bag"


def test_a_reserve_that_no_mixture_keeps_is_not_judged():
    found = mixture(seasons(), PORTIONS.assign(waiting=[10.0, 30.0], viable=90.0, thousand_g=1.0), keep=50.0)
    last = [e for e in found.estimates if e.quantity == "share held back"][-1]
    assert last.verdict == "not judged"
    assert sum(e.value for e in found.estimates if e.unit == "g") > 0
    unknown = mixture(seasons(), PORTIONS, keep=50.0)
    assert "reserve cannot be told" in unknown.warnings[-1]


@pytest.mark.parametrize("changes", [{"chance": 0.9}, {"established": 120.0}, {"established": -1.0}])
def test_seasons_that_cannot_be_are_errors(changes):
    with pytest.raises(UnfitValue):
        mixture(seasons(**changes), PORTIONS)


def test_a_portion_that_was_never_seen_is_refused():
    assert isinstance(mixture(seasons(), PORTIONS.head(1)), Refusal)
    assert isinstance(mixture(seasons().iloc[:3], PORTIONS), Refusal)


def effects(values=(4.0, 6.0, 9.0), half=(3.0, 4.0, 5.0), **changes):
    value, half = np.array(values), np.array(half)
    return pd.DataFrame({
        "package": [f"P{i}" for i in range(len(value))], "trial": "G", "taxon": [f"S{i}" for i in range(len(value))],
        "quantity": "germinated", "denominator": "viable", "unit": "%", "scale": "difference", "value": value,
        "lower": value - half, "upper": value + half, "confidence": 0.95, "n_units": 32,
    }).assign(**changes)


@pytest.mark.parametrize(("column", "other"), [
    ("quantity", "emerged"), ("denominator", "filled"), ("unit", "d"), ("scale", "ratio"),
])
def test_only_what_is_alike_is_pooled(column, other):
    rows = effects()
    rows.loc[2, column] = other
    refused = pool_evidence(rows)
    assert isinstance(refused, Refusal)
    assert column in refused.missing
    assert other in refused.missing


def test_one_effect_or_the_same_twice_is_refused():
    assert "1 effect" in pool_evidence(effects().head(1)).missing
    assert "twice" in pool_evidence(pd.concat([effects(), effects().head(1)])).missing
    assert isinstance(pool_evidence(effects().head(0)), Refusal)


def test_what_has_no_interval_is_left_out_and_told():
    rows = effects()
    rows.loc[0, "lower"] = np.nan
    found = pool_evidence(rows)
    assert len(found.groups) == 2
    assert found.warnings[0] == "1 effects without an interval were left out."


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-20, 20), st.floats(0.1, 9)), min_size=2, max_size=8), st.floats(0.1, 10), st.floats(-30, 30))
def test_pooling_follows_scale_and_shift(rows, times, shift):
    y, v = (np.array(column) for column in zip(*rows, strict=True))
    plain, moved = pool(y, v), pool(times * y + shift, times**2 * v)
    assert moved.mean == pytest.approx(times * plain.mean + shift, abs=2e-3 * times)
    assert moved.tau2 == pytest.approx(times**2 * plain.tau2, rel=1e-3, abs=1e-6 * times**2)
    assert y.min() - 1e-9 <= plain.mean <= y.max() + 1e-9
    assert 0 <= plain.i2 < 100
    assert plain.weights.sum() == pytest.approx(1)


def test_effects_that_agree_have_no_scatter():
    found = pool([2.0, 2.0, 2.0], [0.5, 1.0, 2.0])
    assert found.tau2 == 0
    assert found.i2 == 0
    assert found.mean == pytest.approx(2)
    assert found.error == pytest.approx((2 + 1 + 0.5) ** -0.5), "agreement by chance does not make it surer"


@pytest.mark.parametrize("method", ["REML", "DL"])
def test_pooled_intervals_cover(method):
    """Hartung-Knapp on 2000 made-up sets of six trials covers 95 %, give or take 1.5 points."""
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(1000):
        v = rng.uniform(0.5, 2.0, 6)
        found = pool(rng.normal(3.0, np.sqrt(v + 1.5)), v, method=method)
        hits += found.lower < 3.0 < found.upper
    assert hits / 1000 == pytest.approx(0.95, abs=0.02)


def test_ratios_are_pooled_as_logs():
    rows = effects().assign(scale="ratio", unit="1", denominator="", value=[1.2, 1.5, 1.1], lower=[1.0, 1.1, 0.8],
                            upper=[1.44, 2.0455, 1.5125])
    mean = pool_evidence(rows).effects[0]
    turned = rows.assign(value=1 / rows["value"], lower=1 / rows["upper"], upper=1 / rows["lower"])
    other = pool_evidence(turned).effects[0]
    assert mean.value == pytest.approx(1 / other.value, rel=1e-9)
    assert mean.lower == pytest.approx(1 / other.upper, rel=1e-9)


def test_pooling_needs_two_known_effects():
    for y, v in (([1.0], [1.0]), ([1.0, np.nan], [1, 1]), ([1.0, 2.0], [1, 0])):
        with pytest.raises(UnfitValue):
            pool(y, v)
    with pytest.raises(UnfitValue):
        between([1.0, 2.0], [1.0, 1.0], "guess")
