"""Draws of dishes: reproducible, kept within their batches, and honest where nothing can be drawn."""

import numpy as np
import pytest

from palea.calc.stats.chance import stream, uniforms
from palea.calc.stats.resampling import dish_weights, percentile_interval, strata
from palea.errors import UnfitValue


def test_a_stream_depends_on_seed_purpose_and_group_and_on_nothing_else():
    first = uniforms(stream(1, "curve", "AV", "T01"), 5)
    uniforms(stream(1, "curve", "CC", "T01"), 500)
    assert (uniforms(stream(1, "curve", "AV", "T01"), 5) == first).all()
    others = (2, "curve AV T01"), (1, "times AV T01"), (1, "curve AVT 01"), (1, "curve T01 AV")
    for other in [(seed, *names.split()) for seed, names in others]:
        assert (uniforms(stream(*other), 5) != first).all()


def test_draws_never_change():
    """Frozen: a package rerun in years must meet the same draws. A change here is a new version of every recipe."""
    assert uniforms(stream(1, "frozen"), 3).tolist() == [0.8420685712630979, 0.9372891064757279, 0.8242784086267487]


def test_uniforms_are_those_of_numpy():
    """numpy documents random() as the upper 53 bits of one draw."""
    source, same = stream(3, "a"), np.random.Generator(stream(3, "a"))
    assert uniforms(source, (4, 5)).tolist() == same.random((4, 5)).tolist()


@pytest.mark.parametrize("seed", [-1, 1.5, "1", None, True])
def test_a_seed_is_a_whole_number(seed):
    with pytest.raises(UnfitValue, match="whole number"):
        stream(seed, "curve")


def test_weights_stay_within_batches():
    batch = np.array(["q", "p", "q", "p", "q", "r", "r"])
    weights = dish_weights(batch, 500, stream(1, "test"))
    for name, size in (("p", 2), ("q", 3), ("r", 2)):
        assert weights[:, batch == name].sum(axis=1) == pytest.approx(np.full(500, size))
    assert set(np.unique(weights[:, batch == "q"])) == {0, 1.5, 3}


def test_dishes_alone_in_their_batch_are_drawn_together():
    assert strata(["a", "b", "c"]).tolist() == [0, 0, 0]
    assert strata(["a", "a", "b", "b", "c"]).tolist() == [0, 0, 1, 1, 0], "a single one joins the largest batch"
    assert dish_weights(["a", "b", "c"], 200, stream(1, "test")).std() > 0


def test_one_dish_has_no_interval():
    weights = dish_weights(["a"], 200, stream(1, "test"))
    assert (weights == 1).all()
    assert np.isnan(percentile_interval(weights @ np.array([7.0]), 0.95)).all()
    assert np.isnan(percentile_interval(np.arange(100.0), 0.95, df=0)).all()


def test_few_dishes_stretch_the_interval():
    drawn = np.random.default_rng(1).normal(size=20_001)
    low, high = percentile_interval(drawn, 0.95, df=12)
    assert (low, high) == pytest.approx((-2.179, 2.179), abs=0.1)  # t quantile on 12 df, any table


def test_fewest_dishes_have_a_t_interval_on_logs():
    """Half times 5, 6, 7, 9 of four dishes: percentiles cannot lie beyond the farthest dish, the t interval does."""
    half_times = np.array([5.0, 6, 7, 9])
    drawn = dish_weights(["a"] * 4, 999, stream(1, "test")) @ half_times / 4
    low, high = percentile_interval(drawn, 0.95, df=3, logged=True)
    assert percentile_interval(drawn, 0.95, df=3)[1] <= 9
    assert low < 5 < 9 < high
    assert np.log([low, high]).mean() == pytest.approx(np.log(np.median(drawn)))
    assert np.log(high / low) == pytest.approx(2 * 3.182446 * np.log(drawn).std(), rel=1e-6)  # t on 3 df, any table
    assert percentile_interval(1 / drawn, 0.95, df=3, logged=True) == pytest.approx((1 / high, 1 / low))
    assert percentile_interval(drawn, 0.95, df=8, logged=True) == percentile_interval(drawn, 0.95, df=8)
    late = np.where(np.arange(999) < 100, np.inf, drawn)
    assert np.isnan(percentile_interval(late, 0.95, df=3, logged=True)[1]), "a time that was often not reached has no end"
    many = percentile_interval(np.column_stack([drawn, 2 * drawn, np.full(999, 3.0)]), 0.95, df=3, logged=True)
    assert many[0][:2] == pytest.approx([low, 2 * low])
    assert np.isnan(many[0][2]), "draws that agree claim nothing"


def test_missing_replicates_are_left_out_and_unreached_ones_are_late():
    drawn = np.append(np.arange(95.0), np.full(5, np.nan))
    assert percentile_interval(drawn, 0.9) == pytest.approx((4.7, 89.3))
    assert np.isnan(percentile_interval(np.append(np.arange(40.0), np.full(60, np.nan)), 0.9)).all()
    low, high = percentile_interval(np.append(np.arange(80.0), np.full(20, np.inf)), 0.9)
    assert (low, np.isnan(high)) == (pytest.approx(4.95), True)


def test_nothing_to_draw_is_said():
    with pytest.raises(UnfitValue, match="0 dishes"):
        dish_weights([], 10, stream(1, "test"))
