"""Rows that are never thinned: bounds hold the truth, exact is exact, and the fence belongs to main plots."""

import numpy as np
import pytest

from palea.calc.field.rows import compare, curve, lives
from palea.calc.results import Refusal
from palea.errors import UnfitValue

ASKED = {"quantity": "established", "denominator": "viable"}
WEEK = 7.0


def test_bounds_hold_what_happened(trials):
    """Law: standing alone bounds deaths and survival; with every new seedling counted they are exact."""
    rows = trials.spit({"T01": 0.3, "T07": 0.5}, counted_new=8)
    for _, row in rows.groupby("unit"):
        died, came = row["died"].sum(), row["new"].sum()
        bound, exact = lives(row["standing"], live=74), lives(row["standing"], row["new"])
        assert (exact.died, exact.emerged, bool(exact.exact)) == (died, came, True)
        assert bound.died <= died
        assert bound.emerged <= came
        truth = row["standing"].iloc[-1] / came if came else np.nan
        assert exact.upper == pytest.approx(truth, nan_ok=True)
        assert not came or bound.lower - 1e-12 <= truth <= bound.upper + 1e-12


def test_a_rise_that_nobody_counted_makes_a_bound():
    found = lives([31, 35, 30], [31, 0, 0])
    assert not found.exact
    assert (found.emerged, found.died) == (35, 5)


def test_many_rows_at_once_are_each_by_itself():
    standing = np.array([[8.0, 9, 6], [4, 4, 0], [0, 0, 0]])
    together, alone = lives(standing, live=20), [lives(row, live=20) for row in standing]
    assert together.upper == pytest.approx([float(each.upper) for each in alone], nan_ok=True)


@pytest.mark.parametrize(("standing", "live", "words"), [([3, np.nan], 20, "missing or below 0"), ([30, 31], 20, "live seeds")])
def test_what_cannot_be_is_said(standing, live, words):
    with pytest.raises(UnfitValue, match=words):
        lives(standing, live=live)


def test_the_delaying_coat_is_equivalent_on_the_spit(trials):
    """F2: no difference in what comes up, margin 10 points, 20 rows an arm: equivalent in 94 % of trials."""
    words = [
        compare(trials.spit({"T01": 0.3, "T07": 0.3}, seed), trials.ask(kind="equivalence", margin=10.0, **ASKED),
                at=12 * WEEK).effects[0].verdict
        for seed in range(20)
    ]  # fmt: skip
    assert words.count("equivalent within m") >= 17


def test_survival_is_exact_while_new_seedlings_are_counted_and_bounded_after(trials):
    rows = trials.spit({"T01": 0.3, "T07": 0.5})
    asked = trials.ask(quantity="surviving", denominator="emerged")
    early, late = (compare(rows, asked, at=week * WEEK) for week in (12, 40))
    (exact,), (bounds,) = ([g for g in r.groups if g.quantity == "surviving" and g.of["treatment"] == "T07"] for r in (early, late))
    truth = rows[(rows["treatment"] == "T07") & (rows["time"] <= 12 * WEEK)]
    standing = truth.loc[truth["time"].eq(12 * WEEK), "standing"].sum()
    assert exact.value == pytest.approx(100 * standing / truth["new"].sum(), abs=1.5)
    assert exact.lower < exact.value < exact.upper
    assert np.isnan(bounds.value)
    assert bounds.lower < bounds.upper
    assert early.effects[0].verdict in ("better", "worse", "not shown")
    assert (late.effects[0].verdict, late.effects[0].reason[:29]) == ("not judged", "Survival can only be bounded,")


def test_the_open_main_plots_lose_more(trials):
    rows = trials.spit({"T01": 0.4, "T07": 0.4, "T03": 0.4}, 3, fence=2.5)
    effect = compare(rows, trials.ask(a="open", b="fenced", asks_about="fence", **ASKED)).effects[0]
    assert (effect.rung, effect.df, effect.verdict) == ("main plot", 9, "worse")
    assert effect.n_units == 20


def test_equal_density_takes_the_head_start_away(trials):
    """T07 comes up twice as much and its plants live alike: more stand at week 40, and not more at equal density."""
    held = []
    for seed in range(25):
        rows = trials.spit({"T01": 0.25, "T07": 0.5}, seed, exponent=0.0, hazard=0.02)
        asked = trials.ask(quantity=["established", "standing at equal density"], denominator=["viable", ""])
        found = {e.quantity: e for e in compare(rows, asked, since=12 * WEEK).effects if e.verdict}
        stands, dense = found["established"], found["standing at equal density"]
        assert stands.verdict == "better"
        held.append(dense.lower <= 1 <= dense.upper)
    assert np.mean(held) >= 0.85


def test_crowding_shows_in_the_exponent(trials):
    """Plants that die as (standing / 10)^0.5 leave fewer from full rows: on average the exponent is below 1, without it 1."""
    def exponent(crowding, seed):
        rows = trials.spit({"T01": 0.2, "T07": 0.8}, seed, exponent=crowding, hazard=0.02)
        return compare(rows, trials.ask(**ASKED), since=12 * WEEK).groups[-1].value

    free, crowded = (np.mean([exponent(crowding, seed) for seed in range(20)]) for crowding in (0.0, 0.5))
    assert free == pytest.approx(1.0, abs=0.2)
    assert crowded < free - 0.2


def test_curve_ends_at_what_stands(trials):
    rows = trials.spit({"T01": 0.3, "T07": 0.5})
    line = curve(rows).curves[0]
    last = rows[(rows["time"] == 40 * WEEK) & (rows["treatment"] == "T01")]
    assert line.value[-1] == pytest.approx(100 * last["standing"].sum() / (74 * 20))
    assert (line.lower <= line.value).all()
    assert len(line.time) == 8
    sown = curve(rows, denominator="sown units").curves[0]
    assert sown.value[-1] == pytest.approx(line.value[-1] * 74 / 80)


def test_a_rise_without_new_is_told(trials):
    rows = trials.spit({"T01": 0.3, "T07": 0.5})
    first = rows["unit"].iloc[0]
    told = rows.assign(new=rows["new"].where(~(rows["unit"].eq(first) & rows["time"].gt(3 * WEEK)), 0.0))
    told.loc[told["unit"].eq(first) & told["time"].eq(5 * WEEK), "standing"] += 30
    warnings = compare(told, trials.ask(**ASKED), at=12 * WEEK).warnings
    assert warnings
    assert warnings[0].endswith(f"in 1 rows: {first}. Late emergence or a miscount: their survival is a bound.")


def test_nothing_counted_is_a_refusal(trials):
    rows = trials.spit({"T01": 0.3, "T07": 0.5})
    assert isinstance(compare(rows[:0], trials.ask(**ASKED)), Refusal)
    assert isinstance(curve(rows.assign(standing=np.nan)), Refusal)
