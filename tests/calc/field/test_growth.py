"""Growth: ratios come back, plants are not plots, pooled weighings are handled, and survivors are named."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.field.growth import compare, rates
from palea.calc.results import Refusal
from palea.calc.stats.linear_means import of_plots
from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

ASKED = {"quantity": "plant dry mass", "denominator": "", "a": "T16", "b": "T05"}


def test_the_inoculant_is_better_and_intervals_cover(trials):
    """F1: x1.40 in 16 blocks: better in 90 % of trials, and 95 % intervals hold 1.40 (two errors of 80: 5 points)."""
    found = [compare(trials.weighed({"T05": 1.0, "T16": 1.4}, seed), trials.ask(**ASKED)).effects[0] for seed in range(80)]
    assert np.mean([e.lower <= 1.4 <= e.upper for e in found]) >= 0.89
    assert np.mean([e.verdict == "better" for e in found]) >= 0.8
    assert np.exp(np.mean(np.log([e.value for e in found]))) == pytest.approx(1.4, abs=0.04)


def test_every_answer_says_among_survivors(trials):
    survivors = pd.DataFrame({"taxon": "AM", "environment": trials.sand, "treatment": ["T05", "T16"], "unit": ["P1", "P2"],
                              "alive": [89, 98], "kept": [128, 128]})
    result = compare(trials.weighed({"T05": 1.0, "T16": 1.4}), trials.ask(**ASKED), survivors)
    assert result.effects[0].reason.startswith("Among survivors; survivors may differ in number")
    assert "Alive when measured: T05 89 of 128, T16 98 of 128 (AM, Hollow Sands)." in result.warnings[0]
    without = compare(trials.weighed({"T05": 1.0, "T16": 1.4}), trials.ask(**ASKED))
    assert any("was not handed over" in told for told in without.warnings)


def test_plants_of_a_plot_are_no_replicates(trials):
    """Law: with every plant copied a hundred times within its plot, the interval is that of 32 plot means, no shorter."""
    plants = trials.weighed({"T05": 1.0, "T16": 1.4}).groupby("unit").head(3)
    plants["value"] *= np.exp(0.1 * plants["block"].str[1:].astype(int))  # blocks that clearly differ
    many = compare(pd.concat([plants] * 100), trials.ask(**ASKED)).effects[0]
    plots = plants.assign(log=np.log(plants["value"])).groupby("unit").agg(
        treatment=("treatment", "first"), block=("block", "first"), log=("log", "mean"))
    means = of_plots(plots["treatment"], plots["log"], [plots["block"]])
    _, lower, upper = means.difference("T16", "T05", t_quantile(0.95, 15))
    assert many.df == 15
    assert np.log([many.lower, many.upper]) == pytest.approx([lower, upper], abs=1e-4)


def test_equal_plants_in_complete_blocks_are_plot_means(trials):
    """Law: with three plants in every plot the ratio is that of plot means of logs."""
    plants = trials.weighed({"T05": 1.0, "T16": 1.4}).groupby("unit").head(3)
    effect = compare(plants, trials.ask(**ASKED)).effects[0]
    means = np.log(plants["value"]).groupby(plants["treatment"]).mean()
    assert np.log(effect.value) == pytest.approx(means["T16"] - means["T05"], abs=1e-6)


def test_a_pooled_weighing_is_the_mean_of_its_plants(trials):
    """All plots pooled alike: the ratio is that of the masses a plant, whatever the number pooled."""
    plants = trials.weighed({"T05": 1.0, "T16": 1.4}).groupby("unit").head(3)
    pooled = plants.groupby(["unit", "treatment", "block", "taxon", "environment", "batch", "quantity"], as_index=False).agg(
        value=("value", "sum"), n_plants=("n_plants", "sum"))
    effect = compare(pooled, trials.ask(**ASKED)).effects[0]
    logs = np.log(pooled["value"] / 3).groupby(pooled["treatment"]).mean()
    assert np.log(effect.value) == pytest.approx(logs["T16"] - logs["T05"], abs=1e-6)
    assert effect.n_seeds == 96


def test_pooling_one_arm_alone_does_not_move_the_ratio(trials):
    """A pool's log lies s2 / 2 (1 - 1 / n) above the mean log; with single plants elsewhere that is taken off."""
    ratios = []
    for seed in range(25):
        plants = trials.weighed({"T05": 1.0, "T16": 1.0}, seed, most=8)
        keys = ["unit", "treatment", "block", "taxon", "environment", "batch", "quantity"]
        pooled = plants[plants["treatment"] == "T16"].groupby(keys, as_index=False)[["value", "n_plants"]].sum()
        both = pd.concat([plants[plants["treatment"] == "T05"], pooled])
        ratios.append(np.log(compare(both, trials.ask(**ASKED)).effects[0].value))
    assert np.mean(ratios) == pytest.approx(0.0, abs=0.035)  # uncorrected: 0.08


def test_pools_of_unlike_numbers_are_told(trials):
    plants = trials.weighed({"T05": 1.0, "T16": 1.4}).groupby("unit").head(1)
    unlike = plants.assign(n_plants=np.where(plants["treatment"] == "T16", 5.0, 2.0))
    assert any("in different numbers (T05 2, T16 5)" in told for told in compare(unlike, trials.ask(**ASKED)).warnings)


def test_blank_numbers_of_plants_are_left_out_and_told(trials):
    plants = trials.weighed({"T05": 1.0, "T16": 1.4})
    blank = plants.assign(n_plants=plants["n_plants"].where(plants["block"] != "B0"))
    told = compare(blank, trials.ask(**ASKED))
    assert told.warnings[0].endswith("weighings have no number of plants and were left out. Enter how many plants were pooled.")
    assert told.effects[0].n_units == 30


def test_no_mass_below_nothing_and_no_answer_from_nothing(trials):
    plants = trials.weighed({"T05": 1.0, "T16": 1.4})
    with pytest.raises(UnfitValue, match="mass and height are above 0"):
        compare(plants.assign(value=0.0), trials.ask(**ASKED))
    assert isinstance(compare(plants[:0], trials.ask(**ASKED)), Refusal)
    assert isinstance(rates(plants.assign(time=280.0), trials.ask(**ASKED)), Refusal)


def test_rates_of_plots_measured_twice(trials):
    """Plots grow at 0.02 and 0.03 a day between day 100 and 200: the rates, their difference and its sign come back."""
    chance = np.random.default_rng(1)
    first = trials.weighed({"T05": 1.0, "T16": 1.0}).assign(time=100.0)
    rate = first["treatment"].map({"T05": 0.02, "T16": 0.03})
    later = first.assign(time=200.0, value=first["value"] * np.exp(100 * rate + chance.normal(0, 0.1, len(first))))
    asked = trials.ask(**(ASKED | {"quantity": "relative growth rate"}))
    result = rates(pd.concat([first, later]), asked, unit="/d")
    assert [g.value for g in result.groups] == pytest.approx([0.02, 0.03], abs=5e-4)
    assert result.effects[0].value == pytest.approx(0.01, abs=5e-4)
    assert (result.effects[0].verdict, result.effects[0].unit) == ("better", "/d")
