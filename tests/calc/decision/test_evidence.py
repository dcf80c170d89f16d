"""What must hold of contrasts, reserves, mixtures and evidence: one thing differs, mixtures weigh, like is pooled with like."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.decision.contrasts import one_factor
from palea.calc.decision.equivalence import equivalence, tost
from palea.calc.decision.evidence import pool_evidence
from palea.calc.decision.mixture import bag, best_share, long_run, mixture, season_mean, share_for_reserve
from palea.calc.decision.reserve import reserve
from palea.calc.results import Effects, Refusal, Values
from palea.calc.stats.pooling import between, pool
from palea.errors import UnfitValue

SHARES = st.floats(0.02, 0.98)


FACTORS = pd.DataFrame([
    ("T01", "on", "", "", ""), ("T02", "off", "", "", ""), ("T03", "off", "brush", "", ""),
    ("T04", "off", "brush", "", "sham"), ("T05", "off", "brush", "film", ""), ("T17", "off", "brush", "film", ""),
], columns=["treatment", "hull", "clean_method", "coat", "handling"]).assign(
    taxon="CC", active=["", "", "", "", "", "wetting agent"])
BRINGS = {"coat": ("handling",)}


def pairs_of(found):
    return set(zip(found.units["a"], found.units["b"], strict=True))


def test_the_map_joins_what_differs_in_one_thing():
    """The invented journey: T01-T03 has no edge, T01-T02 and T02-T03 have."""
    edges = pairs_of(one_factor(FACTORS, brings=BRINGS))
    assert {("T01", "T02"), ("T02", "T03"), ("T03", "T04"), ("T03", "T05"), ("T05", "T17")} <= edges
    assert ("T01", "T03") not in edges
    assert ("T04", "T05") in edges, "a coat brings its handling along"
    assert ("T04", "T05") not in pairs_of(one_factor(FACTORS))


def test_the_missing_arm_is_named():
    """The invented journey: in CC the arm that might pay, the wetting agent on the floret, is missing and the map says so."""
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
