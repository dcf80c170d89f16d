"""Handling: simulated runs whose truth is known, what counts as a replicate, refusals, and laws of the formulas."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from palea.calc.handling import rates
from palea.calc.handling.damage import damage
from palea.calc.handling.falling import terminal_velocity
from palea.calc.handling.flow import carr_index, flow, flow_class, hausner_ratio
from palea.calc.handling.mixture import lacey_index, mixture
from palea.calc.handling.seeder import seeder
from palea.calc.handling.spacing import dispersion_index, random_variation
from palea.calc.results import Refusal
from palea.calc.stats.exact_rates import rate_interval, rate_ratio
from palea.errors import UnfitValue

ARROW = pd.StringDtype("pyarrow")
TEXT = ("taxon", "treatment", "environment", "batch", "unit", "run", "sample", "stage", "quantity", "denominator")


def typed(frame):
    return frame.astype({name: ARROW for name in TEXT if name in frame})


def question(a, b, quantity, **other):
    row = {
        "contrast": "C1", "taxon": "CC", "environment": "", "a": a, "b": b, "quantity": quantity, "denominator": "",
        "kind": "superiority", "margin": np.nan, "wanted": "lower", "primary": False, "asks_about": "coat",
        "refused": "", "margin_late": False,
    }
    return pd.DataFrame([row | other])


NOBODY = question("A", "B", "nothing asked")


def drilled(cvs, runs=5, length=20, mean=30, batches=1, run_sd=0.05, seed=1, speed=4.0, stops=None):
    """Counts by metre (negative binomial of that CV) and the runs, {treatment: CV} in CC."""
    chance = np.random.default_rng(seed)
    metres, table = [], []
    for name, cv in cvs.items():
        for r in range(runs):
            own = cv * np.exp(chance.normal(0, run_sd))
            size = 1 / max(own**2 - 1 / mean, 1e-9)
            counts = stats.nbinom.rvs(size, size / (size + mean), size=length, random_state=chance)
            run = f"{name}-{r}"
            metres += [(run, m + 1, float(k)) for m, k in enumerate(counts)]
            table.append(("CC", name, "", f"{name}-b{r % batches}", run, float(length), (stops or {}).get(name, 0.0), speed))
    columns = ["taxon", "treatment", "environment", "batch", "run", "length_m", "stops", "speed_km_h"]
    return typed(pd.DataFrame(metres, columns=["run", "metre", "count"])), typed(pd.DataFrame(table, columns=columns))


NO_GAPS = typed(pd.DataFrame({"run": [], "gap_mm": [], "wanted_mm": []}))


def found(result, quantity, **of):
    hits = [e for e in result.estimates if e.quantity == quantity and of.items() <= dict(e.of).items()]
    assert len(hits) == 1, [(e.quantity, dict(e.of)) for e in result.estimates]
    return hits[0]


def test_the_pellet_halves_the_row_variation_of_the_demo():
    """Row CV .50 and .24 at 30 units a metre, as the invented demo has them: five runs of 20 m tell them apart."""
    metres, runs = drilled({"T03": 0.50, "T08": 0.24})
    result = seeder(metres, runs, NO_GAPS, question("T08", "T03", "row variation"))
    effect = found(result, "row variation", a="T08", b="T03")
    assert effect.verdict == "better"
    assert effect.scale == "ratio"
    assert effect.lower < 0.48 < effect.upper
    assert (effect.n_units, effect.df, effect.rung) == (10, 8, "seeder run")
    assert found(result, "row variation", treatment="T03").value == pytest.approx(50, rel=0.12)
    assert found(result, "units per metre", treatment="T08").value == pytest.approx(30, rel=0.1)


def test_metres_are_no_replicates():
    """Ten times as many metres in the same runs leave the degrees of freedom as they were."""
    short, long = (drilled({"A": 0.5, "B": 0.4}, runs=3, length=n) for n in (20, 200))
    effects = [found(seeder(*each, NO_GAPS, question("B", "A", "row variation")), "row variation", a="B", b="A")
               for each in (short, long)]
    assert [e.df for e in effects] == [4, 4]
    assert [e.n_units for e in effects] == [6, 6]


def test_coverage_of_the_ratio_between_runs():
    """100 simulated pairs of five runs with a run SD of 15 %: about 95 of 100 intervals hold the true ratio 0.48.

    Its long-run value is that of the median run; three standard errors of 100 trials are 6.5 points.
    """
    inside = 0
    for seed in range(100):
        metres, runs = drilled({"T03": 0.50, "T08": 0.24}, run_sd=0.15, seed=seed, length=60)
        effect = found(seeder(metres, runs, NO_GAPS, question("T08", "T03", "row variation")), "row variation", a="T08")
        inside += effect.lower <= 0.48 <= effect.upper
    assert inside / 100 >= 0.885


def test_two_runs_are_described_only():
    metres, runs = drilled({"A": 0.5, "B": 0.4}, runs=2)
    result = seeder(metres, runs, NO_GAPS, question("B", "A", "row variation"))
    effect = found(result, "row variation", a="B", b="A")
    assert effect.verdict == "not judged"
    assert "described only" in effect.reason
    group = found(result, "row variation", treatment="A")
    assert np.isfinite(group.value)
    assert np.isnan(group.lower)


def test_batches_take_the_place_of_runs_where_both_sides_have_them():
    metres, runs = drilled({"A": 0.5, "B": 0.4}, runs=6, batches=3)
    effect = found(seeder(metres, runs, NO_GAPS, question("B", "A", "row variation")), "row variation", a="B", b="A")
    assert (effect.rung, effect.df, effect.n_batches) == ("batch", 4, 6)
    one = seeder(*drilled({"A": 0.5, "B": 0.4}), NO_GAPS, question("B", "A", "row variation"))
    assert any("one batch" in warning for warning in one.warnings)


def test_stops_and_speeds_are_told():
    metres, runs = drilled({"T01": 0.6, "T03": 0.35}, runs=5, stops={"T01": 1.0})
    runs.loc[runs["treatment"] == "T03", "speed_km_h"] = 6.0
    result = seeder(metres, runs, NO_GAPS, question("T03", "T01", "stops per 100 m"))
    stops = found(result, "stops per 100 m", treatment="T01")
    assert (stops.value, stops.n_units) == (5.0, 5)
    assert stops.lower == pytest.approx(1.6235, abs=1e-3), "5 stops in 100 m: Garwood's limits of 5"
    none = found(result, "stops per 100 m", treatment="T03")
    assert (none.value, none.lower) == (0, 0)
    assert none.upper == pytest.approx(3.6889, abs=1e-4)
    ratio = found(result, "stops per 100 m", a="T03", b="T01")
    assert ratio.value == 0
    assert ratio.upper > 0.5
    assert any("T03 ran at 6 km/h, T01 at 4" in warning for warning in result.warnings)


def test_gaps_between_seeds_are_judged_by_run():
    metres, runs = drilled({"A": 0.3, "B": 0.3}, runs=3)
    chance = np.random.default_rng(4)
    rows = [(run, float(gap), 33.0) for run in runs["run"]
            for gap in chance.gamma(9 if run.startswith("A") else 2, 33 / (9 if run.startswith("A") else 2), 60)]
    gaps = typed(pd.DataFrame(rows, columns=["run", "gap_mm", "wanted_mm"]))
    result = seeder(metres, runs, gaps, question("A", "B", "quality of feed", wanted="higher"))
    shares = [found(result, q, treatment="A").value for q in ("quality of feed", "multiples", "misses")]
    assert sum(shares) == pytest.approx(100, abs=1e-9)
    assert found(result, "quality of feed", a="A", b="B").verdict == "better"
    assert found(result, "spacing precision", treatment="A").value < 40


def test_what_was_delivered_becomes_live_seeds():
    """Journey 6: 2.0 kg/ha of a product that is 37.5 % coat are 1.25 kg/ha of bare seed; 2.5 g TSW, 80 % live: 40 m-2."""
    metres, runs = drilled({"T03": 0.4, "T06": 0.3}, runs=3)
    coated = runs["treatment"] == "T06"
    grams = np.tile([3.96, 4.0, 4.04], 2)  # 20 m at 1 m: 2 kg/ha are 4 g
    sown = runs.assign(delivered_g=grams, width_m=1.0, tsw_g=2.5, build_up_pct=np.where(coated, 60.0, 0.0), live_pct=80.0)
    result = seeder(metres, sown, NO_GAPS, question("T06", "T03", "live seeds per square metre"))
    assert found(result, "sowing rate of product", treatment="T06").value == pytest.approx(2.0, rel=1e-3)
    assert found(result, "sowing rate of bare seed", treatment="T06").value == pytest.approx(1.25, rel=1e-3)
    assert found(result, "live seeds per square metre", treatment="T06").value == pytest.approx(40, rel=1e-3)
    assert found(result, "live seeds per square metre", a="T06", b="T03").value == pytest.approx(0.625, rel=1e-3)
    assert any("37.5 % of it is coat; the bare-seed rate is 1.25, not 2 kg/ha." in warning for warning in result.warnings)
    assert not any(warning.startswith("T03: kg/ha") for warning in result.warnings)


def test_no_run_is_a_refusal():
    metres, runs = drilled({"A": 0.3})
    result = seeder(metres.iloc[:0], runs.iloc[:0], NO_GAPS, NOBODY)
    assert isinstance(result, Refusal)
    assert result.missing
    assert result.remedy


def caught(first, last, runs=5, samples=4, units=100, seed=2, name="bare"):
    """Samples of the thirds of a hopper of AV and CC; CC's share falls from first to last, dispersed by run."""
    chance = np.random.default_rng(seed)
    rows = []
    for r in range(runs):
        for third, share in zip((1, 2, 3), (first, (first + last) / 2, last), strict=True):
            for s in range(samples):
                k = chance.binomial(units, np.clip(share + chance.normal(0, 0.01), 0, 1))
                rows += [(name, "", f"{name}-b", f"{name}-{r}", third, f"{third}-{s}", taxon, float(n))
                         for taxon, n in (("CC", k), ("AV", units - k))]
    columns = ["treatment", "environment", "batch", "run", "third", "sample", "taxon", "count"]
    return typed(pd.DataFrame(rows, columns=columns))


def test_the_bare_mixture_of_the_demo_drifts_and_the_dressed_one_does_not():
    """CC's share by number .58 .50 .42 bare, .51 .50 .49 dressed (the invented demo)."""
    bare, dressed = caught(0.58, 0.42, samples=12), caught(0.51, 0.49, samples=12, name="dressed", seed=3)
    both = typed(pd.concat([bare, dressed], ignore_index=True))
    result = mixture(both, question("dressed", "bare", "drift along the hopper", wanted="higher"))
    bare = found(result, "drift along the hopper", taxon="CC", treatment="bare")
    assert bare.lower < -16 < bare.upper < 0
    assert found(result, "share in the first third", taxon="CC", treatment="bare").value == pytest.approx(58, abs=2)
    assert found(result, "share in the last third", taxon="CC", treatment="dressed").value == pytest.approx(49, abs=2)
    effect = found(result, "drift along the hopper", taxon="CC", a="dressed", b="bare")
    assert effect.lower < 14 < effect.upper
    assert effect.verdict == "better"
    mixed = [found(result, "mixing index", taxon="CC", treatment=t).value for t in ("bare", "dressed")]
    assert mixed[0] < mixed[1] <= 1.01


def test_two_hoppers_are_described_only():
    result = mixture(caught(0.58, 0.42, runs=2), question("bare", "bare", "drift along the hopper"))
    group = found(result, "drift along the hopper", taxon="CC", treatment="bare")
    assert np.isnan(group.lower)
    assert "described only" in group.reason
    assert isinstance(mixture(caught(0.5, 0.5).iloc[:0], NOBODY), Refusal)
    with pytest.raises(UnfitValue, match="third is 4"):
        mixture(caught(0.5, 0.5).assign(third=4), NOBODY)


def poured(seed=5):
    chance = np.random.default_rng(seed)
    rows = [("AV", name, "", f"{name}-b{i % 2}", f"{name}-{i}", 50.0, 50 / bulk / (1 + chance.normal(0, 0.01)),
             50 / tapped / (1 + chance.normal(0, 0.01)), 30.0, 50.0, 50.0, 4 + chance.normal(0, 0.2),
             float(name == "T01" and i < 2))
            for name, bulk, tapped in (("T01", 0.30, 0.42), ("T06", 0.60, 0.66)) for i in range(4)]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "mass_g", "bulk_ml", "tapped_ml", "cone_height_mm",
               "cone_radius_mm", "funnel_g", "funnel_s", "blocked"]
    return typed(pd.DataFrame(rows, columns=columns))


def test_flow_of_two_materials():
    result = flow(poured(), question("T06", "T01", "Hausner ratio", taxon="AV"))
    carr = found(result, "Carr index", treatment="T01")
    assert carr.value == pytest.approx(100 * 0.12 / 0.42, abs=1.5)
    assert carr.reason.startswith("Carr index: poor flow.")
    assert (carr.rung, carr.n_units, carr.n_batches) == ("batch", 4, 2)
    effect = found(result, "Hausner ratio", a="T06", b="T01")
    assert effect.value == pytest.approx(1.1 / 1.4, rel=0.02)
    assert effect.verdict == "better"
    assert not [e for e in result.groups if e.quantity == "terminal velocity"]
    measured = poured().assign(diameter_mm=np.tile([2.0, 2.02, 1.98, 2.0], 2), seed_g_ml=1.3)
    falls = found(flow(measured, NOBODY), "terminal velocity", treatment="T01")
    assert falls.value == pytest.approx(7.8, abs=0.1)
    blocked = found(result, "blockages", treatment="T01")
    assert (blocked.value, blocked.n_units) == (50.0, 4)
    assert blocked.lower > 5
    running = result.units[result.units["quantity"] == "funnel flow"]
    assert set(running["unit"]) == {"T01-2", "T01-3", "T06-0", "T06-1", "T06-2", "T06-3"}, "a blocked funnel has no flow"
    assert isinstance(flow(poured().iloc[:0], NOBODY), Refusal)


def after_the_meter(shares, dishes=4, n=25, seed=6):
    chance = np.random.default_rng(seed)
    rows = [("AV", "T03", "", "b", f"{stage}-{d}", "normal seedlings", "filled", float(chance.binomial(n, share)), float(n), stage)
            for stage, share in shares.items() for d in range(dishes)]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "k", "n", "stage"]
    return typed(pd.DataFrame(rows, columns=columns))


def test_damage_of_the_meter():
    gone = damage(after_the_meter({"before": 0.85, "after": 0.45}, dishes=8), margin=10)
    effect = gone.effects[0]
    assert effect.verdict == "worse"
    assert effect.lower < -40 < effect.upper
    kept = damage(after_the_meter({"before": 0.85, "after": 0.85}, dishes=16), margin=15).effects[0]
    assert kept.verdict == "no worse by more than m"
    assert damage(after_the_meter({"before": 0.85, "after": 0.85}), margin=np.nan).effects[0].verdict == ""
    assert isinstance(damage(after_the_meter({"before": 0.85, "after": 0.45}, dishes=1)), Refusal)


@given(st.floats(0.05, 2), st.floats(1.0, 3.0))
def test_carr_and_hausner_say_the_same(bulk, ratio):
    assert carr_index(bulk, bulk * ratio) == pytest.approx(100 * (1 - 1 / hausner_ratio(bulk, bulk * ratio)), abs=1e-9)


@given(st.lists(st.floats(0, 60), min_size=2, max_size=30))
def test_less_compressible_is_never_a_worse_class(values):
    order = ["excellent", "good", "fair", "passable", "poor", "very poor", "very, very poor"]
    words = [order.index(word) for word in flow_class(np.sort(values)).tolist()]
    assert words == sorted(words)


@given(st.floats(1e-4, 5e-3), st.floats(200, 2000))
def test_larger_and_denser_balls_fall_faster(diameter, density):
    assert terminal_velocity(diameter * 1.01, density) > terminal_velocity(diameter, density)
    assert terminal_velocity(diameter, density * 1.01) > terminal_velocity(diameter, density)


@given(st.floats(0.1, 50), st.floats(0.01, 10), st.floats(0.05, 1), st.floats(0, 1500))
def test_rate_and_live_seeds_are_inverse(live_m2, tsw, live, build_up):
    rate = rates.rate_for_live_seeds(live_m2, tsw, live, build_up)
    assert rates.live_seeds_per_m2(rate, tsw, live, build_up) == pytest.approx(live_m2, rel=1e-9)


@given(st.integers(0, 200), st.floats(0.1, 100))
def test_the_exact_interval_holds_the_rate(events, exposure):
    lower, upper = rate_interval(events, exposure)
    assert lower <= events / exposure < upper
    assert stats.poisson.cdf(events, upper * exposure) == pytest.approx(0.025, abs=1e-9)


def test_a_ratio_of_rates_turns_over():
    ratio, lower, upper = rate_ratio(3, 10, 9, 15)
    other, low, high = rate_ratio(9, 15, 3, 10)
    assert (1 / ratio, 1 / upper, 1 / lower) == pytest.approx((other, low, high), rel=1e-9)
    assert ratio == pytest.approx((3 / 10) / (9 / 15), rel=1e-12)
    assert np.isnan(rate_ratio(0, 1, 0, 1)).all()
    assert rate_ratio(2, 1, 0, 1)[2] == np.inf


def test_chance_alone_has_a_dispersion_of_one():
    counts = np.random.default_rng(8).poisson(30, (2000, 40))
    assert dispersion_index(counts).mean() == pytest.approx(1, abs=0.02)
    assert random_variation(25) == 20


def test_chance_alone_mixes_wholly():
    shares = np.random.default_rng(9).binomial(80, 0.3, (3000, 12)) / 80
    assert np.mean([lacey_index(row, 0.3, 80) for row in shares]) == pytest.approx(1, abs=0.002)


@pytest.mark.parametrize(("call", "says"), [
    (lambda: hausner_ratio(0.5, 0.4), "tapped density lies below"),
    (lambda: rates.live_seeds_per_m2(2, 1, 1.2), "a share from 0 to 1"),
    (lambda: rates.sowing_rate(100, 1, 0.0), "share 1 is 0"),
    (lambda: rate_interval(1.5, 2), "whole numbers"), (lambda: rate_interval(1, 0), "above 0"),
    (lambda: terminal_velocity(0.002, 0.5), "above that of the fluid"), (lambda: terminal_velocity(0, 900), "above 0"),
    (lambda: lacey_index([0.2, 0.3], 1.0, 50), "share is 1"),
])
def test_what_cannot_be_is_refused_in_words(call, says):
    with pytest.raises(UnfitValue, match=says):
        call()
