"""Penalised quasi-likelihood on the seed germination plates of Crowder (1978), Applied Statistics 27:34-37.

Published: Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9 (-0.542 (0.190), 0.077 (0.308), 1.339 (0.270), -0.825 (0.430),
sigma 0.313; from memory, confirmed by an own computation in R 4.2.2 that gives the further digits used here).
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.stats import mixed_logit
from palea.calc.stats.penalised_mixed import fit
from palea.errors import UnfitValue


@pytest.fixture(scope="module")
def plates():
    frame = pd.read_csv(Path(__file__).parent / "data" / "crowder_seeds.csv", comment="#")
    seed, root = frame["gen"].eq("O73").astype(float), frame["extract"].eq("cucumber").astype(float)
    design = np.column_stack([np.ones(len(frame)), seed, root, seed * root])
    return design, frame["germ"].to_numpy(float), frame["n"].to_numpy(float), np.arange(len(frame))


def test_published_coefficients_and_errors(plates):
    found = fit(*plates)
    assert found.coefficients == pytest.approx([-0.5422259, 0.0767929, 1.3385349, -0.8251484], abs=2e-5)
    assert found.standard_errors == pytest.approx([0.1903935, 0.3081171, 0.2699171, 0.4296362], abs=2e-5)
    assert found.sd_group == pytest.approx(0.3127335, abs=2e-5)


def test_it_lies_near_the_likelihood_fit(plates):
    assert fit(*plates).coefficients == pytest.approx(mixed_logit.fit(*plates).coefficients, abs=0.05)


def test_what_does_not_settle_is_said():
    with pytest.raises(UnfitValue, match="does not settle"):
        fit(np.eye(2)[[0, 0, 1, 1]], [0, 0, 5, 5], [5, 5, 5, 5], [0, 1, 2, 3])
