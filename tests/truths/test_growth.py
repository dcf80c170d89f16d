"""Growth, blocks and mixed models against published analyses of variance, R, and statsmodels.

Numbers of R are of version 4.2.2 unless said otherwise.
"""

import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from palea.calc.field.growth import harvest_rate, relative_growth_rate
from palea.calc.stats import linear_means, nested_linear, quasi_poisson
from palea.calc.stats.linear_means import f_of_treatments, of_plants, of_plots

HERE = Path(__file__).parent / "data"
PEAS = pd.read_csv(HERE / "npk.csv")
RICE = pd.read_csv(HERE / "gomez_seedrate.txt", sep="\t")
SQUARE = pd.read_csv(HERE / "cochran.latin.txt", sep="\t")
OATS = pd.read_csv(HERE / "oats_yates.csv").melt(["block", "variety"], var_name="nitrogen", value_name="yield")
OATS["main_plot"] = OATS["block"] + OATS["variety"]


def _f(design_term, *others):
    """F of a two-level factor of the peas with blocks and other factors allowed for."""
    means = of_plots(PEAS[design_term], PEAS["yield"], [PEAS["block"], *(PEAS[name] for name in others)])
    return f_of_treatments(means)[0], means


def test_rice_of_gomez_and_gomez():
    """Gomez & Gomez 1984, p. 26: F 2.17; MS rate 239 666.2, error 110 558.4, so 2.16778 on 5 and 15; CV 6.7 %."""
    means = of_plots(RICE["rate"], RICE["yield"], [RICE["rep"]])
    f, df, df_error = f_of_treatments(means)
    assert (f, df, df_error) == (pytest.approx(2.16778, abs=5e-6), 5, 15)
    assert means.variance == pytest.approx(110_558.4, abs=0.05)
    assert f * means.variance == pytest.approx(239_666.2, abs=0.1)
    assert 100 * np.sqrt(means.variance) / RICE["yield"].mean() == pytest.approx(6.704, abs=5e-4)
    blocks = of_plots(RICE["rep"], RICE["yield"], [RICE["rate"]])
    assert f_of_treatments(blocks)[0] == pytest.approx(5.86224, abs=5e-6)


def test_blocks_at_random_give_the_same_f_in_complete_blocks():
    """Law, on Gomez & Gomez: with equal numbers REML gives the F of the analysis of variance."""
    means = of_plants(RICE["rate"], RICE["yield"], np.arange(len(RICE)), RICE["rep"])
    assert f_of_treatments(means)[0] == pytest.approx(2.16778, abs=5e-6)
    assert means.df == 15


def test_peas_with_nitrogen():
    """R aov(yield ~ block + N * P * K): residual 185.28667 on 12, N 189.28167 (F 12.25873), K 95.20167 (F 6.16569),
    blocks 343.295."""
    centred = PEAS[["N", "P", "K"]] - 0.5
    crossed = [(centred[x] * centred[y] > 0) for x, y in ("NP", "NK", "PK")]
    means = of_plots(PEAS["N"], PEAS["yield"], [PEAS["block"], PEAS["P"], PEAS["K"], *crossed])
    assert means.df == 12
    assert means.variance * 12 == pytest.approx(185.28667, abs=5e-6)
    assert f_of_treatments(means)[0] == pytest.approx(12.25873, abs=5e-6)
    assert 2 * stats.t.sf(np.sqrt(f_of_treatments(means)[0]), 12) == pytest.approx(0.0043718, abs=5e-8)
    potash = of_plots(PEAS["K"], PEAS["yield"], [PEAS["block"], PEAS["P"], PEAS["N"], *crossed])
    assert f_of_treatments(potash)[0] == pytest.approx(6.16569, abs=5e-6)
    assert 2 * stats.t.sf(np.sqrt(f_of_treatments(potash)[0]), 12) == pytest.approx(0.0287951, abs=5e-8)
    blocks = of_plots(PEAS["block"], PEAS["yield"])
    f, df, _ = f_of_treatments(blocks)
    assert f * df * blocks.variance == pytest.approx(343.295, abs=5e-6)
    phosphate = of_plots(PEAS["P"], PEAS["yield"], [PEAS["block"], PEAS["N"], PEAS["K"], *crossed])
    assert f_of_treatments(phosphate)[0] * phosphate.variance == pytest.approx(8.40167, abs=5e-6)
    for columns, squares in zip(crossed, (21.28167, 33.135, 0.48167), strict=True):
        others = [each for each in crossed if each is not columns]
        met = of_plots(columns, PEAS["yield"], [PEAS["block"], PEAS["N"], PEAS["P"], PEAS["K"], *others])
        assert f_of_treatments(met)[0] * met.variance == pytest.approx(squares, abs=5e-6)


@pytest.mark.parametrize(("factor", "effect"), [("N", 5.6166667), ("P", -1.1833333), ("K", -3.9833333)])
def test_additive_effects_on_peas(factor, effect):
    """R lm(yield ~ block + N + P + K)."""
    _, means = _f(factor, *{"N", "P", "K"} - {factor})
    assert means.difference("1", "0", 0.0)[0] == pytest.approx(effect, abs=5e-8)


def test_peas_between_blocks():
    """R aov(yield ~ N * P * K + Error(block)): N:P:K is given to whole blocks, F .48322 on 1 and 4 against blocks."""
    centred = PEAS[["N", "P", "K"]] - 0.5
    sign = (centred.prod(axis=1) > 0).astype(str)
    whole = PEAS.assign(sign=sign).groupby("block").agg(sign=("sign", "first"), value=("yield", "mean"))
    f, df, df_error = f_of_treatments(of_plots(whole["sign"], whole["value"]))
    assert (f, df, df_error) == (pytest.approx(0.48322, abs=5e-6), 1, 4)


def test_split_plot_of_oats_between_main_plots():
    """Yates 1935; R aov(Y ~ N * V + Error(B / V)): varieties F 1.485 on 2 and 10, p 0.272, residual mean square 601.3."""
    whole = OATS.groupby(["block", "variety"])["yield"].mean().reset_index()
    means = of_plots(whole["variety"], whole["yield"], [whole["block"]])
    f, df, df_error = f_of_treatments(means)
    assert (f, df, df_error) == (pytest.approx(1.485, abs=5e-4), 2, 10)
    assert 4 * means.variance == pytest.approx(601.3, abs=0.05)
    assert stats.f.sf(f, 2, 10) == pytest.approx(0.272, abs=5e-4)


def test_split_plot_of_oats_within_main_plots():
    """The same: nitrogen 20 020 on 3, nitrogen x variety 322 on 6, residual 7 969 on 45; without the interaction its sum
    of squares goes to the residual: mean square (322 + 7969) / 51."""
    means = of_plots(OATS["nitrogen"], OATS["yield"], [OATS["main_plot"]])
    f, df, df_error = f_of_treatments(means)
    assert (df, df_error) == (3, 51)
    assert means.variance * 51 == pytest.approx(322 + 7969, abs=1)
    assert f * 3 * means.variance == pytest.approx(20_020, abs=1)


def test_components_of_variance_of_oats():
    """From its published mean squares: blocks 3175, main plots 601.3; within them (20 020 + 322 + 7 969) / 54."""
    varieties = np.eye(3)[pd.factorize(OATS["variety"])[0]]
    found = nested_linear.fit(varieties, OATS["yield"], OATS["main_plot"], OATS["block"])
    within = (20_020 + 322 + 7_969) / 54
    assert found.plant == pytest.approx(within, abs=0.05)
    assert found.plot == pytest.approx((601.3 - within) / 4, abs=0.05)
    assert found.block == pytest.approx((3175 - 601.3) / 12, abs=0.05)
    assert found.df == 10


def test_latin_square_of_cochran_and_cox():
    """Cochran & Cox 1957: operators 155.59583, F 9.35024; rows 28.59917, columns 78.86917 (F 4.73950); error 66.56333
    on 20."""
    operators = of_plots(SQUARE["operator"], SQUARE["diff"], [SQUARE["row"], SQUARE["col"]])
    assert f_of_treatments(operators) == (pytest.approx(9.35024, abs=5e-6), 5, 20)
    assert operators.variance * 20 == pytest.approx(66.56333, abs=5e-6)
    columns = of_plots(SQUARE["col"], SQUARE["diff"], [SQUARE["row"], SQUARE["operator"]])
    assert f_of_treatments(columns)[0] == pytest.approx(4.73950, abs=5e-6)
    rows = of_plots(SQUARE["row"], SQUARE["diff"], [SQUARE["col"], SQUARE["operator"]])
    assert f_of_treatments(rows)[0] * 5 * rows.variance == pytest.approx(28.59917, abs=5e-6)


def _unequal(seed=1):
    """Plants in plots in blocks, a quarter of them missing."""
    chance = np.random.default_rng(seed)
    block, plot = np.repeat(np.arange(6), 12), np.repeat(np.arange(24), 3)
    value = chance.normal(0, 0.5, 6)[block] + chance.normal(0, 0.3, 24)[plot] + chance.normal(0, 0.4, 72)
    frame = pd.DataFrame({"y": value + 0.3 * (plot % 4 == 1), "block": block, "plot": plot, "treatment": plot % 4})
    return frame[chance.random(72) > 0.25]


def test_unequal_plots_agree_with_a_general_mixed_model():
    """statsmodels 0.15 MixedLM, REML, blocks and plots within them; its optimiser stops near 1e-5."""
    plants = _unequal()
    found = nested_linear.fit(np.eye(4)[plants["treatment"]], plants["y"], plants["plot"], plants["block"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = smf.mixedlm("y ~ 0 + C(treatment)", plants, groups="block", re_formula="1", vc_formula={"p": "0 + C(plot)"})
        outside = model.fit(reml=True)
    assert found.log_likelihood == pytest.approx(outside.llf, abs=1e-6)
    assert found.coefficients == pytest.approx(outside.fe_params.to_numpy(), abs=1e-5)
    components = (outside.cov_re.iloc[0, 0], outside.vcomp[0], outside.scale)
    assert (found.block, found.plot, found.plant) == pytest.approx(components, abs=2e-5)


def test_one_plant_a_plot_is_the_t_test():
    """scipy.stats.ttest_ind with equal variances."""
    a, b = [4.1, 5.0, 4.7, 5.5], [5.9, 6.3, 5.2, 6.0]
    means = linear_means.of_plants(np.repeat(["a", "b"], 4), a + b, np.arange(8))
    found = stats.ttest_ind(b, a)
    assert means.statistic("b", "a") == pytest.approx(found.statistic, rel=1e-6)
    assert means.df == 6


def test_growth_from_half_a_gram_to_two_in_a_fortnight():
    """Arithmetic of the classical formula: ln 4 / 14 = 0.09902103 g/g/d (Hoffmann & Poorter 2002, Ann. Bot. 90:37)."""
    assert relative_growth_rate(0.5, 2.0, 0, 14) == pytest.approx(0.09902103, abs=5e-9)


def test_growth_from_two_harvests_uses_means_of_logs():
    """Hoffmann & Poorter 2002: their estimator is the difference of means of ln W; its error is Welch's (scipy)."""
    first, second = np.array([0.4, 0.6, 0.5, 0.9]), np.array([1.5, 3.0, 2.2])
    rate, error = harvest_rate(first, second, 0, 14)
    welch = stats.ttest_ind(np.log(second), np.log(first), equal_var=False)
    assert rate / error == pytest.approx(welch.statistic, rel=1e-12)
    assert rate == pytest.approx((np.log(second).mean() - np.log(first).mean()) / 14, rel=1e-12)
    assert rate != pytest.approx(relative_growth_rate(first.mean(), second.mean(), 0, 14), abs=1e-4)


def test_log_linear_counts_of_dobson():
    """Dobson 1990, p. 93, as in R's help of glm: 3.045, -0.4543 (0.2022), -0.2930 (0.1927); deviance 5.1291 on 4."""
    counts, outcome, treatment = [18, 17, 15, 20, 10, 20, 25, 13, 12], np.tile(np.arange(3), 3), np.repeat(np.arange(3), 3)
    design = np.column_stack([np.ones(9), np.eye(3)[outcome][:, 1:], np.eye(3)[treatment][:, 1:]])
    found = quasi_poisson.fit(design, counts)
    plain = found.standard_errors / np.sqrt(found.dispersion)
    assert found.coefficients[:3] == pytest.approx([3.0445, -0.4543, -0.2930], abs=5e-5)
    assert plain[1:3] == pytest.approx([0.2022, 0.1927], abs=5e-5)
    assert (found.deviance, found.df_residual) == (pytest.approx(5.1291, abs=5e-5), 4)
    assert found.dispersion == pytest.approx(5.1732 / 4, abs=5e-5)  # Pearson's X2 of the same fit
