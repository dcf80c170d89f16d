"""Classical measures of a dish against values worked out in another program, and scipy's entropy.

Formulas: Ranal & Santana 2006, Rev. Bras. Bot. 29:1-11; Maguire 1962, Crop Sci. 2:176-177; Coolbear et al. 1984, J.
Exp. Bot. 35:1609-1617; Farooq et al. 2005, J. Integr. Plant Biol. 47:187-193. The dish is made up; the numbers were
computed with numpy and scipy.stats.entropy apart from this code.
"""

import numpy as np
import pytest
from scipy import stats

from palea.calc.germination.indices import measures, time_to

DAY = np.arange(1.0, 15.0)[None]
COUNT = np.array([[0, 0, 2, 7, 12, 9, 5, 3, 1, 1, 0, 0, 0, 0]], float)
WORKED_OUT = {
    "mean germination time": 5.65, "variance of germination time": 2.43846154,
    "variation of germination time": 27.63818421, "mean germination rate": 0.17699115,
    "velocity coefficient": 17.69911504, "germination uncertainty": 2.58280591, "germination synchrony": 0.17564103,
    "germination speed index": 7.61706349, "t10": 3.28571429, "t50": 4.95833333, "t90": 7.33333333,
    "spread t10 to t90": 4.04761905,
}


@pytest.mark.parametrize(("quantity", "value"), WORKED_OUT.items())
def test_measure_of_the_made_up_dish(quantity, value):
    assert measures(DAY, COUNT)[quantity][0] == pytest.approx(value, abs=1e-8)


@pytest.mark.parametrize(("share", "variant", "of", "day"), [
    (0.5, "farooq", None, 4.91666667), (0.5, "coolbear", None, 4.95833333), (0.5, "farooq", [50], 5.44444444),
    (0.25, "farooq", None, 4.08333333), (0.75, "farooq", None, 6.0),
])
def test_time_to_a_share_of_the_made_up_dish(share, variant, of, day):
    assert time_to(DAY, COUNT, share, variant, of)[0] == pytest.approx(day, abs=1e-8)


def test_uncertainty_is_the_entropy_of_scipy():
    counts = np.random.default_rng(6).integers(0, 9, (20, 14)).astype(float)
    day = np.broadcast_to(DAY, counts.shape)
    entropy = stats.entropy(counts, base=2, axis=1)
    assert measures(day, counts)["germination uncertainty"] == pytest.approx(entropy, abs=1e-12)
