"""Emergence: known truths come back, intervals cover, and each effect is judged where it was applied."""

import numpy as np
import pandas as pd
import pytest
from scipy import special

from palea.calc.field.emergence import final, time
from palea.calc.results import Refusal
from palea.errors import UnfitValue


def _effect(result, at=0):
    return result.effects[at]


def test_the_delaying_coat_is_better_on_the_sand(trials):
    """F1: 7 against 17 of 100 viable stand; the chance to see it is 99 %."""
    words = [
        _effect(final(trials.emerged({"T01": 0.07, "T07": 0.17}, seed), trials.ask())).verdict for seed in range(40)
    ]
    assert words.count("better") >= 38


def test_intervals_cover_what_is_true(trials):
    """Of 120 trials with wild seedlings, 95 % intervals hold the true difference of 7 points in 95 % (two errors: 4)."""
    held = []
    for seed in range(120):
        plots = trials.emerged({"T01": 0.10, "T07": 0.17, "T05": 0.12}, seed, wild=0.6, block_sd=0.0)
        effect = _effect(final(plots, trials.ask(), trials.unsown(0.6, seed)))
        held.append(effect.lower <= 7 <= effect.upper)
    assert np.mean(held) >= 0.91


def test_wild_seedlings_come_off_and_widen(trials):
    """With 11 wild seedlings a plot, 10 points of 110 seeds, shares fall to the truth, and their intervals get longer."""
    found = []
    for seed in range(6):
        plots = trials.emerged({"T01": 0.10, "T07": 0.20}, seed, wild=11.0, block_sd=0.0, blocks=40)
        raw, net = final(plots, trials.ask()), final(plots, trials.ask(), trials.unsown(11.0, seed))
        for before, after in zip(raw.groups[:2], net.groups[:2], strict=True):
            assert after.upper - after.lower > before.upper - before.lower
        assert _effect(net).value == pytest.approx(_effect(raw).value, abs=1e-9)  # equal seed a plot: it goes out
        found.append([group.value for group in net.groups[:2]])
    assert np.mean(found, axis=0) == pytest.approx([10, 20], abs=2)


def test_none_seen_in_unsown_plots_is_not_none_possible(trials):
    """0 in 16 plots allows up to 3.84 / 16 seedlings a plot, which lowers the lower end."""
    plots = trials.emerged({"T01": 0.10, "T07": 0.17}, 3)
    plain, zero = (final(plots, trials.ask(), u).groups[0] for u in (None, trials.unsown(0.0)))
    assert zero.value == pytest.approx(plain.value)
    assert zero.lower < plain.lower
    assert zero.upper == pytest.approx(plain.upper)


def test_two_sites_are_judged_apart_and_against_each_other(trials):
    """F1 and F2: 10 points on the sand, none on the spit: better, equivalent within 10, and the interaction is seen."""
    sand = trials.emerged({"T01": 0.07, "T07": 0.17}, 1)
    spit = trials.emerged({"T01": 0.17, "T07": 0.18}, 2, place=trials.spit_name, blocks=20)
    asked = trials.ask(kind=["superiority", "equivalence"], margin=[np.nan, 10.0], primary=[True, False],
                       environment=[trials.sand, trials.spit_name])
    both = final(pd.concat([sand, spit]), asked)
    assert [e.verdict for e in both.effects[:2]] == ["better", "equivalent within m"]
    (change,) = [e for e in both.effects if e.asks_about == "site" and e.denominator == "viable"]
    assert change.value == pytest.approx(both.effects[0].value - both.effects[1].value)
    assert change.lower > 0
    assert change.verdict == ""
    assert change.of["environment"] == "Hollow Sands against Long Spit"


def test_a_mean_over_sites_is_shown_only_where_it_was_declared(trials):
    sites = [trials.emerged({"T01": 0.10, "T07": 0.17}, seed, place=place) for seed, place in ((1, "one"), (2, "two"))]
    without, declared = (final(pd.concat(sites), trials.ask(), pooled=pooled) for pooled in (False, True))
    assert not [e for e in without.effects if e.of["environment"] == "one and two"]
    (mean,) = [e for e in declared.effects if e.of["environment"] == "one and two"]
    assert mean.value == pytest.approx(np.mean([e.value for e in declared.effects[:2]]))
    assert mean.upper - mean.lower < min(e.upper - e.lower for e in declared.effects[:2])
    assert mean.verdict == "better"


def test_the_question_whether_sites_differ_can_be_declared(trials):
    sites = [trials.emerged({"T01": 0.07, "T07": share}, 1, place=place) for place, share in (("one", 0.17), ("two", 0.07))]
    (effect,) = [e for e in final(pd.concat(sites), trials.ask(across="site")).effects if e.denominator == "viable"]
    assert (effect.verdict, effect.asks_about, effect.of["environment"]) == ("better", "site", "one against two")
    rows = trials.ask(across="site", environment=["one", "two"])  # one row a site, as the contrasts are laid out
    assert len([e for e in final(pd.concat(sites), rows).effects if e.denominator == "viable"]) == 1
    alone = final(sites[0], trials.ask(across="site")).effects[0]
    assert (alone.verdict, alone.reason) == ("not judged", "T07 and T01 can be compared at 1 sites; two are needed.")


def _split(chance, main_sd, fence=0.0):
    rows = []
    for block in range(8):
        for level, shift in (("fenced", 0.0), ("open", fence)):
            at = chance.normal(0, main_sd) + shift
            for treatment, share in (("T01", 0.2), ("T07", 0.2), ("T05", 0.2)):
                p = 1 / (1 + np.exp(-(np.log(share / (1 - share)) + at)))
                rows.append((treatment, f"B{block}", level, chance.binomial(74, p)))
    frame = pd.DataFrame(rows, columns=["treatment", "block", "level", "k"])
    main = frame["block"] + frame["level"]
    return frame.assign(taxon="AM", environment="spit", batch=frame["treatment"], quantity="established", n=74.0,
                        denominator="viable", main_plot=main, unit=main + frame["treatment"], k=frame["k"].astype(float))


def test_a_fence_is_judged_against_main_plots_not_rows(trials):
    """24 rows a level would call main plots that differ by chance different too often;
    8 main plots a level do so in 5 % of trials."""
    by_rows, by_main = [], []
    for seed in range(60):
        rows = _split(np.random.default_rng(seed), 0.6)
        asked = trials.ask(quantity="established", a="open", b="fenced")
        effect = _effect(final(rows, asked))
        by_main.append(not effect.lower <= 0 <= effect.upper)
        wrong = final(rows.assign(treatment=rows["level"], main_plot="", level="", block=""), asked)
        by_rows.append(not _effect(wrong).lower <= 0 <= _effect(wrong).upper)
    assert effect.rung == "main plot"
    assert effect.df == 7
    assert np.mean(by_main) <= 0.10
    assert np.mean(by_rows) > 0.15


def test_treatments_of_a_split_plot_are_judged_within_main_plots(trials):
    rows = _split(np.random.default_rng(1), 1.0)
    within = _effect(final(rows, trials.ask(quantity="established")))
    loose = _effect(final(rows.assign(main_plot="", level="", block=""), trials.ask(quantity="established")))
    assert (within.rung, within.df) == ("plot", 48 - 3 - 15)
    assert within.upper - within.lower < loose.upper - loose.lower


def test_how_a_difference_changes_with_the_fence(trials):
    rows = _split(np.random.default_rng(4), 0.2)
    k = rows["k"].where(~(rows["level"].eq("open") & rows["treatment"].eq("T07")), 2.0)
    effect = _effect(final(rows.assign(k=k), trials.ask(quantity="established", across="level")))
    assert effect.value > 0
    assert effect.verdict == "better"
    assert "fenced against open" in effect.reason


def test_sown_units_stand_beside_without_a_verdict(trials):
    result = final(trials.emerged({"T01": 0.07, "T07": 0.17}), trials.ask())
    beside = result.effects[-1]
    assert (beside.denominator, beside.verdict) == ("sown units", "")
    assert beside.value == pytest.approx(_effect(result).value * 110 / 120, rel=0.02)


def test_what_is_not_shown_says_what_a_next_trial_needs(trials):
    effect = _effect(final(trials.emerged({"T01": 0.10, "T07": 0.12}, 5), trials.ask()))
    assert effect.verdict == "not shown"
    words = effect.reason.split("About ")[1].split()
    assert words[1:6] == ["plots", "a", "treatment", "would", "be"]
    assert 20 < int(words[0]) < 5000


def test_several_batches_are_judged_on_batches(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    batch = plots["treatment"] + "-" + (plots["block"].str[1:].astype(int) % 4).astype(str)
    effect = _effect(final(plots.assign(batch=batch), trials.ask()))
    assert (effect.rung, effect.df, effect.n_batches) == ("batch", 6, 8)
    assert "one batch" not in effect.reason
    assert "one batch" in _effect(final(plots, trials.ask())).reason


def test_a_block_that_lacks_a_treatment_is_named(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    lost = plots["block"].isin(["B4", "B7"]) & plots["treatment"].eq("T07")
    told = final(plots[~lost], trials.ask()).warnings
    assert "Blocks B4, B7 at Hollow Sands lack treatment T07 (AM)." in told


def test_lost_plots_are_left_out_and_named(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    plots.loc[plots["block"].eq("B3") & plots["treatment"].eq("T01"), "k"] = np.nan
    result = final(plots, trials.ask())
    assert _effect(result).n_units == 31
    assert result.warnings[0].startswith("1 plots have no count or nothing to count")


def test_the_order_of_rows_does_not_matter(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    shuffled = plots.sample(frac=1, random_state=1)
    assert _effect(final(shuffled, trials.ask())).upper == pytest.approx(_effect(final(plots, trials.ask())).upper, abs=1e-9)


def test_nothing_counted_is_a_refusal_and_too_many_is_an_error(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    assert isinstance(final(plots.assign(k=np.nan), trials.ask()), Refusal)
    with pytest.raises(UnfitValue, match="k may be 0 to n"):
        final(plots.assign(k=200.0), trials.ask())


def test_one_plot_cannot_be_judged(trials):
    plots = trials.emerged({"T01": 0.07, "T07": 0.17})
    one = plots[plots["treatment"].eq("T01") | plots["block"].eq("B0")]
    effect = _effect(final(one, trials.ask()))
    assert effect.verdict == "not judged"
    assert effect.reason.startswith("One plot of T07 and T01 cannot show")


def test_times_of_emergence_come_back(trials):
    """F1: T07 three times as late. 60 trials: intervals of the ratio hold 3 in 95 % (two errors: 6), and it is unbiased."""
    found = [
        _effect(time(trials.emerging({"T01": 12.0, "T07": 36.0}, seed), trials.ask(quantity="emergence t50")))
        for seed in range(60)
    ]
    assert np.mean([e.lower <= 3 <= e.upper for e in found]) >= 0.88
    assert np.mean([e.value for e in found]) == pytest.approx(3.0, abs=0.1)
    assert {e.verdict for e in found} == {"better"}  # "higher" was wanted: later


def test_half_times_are_in_days_and_of_plots(trials):
    result = time(trials.emerging({"T01": 12.0, "T07": 36.0}), trials.ask(quantity="emergence t50"))
    assert [e.unit for e in result.groups] == ["d", "d"]
    assert [e.value for e in result.groups] == pytest.approx([12, 36], rel=0.12)
    assert len(result.units) == 32


def test_too_sudden_for_a_time(trials):
    frame = trials.emerging({"T01": 12.0, "T07": 36.0})
    sudden = frame[frame["treatment"].eq("T07") | frame["left"].eq(7.0) | np.isinf(frame["right"])]
    effect = _effect(time(sudden, trials.ask(quantity="emergence t50")))
    assert effect.verdict == "not judged"
    assert "fewer than 3 intervals" in effect.reason
    assert isinstance(time(frame[np.isinf(frame["right"])], trials.ask()), Refusal)


def on_tests(frame, **errors):
    """Plots whose live seed is known from tests: {treatment: (name of the test, relative error)}."""
    of = frame["treatment"].map(errors).where(frame["denominator"].eq("viable"))
    return frame.assign(tested=of.str[0].fillna(""), tested_error=of.str[1].fillna(0.0).astype(float))


def test_the_error_of_the_test_of_the_lot_is_in_shares_of_viable_seed(trials):
    """By hand: the limits of a product of independent parts, their distances added as squares; of sown seed nothing."""
    frame = trials.emerged({"T01": 0.30, "T07": 0.50}, 3)
    plain, same, apart = (
        final(each, trials.ask()) for each in (
            frame, on_tests(frame, T01=("AM-0", 0.06), T07=("AM-0", 0.06)), on_tests(frame, T01=("AM-0", 0.06), T07=("AM-3", 0.03)))
    )  # fmt: skip
    critical = special.stdtrit(plain.effects[0].df, 0.975)
    of = [{(g.of["treatment"], g.denominator): g for g in result.groups} for result in (plain, same)]
    for name in ("T01", "T07"):
        before, after = (groups[name, "viable"] for groups in of)
        assert after.value == before.value
        assert after.upper - after.value == pytest.approx(
            np.hypot(before.upper - before.value, special.stdtrit(before.df, 0.975) * 0.06 * before.value))
        assert of[0][name, "sown units"] == of[1][name, "sown units"]
    half = [result.effects[0].upper - result.effects[0].value for result in (plain, same, apart)]
    assert half[1] == pytest.approx(np.hypot(half[0], critical * 0.06 * plain.effects[0].value))
    a, b = (of[0][name, "viable"].value for name in ("T07", "T01"))
    assert half[2] == pytest.approx(np.hypot(half[0], critical * np.hypot(0.03 * a, 0.06 * b)), rel=1e-3)  # shares over blocks
    assert any("(AM, Hollow Sands) is known from tests of samples and may be off by 12 % of itself" in s for s in same.assumptions)
    assert not any("known from tests" in s for s in plain.assumptions)


def test_treatments_of_one_test_share_its_error_so_it_makes_no_difference(trials):
    """No difference at all: nothing is added, however poorly the lot was tested."""
    frame = trials.emerged({"T01": 0.30}, 3)
    both = pd.concat([frame, frame.assign(treatment="T07", batch="T07-1", unit="x" + frame["unit"])])
    plain, same = (final(on_tests(both, T01=("AM-0", error), T07=("AM-0", error)), trials.ask()) for error in (0.0, 0.2))
    assert (same.effects[0].lower, same.effects[0].upper) == pytest.approx((plain.effects[0].lower, plain.effects[0].upper))
