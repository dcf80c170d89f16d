"""Odds ratios against the published analysis of Crowder's seed germination plates.

Source of the data: Crowder 1978, Applied Statistics 27:34-37, Table 3. The logit coefficients 1.3181819 (cucumber against
bean in O75) and -0.7781037 (interaction), the Pearson dispersion 1.861832 on 17 df and the quasi-binomial standard error
0.2421528 are those of R 4.2.2, glm(cbind(r, n - r) ~ x1 * x2, family = quasibinomial).
"""

import json
from importlib import resources

import numpy as np
import pytest
from scipy import stats

from palea.calc.stats.odds_ratios import of_counts


@pytest.fixture(scope="module")
def plates():
    told = json.loads(resources.files("palea.demo").joinpath("crowder.json").read_text(encoding="utf-8"))["plates"]
    arm = [f"{lot}-{extract}" for lot, extract, *_ in told]
    return arm, np.array([p[2] for p in told], float), np.array([p[3] for p in told], float)


def test_cucumber_against_bean_in_o75(plates):
    half = stats.t.ppf(0.975, 17) * 0.2421528
    wanted = np.exp([1.3181819, 1.3181819 - half, 1.3181819 + half])
    assert of_counts(*plates).ratio("O75-cucumber", "O75-bean")[:3] == pytest.approx(wanted, rel=2e-6)


def test_cucumber_against_bean_in_o73_is_the_interaction_away(plates):
    assert of_counts(*plates).ratio("O73-cucumber", "O73-bean")[0] == pytest.approx(np.exp(1.3181819 - 0.7781037), rel=1e-6)


def test_p_is_that_of_t_on_17_df(plates):
    assert of_counts(*plates).ratio("O75-cucumber", "O75-bean")[3] == pytest.approx(
        2 * stats.t.sf(1.3181819 / 0.2421528, 17), rel=1e-5
    )


def test_the_odds_ratio_turned_round_is_its_inverse(plates):
    model = of_counts(*plates)
    there, back = model.ratio("O73-cucumber", "O73-bean"), model.ratio("O73-bean", "O73-cucumber")
    assert there[0] * back[0] == pytest.approx(1)
    assert there[1] * back[2] == pytest.approx(1)


def test_a_treatment_that_is_not_there_has_no_odds_ratio(plates):
    assert np.isnan(of_counts(*plates).ratio("O75-cucumber", "O75-maize")).all()
