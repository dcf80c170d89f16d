"""Log-logistic with a never-germinating share against fits made in other programs."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from palea.calc.stats.plateau import fit

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="module")
def dishes():
    table = pd.read_csv(DATA / "synthetic_germination_plateau.csv")
    return table.groupby(["left", "right"]).size().reset_index(name="count")


def test_never_germinating_share_agrees_with_two_optimisers(dishes):
    """R 4.2.2 optim (BFGS) and scipy 1.17 Nelder-Mead, which agree; standard errors from R's Hessian."""
    found = fit(dishes["left"], dishes["right"], dishes["count"])
    assert found.settled.all()
    assert found.share[0] == pytest.approx(0.80165325, abs=2e-7)
    assert found.half_time[0] == pytest.approx(4.9461186, abs=2e-7)
    assert found.shape[0] == pytest.approx(5.9414687, abs=1e-6)
    assert found.loglik[0] == pytest.approx(-97.65251762, abs=1e-8)
    errors = found.se_logit_share[0], found.se_log_half_time[0], found.se_log_shape[0]
    assert errors == pytest.approx((0.356628, 0.047622, 0.141147), abs=2e-6)


def test_without_the_share_it_is_the_log_logistic_of_survreg(dishes):
    """R survival 3.5.3 survreg(interval2, dist = "loglogistic"): intercept, scale, log-likelihood."""
    found = fit(dishes["left"], dishes["right"], dishes["count"], never=False)
    assert np.log(found.half_time[0]) == pytest.approx(1.785016134, abs=1e-8)
    assert 1 / found.shape[0] == pytest.approx(0.3477311, abs=5e-8)
    assert found.loglik[0] == pytest.approx(-111.9472145, abs=1e-7)
    assert found.share[0] == 1


def test_all_germinate_where_that_fits_best():
    """Finkelstein & Wolfe 1985, Biometrics 41:933: R optim and scipy end at d = 1; scipy.stats.fisk has the rest."""
    table = pd.read_csv(DATA / "breast_cosmesis.csv").fillna({"left": 0})
    rows = table.groupby(["left", "right"]).size().reset_index(name="count")
    found = fit(rows["left"], rows["right"], rows["count"])
    whole = table[np.isfinite(table["right"])]
    censored = stats.CensoredData(
        interval=whole[["left", "right"]].to_numpy(), right=table.loc[np.isinf(table["right"]), "left"].to_numpy()
    )
    shape, _, scale = stats.fisk.fit(censored, floc=0)
    assert found.share[0] == 1
    assert np.isnan(found.se_logit_share[0])
    assert (found.half_time[0], found.shape[0]) == pytest.approx((scale, shape), rel=2e-4)  # fisk.fit stops at 1e-4
