"""Models of shares against published and outside fits of Crowder's seeds (1978, Appl. Statist. 27:34, Table 3).

Coding: seed 1 for O. aegyptiaca 73 (O73), root 1 for cucumber. Outside fits: R 4.2.2 glm and glm(quasibinomial),
VGAM 1.1.7 (beta-binomial, agreed by glmmTMB 1.1.5 and by optim), lme4 1.1.31 (mixed logit), each read as printed.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import special

from palea.calc.stats import beta_binomial, mixed_logit, quasi_binomial

SEEDS = pd.read_csv(Path(__file__).parent / "data" / "crowder_seeds.csv")
K, N = SEEDS["germ"].to_numpy(float), SEEDS["n"].to_numpy(float)
SEED, ROOT = SEEDS["gen"].eq("O73").to_numpy(float), SEEDS["extract"].eq("cucumber").to_numpy(float)
ONE = np.ones(21)
DESIGN = np.column_stack([ONE, SEED, ROOT, SEED * ROOT])


def test_the_data_are_those_that_were_published():
    assert (K.sum(), N.sum()) == (424, 831)
    cells = [(K[(s == SEED) & (r == ROOT)].sum(), N[(s == SEED) & (r == ROOT)].sum()) for s in (0, 1) for r in (0, 1)]
    assert cells == [(99, 272), (201, 295), (49, 123), (75, 141)]


def test_logit_model_agrees_with_r():
    model = quasi_binomial.fit(DESIGN, K, N)
    assert model.coefficients == pytest.approx([-0.5581717, 0.1459269, 1.3181819, -0.7781037], abs=1e-6)
    plain = model.standard_errors / np.sqrt(model.dispersion)
    assert plain == pytest.approx([0.1260213, 0.2231659, 0.1774677, 0.3064332], abs=1e-6)
    assert model.deviance == pytest.approx(33.277786, abs=1e-6)
    assert model.pearson == pytest.approx(31.651145, abs=1e-6)
    assert model.log_likelihood == pytest.approx(-54.93702, abs=5e-6)
    null = quasi_binomial.fit(ONE[:, None], K, N)
    assert (null.deviance, null.df_residual) == (pytest.approx(98.719457, abs=1e-6), 20)


def test_additive_model_agrees_with_r():
    model = quasi_binomial.fit(DESIGN[:, :3], K, N)
    assert model.coefficients == pytest.approx([-0.4300322, -0.2704511, 1.0647498], abs=1e-6)
    assert (model.deviance, model.pearson) == (pytest.approx(39.685890, abs=1e-6), pytest.approx(38.310620, abs=1e-6))


def test_dispersion_and_its_standard_errors_agree_with_r():
    model = quasi_binomial.fit(DESIGN, K, N)
    assert model.dispersion == pytest.approx(1.861832, abs=1e-6)
    assert model.standard_errors == pytest.approx([0.1719547, 0.3045076, 0.2421528, 0.4181249], abs=1e-6)


def test_sequential_f_agrees_with_r():
    table = quasi_binomial.sequential_f([ONE, SEED, ROOT, SEED * ROOT], K, N)
    assert table.f == pytest.approx([1.36651, 30.34074, 3.44183], abs=1e-5)
    assert table.p_value == pytest.approx([0.25854, 3.84e-5, 0.08099], rel=5e-4)
    assert table.df_residual == 17


def test_quasi_fit_agrees_with_statsmodels_given_shares_and_weights():
    """Not the two-column form of that library: its quasi dispersion loses the size of the dishes."""
    api = pytest.importorskip("statsmodels.api")
    theirs = api.GLM(K / N, DESIGN, api.families.Binomial(), var_weights=N).fit(scale="X2")
    ours = quasi_binomial.fit(DESIGN, K, N)
    assert ours.coefficients == pytest.approx(theirs.params, abs=1e-8)
    assert ours.standard_errors == pytest.approx(theirs.bse, abs=1e-7)


@pytest.mark.parametrize(("k", "n"), [([0.0, 0.0], [10.0, 10.0]), ([25.0, 25.0], [25.0, 25.0])])
def test_penalised_fit_of_one_group_adds_half_a_seed_each_way(k, n):
    """Firth 1993, Biometrika 80:27: for one group the penalised share is (k + 1/2) / (n + 1)."""
    model = quasi_binomial.fit(np.ones((2, 1)), k, n)
    assert model.penalised
    assert model.fitted == pytest.approx((sum(k) + 0.5) / (sum(n) + 1), abs=1e-9)


def test_penalised_fit_with_an_empty_cell_is_the_worked_one():
    """Derived by hand: with one coefficient a group each share is again (k + 1/2) / (n + 1)."""
    model = quasi_binomial.fit(np.eye(3)[[0, 0, 1, 1, 2]], [0, 0, 6, 9, 12], [20, 20, 25, 25, 12])
    assert model.fitted[[0, 2, 4]] == pytest.approx([0.5 / 41, 15.5 / 51, 12.5 / 13], abs=1e-9)
    assert "penalised" in model.warnings[0]


def test_penalised_fit_is_the_top_of_the_penalised_likelihood():
    """By its definition: log-likelihood plus half the log determinant of the information, climbed by another method."""
    optimize = pytest.importorskip("scipy.optimize")
    design, k, n = np.column_stack([np.ones(6), np.arange(6.0)]), np.array([0, 0, 0, 9, 10, 10.0]), np.full(6, 10.0)

    def fall(c):
        p = special.expit(design @ c)
        information = design.T @ (design * (n * p * (1 - p))[:, None])
        return -np.sum(special.xlogy(k, p) + special.xlog1py(n - k, -p)) - np.linalg.slogdet(information)[1] / 2

    options = {"xatol": 1e-9, "fatol": 1e-12, "maxiter": 9999}
    best = optimize.minimize(fall, [0, 0], method="Nelder-Mead", options=options)
    assert quasi_binomial.fit(design, k, n, penalised=True).coefficients == pytest.approx(best.x, abs=1e-5)


def test_beta_binomial_agrees_with_vgam():
    model = beta_binomial.fit(DESIGN, K, N)
    assert model.coefficients == pytest.approx([-0.5419483, 0.0973816, 1.3200699, -0.7979300], abs=1e-5)
    assert model.rho == pytest.approx(0.012361, abs=1e-6)
    assert (1 - model.rho) / model.rho == pytest.approx(79.90, abs=0.005)
    assert model.log_likelihood == pytest.approx(-53.766763, abs=1e-6)


def test_beta_binomial_standard_errors_are_those_of_the_observed_information():
    """VGAM prints expected ones (0.1636 0.2714 0.2339 0.3773); the observed ones are of optim's Hessian."""
    assert beta_binomial.fit(DESIGN, K, N).standard_errors == pytest.approx([0.1638, 0.2737, 0.2340, 0.3780], abs=6e-5)


def test_beta_binomial_likelihood_and_variance_are_those_of_scipy():
    stats = pytest.importorskip("scipy.stats")
    model = beta_binomial.fit(DESIGN, K, N)
    total = (1 - model.rho) / model.rho
    theirs = stats.betabinom.logpmf(K, N, model.fitted * total, (1 - model.fitted) * total).sum()
    assert model.log_likelihood == pytest.approx(theirs, abs=1e-9)
    mean, variance = stats.betabinom.stats(N, model.fitted * total, (1 - model.fitted) * total)
    assert model.pearson == pytest.approx(np.sum((K - mean) ** 2 / variance), rel=1e-10)


def test_mixed_logit_by_laplace_agrees_with_lme4():
    model = mixed_logit.fit(DESIGN, K, N, np.arange(21), points=1)
    assert model.coefficients == pytest.approx([-0.5484837, 0.0974257, 1.3368108, -0.8100413], abs=5e-5)
    assert model.standard_errors == pytest.approx([0.1660825, 0.2773573, 0.2361777, 0.3841744], abs=2e-4)
    assert model.sd_group == pytest.approx(0.2345795, abs=2e-5)
    assert model.log_likelihood == pytest.approx(-53.76957, abs=6e-6)


@pytest.mark.parametrize("points", [9, 25])
def test_mixed_logit_by_quadrature_agrees_with_lme4(points):
    """Coefficients only: that library's likelihoods with more points stand on another constant."""
    model = mixed_logit.fit(DESIGN, K, N, np.arange(21), points=points)
    assert model.coefficients == pytest.approx([-0.5484156, 0.0969326, 1.3370317, -0.8104155], abs=1e-4)
    assert model.standard_errors == pytest.approx([0.1665981, 0.2780503, 0.2369429, 0.3851797], abs=1e-4)
    assert model.sd_group == pytest.approx(0.2362582, abs=3e-5)


@pytest.mark.parametrize(("k", "sd_group", "sd_unit", "within"), [
    ([3, 7, 12, 9, 20, 25], 0.9, 0.0, 2e-5),
    ([3, 7, 12, 9, 20, 25], 0.9, 0.6, 2e-5),
    ([0, 3, 25, 24, 25, 12], 2.0, 3.0, 1e-3),  # so far apart that a plain Newton step leaps across the mode and back
])
def test_mixed_likelihood_is_the_integral(k, sd_group, sd_unit, within):
    """By its definition, integrated on a fine grid: three batches of two dishes."""
    k, n, batch = np.array(k, float), np.full(6, 25.0), np.repeat([0, 1, 2], 2)
    centre = 0.3
    z = np.linspace(-9, 9, 1501)
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi) * (z[1] - z[0])
    ways = special.comb(n, k)
    dish = np.empty((6, z.size))
    for i in range(6):
        p = special.expit(centre + sd_group * z[:, None] + sd_unit * z[None, :])
        dish[i] = (ways[i] * p ** k[i] * (1 - p) ** (n[i] - k[i])) @ density
    truth = sum(np.log(np.sum(dish[batch == b].prod(0) * density)) for b in range(3))
    random_units = sd_unit > 0
    likelihood = mixed_logit._Likelihood(np.ones((6, 1)), k, n, np.array([0, 2, 4]), batch, 15, random_units)
    given = np.array([[centre, sd_group, sd_unit][: 2 + random_units]])
    assert likelihood.place(given).height[0] == pytest.approx(truth, abs=within)
