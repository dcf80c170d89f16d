"""Drought and warmth: simulated dishes whose truth is known (that of the invented demo), refusals, rungs, verdicts."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from palea.calc.germination.conditions import series, settings
from palea.calc.germination.temperature import temperature
from palea.calc.germination.water import water
from palea.calc.results import Refusal

ARROW = pd.StringDtype("pyarrow")
TEXT = ("taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "chamber", "block")
VISITS = np.array([3.0, 5, 7, 10, 14, 21, 28])
POTENTIALS = (0.0, -0.2, -0.4, -0.6, -0.8)
DEMO = {"T03": (-0.62, 0.35, 3.1), "T06": (-0.31, 0.20, 1.9)}  # base potential, spread, hydrotime of the invented demo


def typed(frame):
    return frame.astype({name: ARROW for name in TEXT if name in frame})


def places(rows):
    """Environments of (name, chamber, run, day, night, water)."""
    columns = ["environment", "chamber", "run_no", "day_c", "night_c", "water_mpa"]
    return typed(pd.DataFrame(rows, columns=columns).assign(light_hours=12.0).astype({"run_no": "Float64"}))


def watered(potentials=POTENTIALS):
    return places([(f"P{round(-1000 * p)}", "C1", 1, 20.0, 10.0, p) for p in potentials])


def counted(times, treatment, environment, batches=1, visits=VISITS):
    """Intervals of (dishes, seeds) times; inf: never."""
    rows = []
    for d, of_dish in enumerate(times):
        at = np.searchsorted(visits, of_dish)
        for place, count in zip(*np.unique(at, return_counts=True), strict=True):
            rows.append(("CC", treatment, environment, f"{treatment}-b{d % batches}", f"{environment}-{treatment}-{d}",
                         np.append(0, visits)[place], np.append(visits, np.inf)[place], float(count)))
    return pd.DataFrame(rows, columns=["taxon", "treatment", "environment", "batch", "unit", "left", "right", "count"])


def shares_of(intervals):
    """Germinated of filled seeds, a row a dish, of the same counts."""
    keys = ["taxon", "treatment", "environment", "batch", "unit"]
    seen = intervals.assign(seen=intervals["count"].where(np.isfinite(intervals["right"]), 0.0))
    by = seen.groupby(keys, sort=False).agg(k=("seen", "sum"), n=("count", "sum")).reset_index()
    return typed(by.assign(quantity="germinated", denominator="filled"))


def drought(arms=None, potentials=POTENTIALS, dishes=4, seeds=25, share=0.55, rho=0.02, seed=1, batches=1):
    """G3 of the invented demo: hydrotime of CC, dishes differing by rho in the share that germinates."""
    chance = np.random.default_rng(seed)
    parts = []
    for name, (base, spread, constant) in (arms or DEMO).items():
        for potential in potentials:
            own = chance.beta(share * (1 - rho) / rho, (1 - share) * (1 - rho) / rho, (dishes, 1)) if rho else share
            above = potential - chance.normal(base, spread, (dishes, seeds))
            time = np.where(above > 0, constant / np.where(above > 0, above, 1), np.inf)
            time[chance.random((dishes, seeds)) > own] = np.inf
            parts.append(counted(time, name, f"P{round(-1000 * potential)}", batches))
    return typed(pd.concat(parts, ignore_index=True))


def question(a="T06", b="T03", quantity="germinated", **other):
    row = {
        "contrast": "C1", "taxon": "CC", "environment": "", "a": a, "b": b, "quantity": quantity,
        "denominator": "filled" if quantity == "germinated" else "", "kind": "equivalence", "margin": 15.0,
        "wanted": "higher", "primary": True, "asks_about": "coat", "refused": "", "margin_late": False,
    }
    return pd.DataFrame([row | other])


def found(result, quantity, **of):
    hits = [e for e in result.estimates if e.quantity == quantity and of.items() <= dict(e.of).items()]
    assert len(hits) == 1, [(e.quantity, dict(e.of)) for e in result.estimates]
    return hits[0]


def test_hydrotime_of_the_demo_is_recovered():
    """Journey 12, G3: psi_b50 -.62, sigma .35, theta 3.1 (T06: -.31, .20, 1.9). 4000 seeds a potential: within 5 %."""
    counts = drought(dishes=40, seeds=100, rho=0)
    result = water(counts, shares_of(counts), question(), watered(), replicates=199)
    for name, (base, spread, constant) in DEMO.items():
        assert found(result, "base water potential", treatment=name).value == pytest.approx(base, rel=0.05)
        assert found(result, "spread of base water potential", treatment=name).value == pytest.approx(spread, rel=0.05)
        assert found(result, "hydrotime", treatment=name).value == pytest.approx(constant, rel=0.05)
        assert found(result, "never-germinating share", treatment=name).value == pytest.approx(45, abs=1.5)


def test_intervals_of_the_trial_as_planned_hold_the_truth():
    """Four dishes of 25 a potential, rho .02: 80 trials; three standard errors of 80 at .95 are 7.3 points."""
    inside = dict.fromkeys(("base water potential", "hydrotime"), 0)
    for seed in range(80):
        counts = drought({"T03": DEMO["T03"]}, seed=seed)
        result = water(counts, shares_of(counts), question(), watered(), replicates=199)
        for quantity, truth in (("base water potential", -0.62), ("hydrotime", 3.1)):
            estimate = found(result, quantity, treatment="T03")
            inside[quantity] += estimate.lower <= truth <= estimate.upper
    assert all(hits / 80 >= 0.877 for hits in inside.values()), inside


def test_the_difference_of_base_potentials_is_shown_without_a_verdict_unless_declared():
    counts = drought()
    result = water(counts, shares_of(counts), question(), watered())
    effect = found(result, "base water potential", a="T06", b="T03")
    assert effect.lower < 0.31 < effect.upper
    assert (effect.verdict, effect.unit, effect.scale) == ("", "MPa", "difference")
    assert found(result, "hydrotime", a="T06", b="T03").scale == "ratio"
    asked = pd.concat([question(), question(quantity="base water potential", kind="superiority", margin=np.nan,
                                            wanted="lower")])
    judged = water(counts, shares_of(counts), asked, watered())
    assert found(judged, "base water potential", a="T06", b="T03").verdict == "worse"
    assert any("one batch" in warning for warning in judged.warnings)


def test_the_same_seed_gives_the_same_interval_and_order_does_not_matter():
    counts = drought()
    one = water(counts, shares_of(counts), question(), watered(), replicates=99)
    mixed = counts.sample(frac=1, random_state=3).reset_index(drop=True)
    two = water(mixed, shares_of(mixed), question(), watered(), replicates=99)
    for quantity in ("base water potential", "hydrotime"):
        a, b = (found(r, quantity, treatment="T03") for r in (one, two))
        assert (a.value, a.lower, a.upper) == pytest.approx((b.value, b.lower, b.upper), rel=1e-6)


def test_dishes_that_differ_widen_the_interval():
    """Over-dispersion: with the same number of seeds a high rho makes intervals wider."""
    wide = []
    for rho in (0.0, 0.3):
        widths = []
        for seed in range(8):
            counts = drought({"T03": DEMO["T03"]}, rho=rho, seed=seed)
            e = found(water(counts, shares_of(counts), question(), watered(), replicates=199), "never-germinating share")
            widths.append(e.upper - e.lower)
        wide.append(np.median(widths))
    assert wide[1] > 1.5 * wide[0]


@pytest.mark.parametrize(("potentials", "arm", "says"), [
    ((0.0, -0.2, -0.4), DEMO["T03"], "there are 3 with germination at 3"),
    ((0.0, -3.0, -4.0, -5.0), DEMO["T03"], "there are 4 with germination at 1"),
])
def test_too_few_potentials_are_refused_for_hydrotime_only(potentials, arm, says):
    counts = drought({"T03": arm, "T06": arm}, potentials)
    result = water(counts, shares_of(counts), question(), watered(potentials))
    estimate = found(result, "base water potential", treatment="T03")
    assert estimate.verdict == "not judged"
    assert says in estimate.reason
    assert "four potentials" in estimate.reason
    changes = [e for e in result.effects if e.quantity == "change of the effect with water"]
    assert len(changes) == len(potentials) - 1
    assert all(np.isfinite(e.value) for e in changes)


def test_dishes_are_drawn_within_potential_and_batch():
    """Each draw keeps the number of seeds of every potential and batch, as dishes hold the same number here."""
    counts = drought({"T03": DEMO["T03"]}, batches=2)
    line = series(counts, settings(watered())[0])["CC", "T03"]
    drawn = line.draws("a test", 50, 1)
    for level in range(len(POTENTIALS)):
        assert drawn[:, line.level == level].sum(axis=1) == pytest.approx(np.full(50, 100.0))
    assert np.unique(line.strata).size == 10
    assert line.df == 20 - 10


def test_one_potential_is_a_refusal():
    counts = drought(potentials=(0.0,))
    result = water(counts, shares_of(counts), question(), watered((0.0,)))
    assert isinstance(result, Refusal)
    assert isinstance(water(counts.iloc[:0], shares_of(counts).iloc[:0], question(), watered()), Refusal)


def factorial(logits, dishes=10, runs=2, seeds=25, run_sd=0.1, rho=0.02, seed=1, batches=1):
    """G2: shares of T03 and T06 by (temperature, water), {(treatment, warm, dry): logit}; runs differ on the logit."""
    chance = np.random.default_rng(seed)
    rows, table = [], []
    for warm in (False, True):
        for run in range(1, runs + 1):
            off = chance.normal(0, run_sd)
            for dry in (False, True):
                name = f"{'30-20' if warm else '20-10'}{'-dry' if dry else ''}-{run}"
                day = (30.0, 20.0) if warm else (20.0, 10.0)
                table.append((name, f"C{(run + warm) % 2 + 1}", run, *day, -0.4 if dry else 0.0))
                for treatment in ("T03", "T06"):
                    p = expit(logits[treatment, warm, dry] + off)
                    own = chance.beta(p * (1 - rho) / rho, (1 - p) * (1 - rho) / rho, dishes // runs)
                    rows += [("CC", treatment, name, f"{treatment}-b{d % batches}", f"{name}-{treatment}-{d}", "germinated",
                              "filled", float(chance.binomial(seeds, q)), float(seeds)) for d, q in enumerate(own)]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator", "k", "n"]
    return typed(pd.DataFrame(rows, columns=columns)), places(table)


def demo_logits(coat_in_dry=-1.1):
    """CC of G2: warm -.6, dry -.6, and T06 in dry a further -1.1 (journey 12)."""
    return {(t, warm, dry): -0.6 * warm - 0.6 * dry + coat_in_dry * (dry and t == "T06")
            for t in ("T03", "T06") for warm in (False, True) for dry in (False, True)}


NO_TIMES = typed(pd.DataFrame(columns=["taxon", "treatment", "environment", "batch", "unit", "left", "right", "count"])
                 .astype({"left": float, "right": float, "count": float}))


def test_the_coat_is_less_harmless_in_drought():
    """Encrusted CC in dry: the truth is expit(-1.7) - expit(-.6) - 0 = -20 points at 20/10."""
    shares, where = factorial(demo_logits(), dishes=40, seeds=25)
    result = water(NO_TIMES, shares, question(), where)
    change = found(result, "change of the effect with water", environment="20-10-dry-1")
    assert change.lower < 100 * (expit(-1.7) - expit(-0.6)) < change.upper
    assert change.verdict in ("not shown", "worse")
    assert change.upper < 0
    assert "the effect in 20/10 °C, -0.4 MPa less that in 20/10 °C, water" in change.reason
    assert (change.n_units, change.n_seeds, change.rung) == (160, 4000, "dish")


def test_coverage_of_the_interaction_and_its_false_alarms():
    """60 trials as planned (10 dishes of 25 in two runs): 95 % intervals, three standard errors are 8.4 points."""
    truth, inside, alarms = 100 * (expit(-1.7) - expit(-0.6)), 0, 0
    for seed in range(60):
        shares, where = factorial(demo_logits(), seed=seed)
        change = found(water(NO_TIMES, shares, question(), where), "change of the effect with water",
                       environment="20-10-dry-1")
        inside += change.lower <= truth <= change.upper
        shares, where = factorial(demo_logits(0.0), seed=seed)
        change = found(temperature(NO_TIMES, shares, question(), where), "change of the effect with temperature",
                       environment="30-20-1")
        alarms += not change.lower <= 0 <= change.upper
    assert inside / 60 >= 0.866
    assert alarms / 60 <= 0.134


def test_no_change_is_equivalent_within_the_margin_of_the_contrast():
    shares, where = factorial(demo_logits(0.0), dishes=80, seeds=50)
    result = water(NO_TIMES, shares, question(), where)
    assert found(result, "change of the effect with water", environment="20-10-dry-1").verdict == "equivalent within m"
    late = water(NO_TIMES, shares, question(margin_late=True), where)
    assert found(late, "change of the effect with water", environment="20-10-dry-1").verdict == ""


def test_batches_are_the_unit_of_the_change_where_both_sides_have_them():
    shares, where = factorial(demo_logits(), dishes=16, batches=4)
    change = found(water(NO_TIMES, shares, question(), where), "change of the effect with water",
                   environment="20-10-dry-1")
    assert (change.rung, change.df, change.n_batches) == ("batch", 6, 8)
    dry = shares["environment"].str.contains("dry")
    here = shares[shares["environment"].str.startswith("20-10")].assign(dry=dry)
    by = here.groupby(["treatment", "batch", "dry"])[["k", "n"]].sum()
    share = by["k"] / by["n"]
    falls = (share.xs(key=True, level="dry") - share.xs(key=False, level="dry")).groupby("treatment").mean()
    assert change.value == pytest.approx(100 * (falls["T06"] - falls["T03"]), abs=1e-9), "added up here by hand"


def test_a_refused_contrast_is_not_judged_under_stress_either():
    shares, where = factorial(demo_logits())
    change = found(water(NO_TIMES, shares, question(refused="Two factors differ."), where),
                   "change of the effect with water", environment="20-10-dry-1")
    assert change.verdict == "not judged"
    assert "Two factors differ." in change.reason
    gone = found(water(NO_TIMES, shares, question(a="T09"), where), "change of the effect with water",
                 environment="20-10-dry-1")
    assert "Two dishes at least of T09" in gone.reason


def test_the_effect_of_temperature_needs_incubator_runs():
    shares, where = factorial(demo_logits(), runs=2)
    main = found(temperature(NO_TIMES, shares, question(), where), "effect of temperature", environment="30-20-1")
    assert (main.rung, main.df, main.n_units, main.verdict) == ("incubator run", 2, 4, "")
    assert main.lower < 100 * (expit(-0.6) - 0.5) < main.upper
    single = ~shares["environment"].isin(["30-20-2", "30-20-dry-2"])
    uneven = found(temperature(NO_TIMES, shares[single], question(), where), "effect of temperature", environment="30-20-1")
    assert uneven.verdict == "not judged", "two runs of one temperature do not make up for one of the other"
    shares, where = factorial(demo_logits(), runs=1)
    result = temperature(NO_TIMES, shares, question(), where)
    main = found(result, "effect of temperature", environment="30-20-1")
    assert np.isnan(main.value)
    assert main.verdict == "not judged"
    assert "one incubator run each" in main.reason
    assert np.isfinite(found(result, "change of the effect with temperature", environment="30-20-1").value)


def warmed(temperatures, base=3.0, constant=60.0, spread=0.4, ceiling=np.inf, above=np.inf, share=0.7, seed=1, seeds=25,
           dishes=4, treatment="T03"):
    chance = np.random.default_rng(seed)
    visits = np.arange(1.0, 41)
    parts = []
    for warm in temperatures:
        theta = np.exp(chance.normal(0, spread, (dishes, seeds)))
        rate = min(max(warm - base, 0) / constant, max(ceiling - warm, 0) / above if np.isfinite(above) else np.inf)
        time = theta / rate if rate > 0 else np.full(theta.shape, np.inf)
        time[chance.random((dishes, seeds)) > share] = np.inf
        parts.append(counted(time, treatment, f"W{warm:g}", visits=visits))
    table = [(f"W{t:g}", "C1", i, t, t, 0.0) for i, t in enumerate(temperatures)]
    return typed(pd.concat(parts, ignore_index=True)), places(table)


def test_thermal_time_is_recovered_below_the_optimum():
    """Base 3 °C, 60 °C d, spread .4 on the log: 2000 seeds a temperature, within 5 %."""
    counts, where = warmed((6.0, 10, 14, 18, 22), seeds=100, dishes=20)
    result = temperature(counts, shares_of(counts), question(), where, replicates=99)
    assert found(result, "base temperature").value == pytest.approx(3, abs=0.2)
    assert found(result, "thermal time").value == pytest.approx(60, rel=0.05)
    assert found(result, "spread of thermal time").value == pytest.approx(0.4, rel=0.05)
    assert not [e for e in result.estimates if e.quantity == "optimum temperature"]


def test_cardinal_temperatures_are_recovered():
    """Rates rise from 3 °C by 1/60 a degree and fall to 40 °C by 1/25: they meet at 29.12 °C."""
    counts, where = warmed((8.0, 14, 20, 26, 32, 36), ceiling=40.0, above=25.0, seeds=100, dishes=20)
    result = temperature(counts, shares_of(counts), question(), where, replicates=199)
    for quantity, truth, off in (("base temperature", 3, 0.5), ("optimum temperature", 29.118, 0.5),
                                 ("ceiling temperature", 40, 0.5), ("thermal time", 60, 3)):
        estimate = found(result, quantity)
        assert estimate.value == pytest.approx(truth, abs=off)
        assert estimate.lower < estimate.value < estimate.upper


def test_thermal_time_needs_four_temperatures():
    counts, where = warmed((6.0, 10, 14))
    result = temperature(counts, shares_of(counts), question(), where)
    estimate = found(result, "thermal time")
    assert estimate.verdict == "not judged"
    assert "there are 3 with germination at 3" in estimate.reason
    counts, where = warmed((10.0,))
    assert isinstance(temperature(counts, shares_of(counts), question(), where), Refusal)


def test_settings_join_runs_and_leave_out_what_is_not_known():
    table = places([("E1", "C1", 1, 20, 10, 0), ("E2", "C2", 2, 20, 10, 0), ("E3", "C1", 1, 20, 20, np.nan)])
    found_settings, told = settings(table)
    assert [s.environments for s in found_settings] == [("E1", "E2")]
    assert found_settings[0].temperature == 15
    assert "E3" in told[0]
    weighted = places([("E1", "C1", 1, 30, 20, 0)]).assign(light_hours=8.0)
    assert settings(weighted)[0][0].temperature == pytest.approx((8 * 30 + 16 * 20) / 24)
