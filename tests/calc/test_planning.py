"""What must hold for every plan: balanced layouts that come back, sizes that grow as they should, seed that is kept."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.planning.layout import layout
from palea.calc.planning.seed import seed_needed
from palea.calc.planning.size import best_use, power_curves, size
from palea.calc.planning.variances import own_variances
from palea.calc.results import Layout, Refusal, Values
from palea.calc.stats import design, share_means
from palea.calc.stats import power as formulas
from palea.calc.stats import simulated_power as simulated
from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

SEEDS = st.integers(0, 10_000)


def arms(count, **columns):
    return pd.DataFrame({"treatment": [f"T{i:02d}" for i in range(1, count + 1)]} | columns)


MAINS = pd.DataFrame({"main": ["fenced", "open"]})
ASKED = {
    "completely randomised": {}, "randomised blocks": {"repeats": 5}, "Latin square": {},
    "split plot": {"mains": MAINS}, "alpha": {"block_size": 2, "repeats": 3},
}


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.sampled_from(sorted(ASKED)))
def test_a_layout_is_balanced_and_comes_back(seed, name):
    made = [layout(arms(6), design=name, seed=seed, **ASKED[name]) for _ in range(2)]
    assert isinstance(made[0], Layout)
    assert made[0].units.equals(made[1].units)
    assert all(check.holds for check in made[0].checks), made[0].checks
    assert not made[0].warnings
    assert (made[0].units["unit"] == np.arange(1, len(made[0].units) + 1)).all()
    assert not made[0].units.duplicated(["row", "column"]).any()


@pytest.mark.parametrize("name", sorted(ASKED))
def test_another_seed_gives_another_layout(name):
    orders = {tuple(layout(arms(6), design=name, seed=seed, **ASKED[name]).units["treatment"]) for seed in range(8)}
    assert len(orders) == 8


def test_version_1_stays_what_it_is():
    """A package written today is laid out again years from now: these orders may never change under version 1."""
    assert design.VERSION == 1
    pinned = {name: "".join(layout(arms(4), design=name, seed=1, **more).units["treatment"].str[-1]) for name, more in {
        "completely randomised": {"repeats": 2}, "randomised blocks": {"repeats": 2}, "Latin square": {},
        "split plot": {"mains": MAINS, "repeats": 1}, "alpha": {"block_size": 2, "repeats": 2},
    }.items()}  # fmt: skip
    assert pinned == {
        "completely randomised": "32321441", "randomised blocks": "32412413", "Latin square": "4312342112342143",
        "split plot": "23411432", "alpha": "43213241",
    }


def test_blocks_are_in_an_order_of_their_own():
    """Every order of three is as likely: 6000 blocks, each order 1000 times give or take 4.5 standard deviations."""
    plan = design.complete_blocks(3, 6000, seed=4)
    _, times = np.unique(plan @ [9, 3, 1], return_counts=True)
    assert len(times) == 6
    assert np.abs(times - 1000).max() < 4.5 * np.sqrt(6000 * 1 / 6 * 5 / 6)


def test_unequal_numbers_are_laid_out_and_told():
    made = layout(arms(3, repeats=[4, 2, 2]), design="completely randomised")
    assert made.units["treatment"].value_counts().to_dict() == {"T01": 4, "T02": 2, "T03": 2}
    assert made.warnings == ("Not balanced: Every treatment lies on the same number of units.",)


def test_a_field_of_a_given_width():
    made = layout(arms(6), repeats=4, columns=8)
    assert (made.units["row"].max(), made.units["column"].max()) == (3, 8)


def test_a_split_plot_nests_what_it_should():
    units = layout(arms(3), MAINS, "split plot", repeats=4).units
    assert units["main_plot"].nunique() == 8
    assert len(units.drop_duplicates(["main_plot", "main"])) == 8
    assert (units.groupby("main_plot")["treatment"].nunique() == 3).all()


@pytest.mark.parametrize(("count", "asked", "says"), [
    (1, {}, "only one treatment"), (6, {"design": "split plot"}, "Nothing tells main plots apart"),
    (7, {"design": "alpha", "block_size": 3}, "cannot be shared out"), (6, {"design": "alpha", "block_size": 4}, "2, 3."),
    (6, {"design": "alpha", "block_size": 3, "repeats": 1}, "Ask for 2"), (20, {"design": "Latin square"}, "400 units"),
])
def test_what_cannot_be_laid_out_is_refused_with_a_way_out(count, asked, says):
    refused = layout(arms(count), **asked)
    assert isinstance(refused, Refusal)
    assert says in f"{refused.missing} {refused.remedy}"


@pytest.mark.parametrize(("frame", "asked"), [
    (arms(4), {"design": "spiral"}), (arms(4), {"repeats": 0}), (pd.DataFrame({"treatment": ["a", "a"]}), {}),
    (arms(3, repeats=[1, 0, 2]), {"design": "completely randomised"}),
])
def test_what_makes_no_sense_is_an_error(frame, asked):
    with pytest.raises(UnfitValue):
        layout(frame, **asked)


def test_changing_places_evens_out_what_the_array_cannot():
    """k above s: two treatments of different columns must meet twice; places are changed until no change helps."""
    plan = design.alpha_design(20, 5, 2, seed=1)
    array = design._developed(design._generating_array(4, 5, 2, seed=1), 4)

    def uneven(blocks):
        return (np.triu(design.concurrences(blocks.reshape(-1, 5), 20), 1) ** 2).sum()

    assert uneven(plan) <= uneven(array)
    meet = design.concurrences(plan.reshape(-1, 5), 20)
    np.fill_diagonal(meet, 0)
    for replicate in range(2):
        for one, other in zip(*np.triu_indices(20, 1), strict=True):
            changed = plan.copy()
            flat = changed[replicate].reshape(-1)
            flat[one], flat[other] = flat[other], flat[one]
            gain = design._gain(plan[replicate], meet)[one, other]
            assert uneven(changed) - uneven(plan) == gain >= 0


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.sampled_from([(12, 3, 3), (12, 4, 4), (20, 5, 3), (16, 2, 4)]))
def test_alpha_designs_meet_as_evenly_as_their_array(seed, shape):
    """Resolvable, and the most that two treatments meet is the most that any difference repeats."""
    treatments, size, replicates = shape
    plan = design.alpha_design(treatments, size, replicates, seed)
    assert (np.sort(plan.reshape(replicates, -1), axis=1) == np.arange(treatments)).all()
    meet = design.concurrences(plan.reshape(-1, size), treatments)
    assert (np.diag(meet) == replicates).all()
    assert meet[np.triu_indices(treatments, 1)].sum() == replicates * treatments * (size - 1) / 2
    assert 0 < design.efficiency(plan.reshape(-1, size), treatments) < 1


PLAIN = {"contrast": "C", "taxon": "S", "a": "x", "b": "y", "quantity": "emerged", "scale": "difference",
         "level_a": 80.0, "level_b": 70.0, "seeds": 25, "rho": 0.02}


def units(**changes):
    """Units needed of one question."""
    return size(pd.DataFrame([PLAIN | changes]), trials=0).estimates[0].value


def test_more_is_needed_for_less():
    assert units(level_a=85) < units() < units(level_a=75)
    assert units(rho=0.0) < units() < units(rho=0.1)
    assert units(seeds=50) < units() < units(seeds=10)
    assert units(kind="equivalence", level_a=70, margin=15) < units(kind="equivalence", level_a=70, margin=10)
    assert units(kind="no worse", level_a=70, margin=10) < units(kind="equivalence", level_a=70, margin=10)


def test_the_two_ends_of_a_share_are_alike():
    """Germinated or not: 70 and 80 % ask for as many as 30 and 20 %; a loss is no worse as its opposite."""
    assert units() == units(level_a=20, level_b=30)
    up = units(kind="no worse", level_a=72, margin=10)
    assert up == units(kind="no worse", level_a=28, level_b=30, margin=10, wanted="lower")


def test_batches_are_the_units_where_they_vary():
    batches = size(pd.DataFrame([PLAIN | {"dishes": 4, "batch_sd": 0.2}]), trials=0).estimates[0]
    assert batches.rung == "batch"
    assert batches.value > units(seeds=100, rho=0.02 * 24 / 99)
    assert units(dishes=4, batch_sd=0.1) < units(dishes=4, batch_sd=0.4)


def test_a_ratio_of_times_and_of_hazards():
    time = {"scale": "ratio", "ratio": 1.2, "log_sd": 0.1}
    assert units(**time) == units(**time | {"ratio": 1 / 1.2}), "a fifth earlier is as hard to see as a fifth later"
    assert units(**time) < units(**time | {"log_sd": 0.2})
    assert units(**time | {"ratio": 1.0, "kind": "equivalence", "margin": 1.25}) > 2
    hazard = {"scale": "hazard ratio", "ratio": 0.7, "level_b": 60, "seeds": 8}
    assert units(**hazard) > units(**hazard | {"ratio": 0.5})
    assert units(**hazard | {"rho": 0.1}) > units(**hazard)
    no_worse = hazard | {"kind": "no worse", "ratio": 1.0, "margin": 1.5}
    assert units(**no_worse) < units(**no_worse | {"margin": 1.3}) < units(**no_worse | {"kind": "equivalence", "margin": 1.3})


@pytest.mark.parametrize(("changes", "says"), [
    ({"level_a": 70.0}, "No difference is expected"), ({"level_a": np.nan}, "Not known: level a"),
    ({"kind": "equivalence"}, "margin"), ({"kind": "equivalence", "margin": 10}, "reaches the margin"),
    ({"kind": "no worse", "level_a": 55.0, "margin": 10}, "reaches the margin"),
])
def test_what_no_number_answers_is_said(changes, says):
    found = size(pd.DataFrame([PLAIN | changes]), trials=0).estimates[0]
    assert np.isnan(found.value)
    assert says in found.reason


@pytest.mark.parametrize("changes", [{"kind": "better"}, {"scale": "odds ratio"}])
def test_a_question_of_an_unknown_kind_is_an_error(changes):
    with pytest.raises(UnfitValue, match="allowed are"):
        size(pd.DataFrame([PLAIN | changes]))


def test_an_unknown_rho_is_taken_and_its_range_told():
    found = size(pd.DataFrame([PLAIN | {"rho": np.nan}]), trials=0).estimates[0]
    assert "rho was not known" in found.reason
    assert f"{units(rho=0.0):.0f} to {units(rho=0.1):.0f}" in found.reason


def test_enough_is_no_warning_and_no_question_is_refused():
    enough = size(pd.DataFrame([PLAIN | {"have": 40}]), trials=200)
    assert not enough.warnings
    chance = next(e for e in enough.estimates if e.quantity == "power")
    assert chance.lower < chance.value < chance.upper
    assert chance.value > 90
    assert isinstance(size(pd.DataFrame()), Refusal)


@settings(deadline=None)
@given(st.floats(0.05, 0.95), st.floats(0.05, 0.95), st.integers(4, 60), st.floats(0, 0.3))
def test_needed_and_power_are_each_others_inverse(a, b, seeds, rho):
    if abs(a - b) < 0.02:
        return
    n = formulas.units_for_difference(a, b, seeds=seeds, rho=rho)
    assert formulas.power_of_difference(a, b, n, seeds=seeds, rho=rho) == pytest.approx(0.8, abs=1e-9)


@settings(deadline=None)
@given(st.floats(0.1, 0.9), st.integers(5, 60))
def test_the_smallest_difference_seen_is_just_seen(share, n):
    seen = formulas.smallest_difference(share, n, seeds=25, rho=0.02)
    if np.isfinite(seen):
        assert formulas.units_for_difference(share + seen, share, seeds=25, rho=0.02) == pytest.approx(n, rel=1e-6)


@pytest.mark.parametrize("call", [
    lambda: formulas.units_for_difference(1.2, 0.5), lambda: formulas.units_for_difference(0.6, 0.5, power=1.0),
    lambda: formulas.units_for_difference(0.6, 0.5, alpha=0), lambda: formulas.units_for_no_worse(0.5, 0.5, 0),
    lambda: formulas.units_for_means(1, 0), lambda: simulated.draw(simulated.Trial(0.0, 0.5), 4, 10, 1),
    lambda: simulated.draw(simulated.Trial(0.5, 0.5, rho=1.0), 4, 10, 1),
    lambda: simulated.power(simulated.Trial(0.5, 0.6), [8, 4]),
    lambda: simulated.power(simulated.Trial(0.5, 0.6), [8], kind="equivalence"),
])
def test_numbers_that_cannot_be_are_errors(call):
    with pytest.raises(UnfitValue):
        call()


def test_more_units_see_more_and_curves_pass_through_the_formula():
    few, many = power_curves(60, [16, 171], 8, 0.05).curves
    assert (many.value >= few.value - 1e-9).all()
    assert np.interp(6, many.time, many.value) == pytest.approx(80, abs=0.5)


def test_the_same_seeds_see_more_in_smaller_dishes():
    table = best_use(400, 80, 70, rho=0.05)
    assert (table["dishes"] * table["seeds"] == 400).all()
    assert table["power"].is_monotonic_decreasing
    assert table["smallest_difference"].is_monotonic_increasing
    even = best_use(400, 80, 70, rho=0.0)
    assert np.ptp(even["effective_seeds"]) == 0, "independent seeds do not care which dish they lie in"


WAYS = [
    {"blocked": True, "block_sd": 0.25, "rho": 0.05}, {"rho": 0.05}, {"others": (0.5, 0.9), "rho": 0.02},
    {"by_means": True, "batch_sd": 0.1, "dishes": 4, "rho": 0.02}, {"by_means": True, "others": (0.99,), "dishes": 2},
    {"blocked": True, "block_sd": 0.4, "others": (0.5, 0.7), "rho": 0.1}, {"blocked": True, "seeds": 4, "rho": 0.4},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_made_up_trials_are_fitted_as_real_ones(way):
    """Every interval is the one that share_means gives for the same counts, penalised fits included."""
    trial = simulated.Trial(**{"share_a": 0.8, "share_b": 0.7, "seeds": 10} | way)
    drawn, n = simulated.draw(trial, 7, 40, 5), trial.seeds * trial.dishes
    arms_ = simulated.analysed(drawn, n, blocked=trial.blocked, by_means=trial.by_means)
    low, high = arms_.difference(0.95)
    many = drawn.shape[1]
    names, block = np.repeat([f"t{i}" for i in range(many)], 7), np.tile([f"b{i}" for i in range(7)], many)
    fit = share_means.of_batches if trial.by_means else share_means.of_counts
    for i, k in enumerate(drawn):
        means = fit(names, k.ravel(), np.full(k.size, float(n)), block if trial.blocked else None)
        ours = means.difference("t0", "t1", t_quantile(0.95, means.df))[1:]
        assert (low[i], high[i]) == pytest.approx(ours, abs=2e-6)


@pytest.mark.parametrize("way", WAYS[:4], ids=str)
def test_without_a_difference_the_analysis_is_rarely_wrong(way):
    """Each side may be wrong in 2.5 %: of 4000 trials no more than 2.5 % + 4 standard errors."""
    trial = simulated.Trial(**{"share_a": 0.6, "share_b": 0.6, "seeds": 10} | way)
    wrong = simulated.power(trial, [16], trials=4000)[0]
    assert wrong < 0.025 + 4 * np.sqrt(0.025 * 0.975 / 4000)


def test_simulated_power_answers_every_kind():
    trial = simulated.Trial(0.75, 0.75, seeds=25, rho=0.03)
    no_worse = simulated.power(trial, [8, 16, 32], kind="no worse", margin=0.1)
    both = simulated.power(trial, [8, 16, 32], kind="equivalence", margin=0.1)
    assert (np.diff(no_worse) > 0).all()
    assert (both < no_worse).all()
    exact = formulas.units_for_equivalence(0.75, 0.75, 0.1, seeds=25, rho=0.03)
    assert simulated.power(trial, [round(exact)], kind="equivalence", margin=0.1)[0] == pytest.approx(0.8, abs=0.06)
    assert no_worse[1] == pytest.approx(0.8, abs=0.05)
    lower = simulated.power(trial, [16], kind="no worse", margin=0.1, wanted="lower")
    assert lower[0] == pytest.approx(no_worse[1], abs=0.05)


def test_the_same_seed_gives_the_same_power():
    trial = simulated.Trial(0.7, 0.6, rho=0.05)
    assert simulated.power(trial, [8, 16], seed=3).tolist() == simulated.power(trial, [8, 16], seed=3).tolist()
    assert simulated.power(trial, [16], seed=3)[0] != simulated.power(trial, [16], seed=4)[0]


NEED = {"lot": "L", "trial": "G", "treatment": "a", "units": 16, "seeds": 25, "received_g": 5.2}
LOT = {"lot": "L", "held_g": 100.0, "keep_g": np.nan}


def asked(*rows, lots=(LOT,), **more):
    return seed_needed(pd.DataFrame([NEED | row for row in rows]), pd.DataFrame(list(lots)), **more)


def test_seed_adds_up():
    found = asked({}, {"treatment": "b", "recovery": 0.78, "clean_g": 2.7, "build_up": 60.0, "batches": 4})
    assert isinstance(found, Values)
    needed, left = found.estimates
    assert needed.value == pytest.approx(400 * 5.2 / 1000 * (1 + 1 / 0.78))
    assert needed.value + left.value == pytest.approx(100)
    product = found.units.iloc[1]
    assert product["product_g"] == pytest.approx(400 * 2.7 / 1000 * 1.6)
    assert product["a_unit_g"] * 16 == pytest.approx(product["product_g"])
    assert product["a_batch_g"] * 4 == pytest.approx(product["from_lot_g"])


@settings(max_examples=40, deadline=None)
@given(st.floats(1.0, 60.0), st.floats(0.0, 20.0), st.floats(0.0, 1.0))
def test_the_largest_plan_that_fits_does_fit_and_the_keep_sample_stays(held, keep, spare):
    lots = [{"lot": "L", "held_g": held, "keep_g": keep}]
    rows = [{"treatment": f"t{i}", "units": 10 + i} for i in range(6)]
    found = asked(*rows, lots=lots, spare=spare)
    fitting = found.units["fitting_units"]
    smaller = [row | {"units": int(n)} for row, n in zip(rows, fitting, strict=True)]
    again = asked(*smaller, lots=lots, spare=spare)
    taken = again.estimates[0].value
    assert taken <= max(held - keep, 0) + 1e-6
    assert (fitting == found.units["units"]).all() == (not found.warnings)


def test_a_lot_that_nobody_weighed_is_not_judged():
    found = asked({"lot": "M"})
    assert np.isnan(found.estimates[1].value)
    assert "not known" in found.warnings[0]


def test_a_keep_sample_alone_can_make_it_short():
    lots = [{"lot": "L", "held_g": 2.1, "keep_g": 1.0}]
    assert asked({}, lots=lots).warnings == (
        ("The plan takes 2.08 g of L; the lot holds 2.1 g, of which 1 g are the keep-sample. "
         "Largest plan that fits: 8 units an arm."),
    )
    assert "No unit can be sown" in asked({}, lots=[{"lot": "L", "held_g": 1.0, "keep_g": 1.0}]).warnings[0]


def test_seed_that_cannot_be_is_an_error_and_no_plan_a_refusal():
    with pytest.raises(UnfitValue, match="recovery of a is 0"):
        asked({"recovery": 0.0})
    with pytest.raises(UnfitValue, match="units of a is -1"):
        asked({"units": -1})
    assert isinstance(seed_needed(pd.DataFrame(columns=list(NEED)), pd.DataFrame([LOT])), Refusal)


def counted(trial, batches, seed=11, rng_taxon="S"):
    """Dishes of a made-up trial, as the view of shares lays them out."""
    rng = np.random.default_rng(seed)
    rows = []
    for name, share in zip("ab", trial.shares, strict=True):
        for b in range(batches):
            p = 1 / (1 + np.exp(-(np.log(share / (1 - share)) + rng.normal(0, trial.batch_sd))))
            of_dish = rng.beta(p * (1 - trial.rho) / trial.rho, (1 - p) * (1 - trial.rho) / trial.rho, trial.dishes)
            rows += [{"taxon": rng_taxon, "treatment": name, "environment": "e", "batch": f"{name}{b}", "unit": f"{name}{b}{d}",
                      "quantity": "germinated", "denominator": "viable", "k": float(rng.binomial(trial.seeds, q)),
                      "n": float(trial.seeds)} for d, q in enumerate(of_dish)]
    return pd.DataFrame(rows)


@pytest.mark.parametrize(("rho", "batch_sd"), [(0.02, 0.4), (0.1, 0.4), (0.1, 0.0)])
def test_own_variances_are_those_the_dishes_were_made_with(rho, batch_sd):
    trial = simulated.Trial(0.6, 0.7, rho=rho, batch_sd=batch_sd, dishes=6, seeds=50)
    likeness, spread = own_variances(counted(trial, 300)).estimates
    assert likeness.value == pytest.approx(rho, abs=0.01)
    assert spread.value == pytest.approx(batch_sd, abs=0.06 if batch_sd else 0.12)
    assert likeness.reason == spread.reason == "Of germinated of viable."


def test_own_variances_say_what_they_lack():
    few = counted(simulated.Trial(0.6, 0.7, rho=0.05, batch_sd=0.2, dishes=4), 2)
    assert all("rough guide" in e.reason for e in own_variances(few).estimates[1:])
    one = counted(simulated.Trial(0.6, 0.7, rho=0.05, dishes=4), 1)
    assert np.isnan(own_variances(one).estimates[1].value)
    assert "two batches of one treatment" in own_variances(one).estimates[1].reason
    assert isinstance(own_variances(one.assign(k=np.nan)), Refusal)
    with pytest.raises(UnfitValue):
        own_variances(one.assign(k=99.0))
