"""Lots against published worked examples and tables. Each case says where it is from."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.lots import life, live_seed, purity, seed_weight, water
from palea.calc.means import Interval, mean_interval, product

DATA = Path(__file__).parent / "data"
TABLE = pd.read_csv(DATA / "pls_conversion_usgs_table4.csv", comment="#")

# purity %, germination %, hard %, pure live seed %, rate of pure live seed, rate of the bag, how near
PUBLISHED = [
    pytest.param(96, 80, 0, 76.8, 1, 1.3, 0.01, id="Ernst Conservation Seeds, Bulk vs PLS"),
    pytest.param(98, 92, 5, 95.06, 3.00, 3.16, 0.005, id="ec3grp.com, PLS vs bulk: germination and hard seed"),
    pytest.param(95, 85, 0, 80.75, 0.12, 0.15, 0.005, id="ec3grp.com, PLS vs bulk: tetrazolium"),
    pytest.param(50, 80, 0, 40, 1, 2.5, 1e-9, id="Ernst Conservation Seeds: 40 % PLS"),
    pytest.param(100, 82, 0, 82, 1, 1.2195, 5e-5, id="82 % PLS: 1.2 of the bag"),
    pytest.param(90, 90, 0, 81, 1, 1.23, 0.005, id="Progressive Forage: light coat, tag 90 % pure; rate by hand"),
    pytest.param(66, 90, 0, 59.4, 1, 1.68, 0.005, id="Progressive Forage: heavy coat, 34 % coating; rate by hand"),
]


@pytest.mark.parametrize(("pure", "germinated", "hard", "percent", "rate", "bulk", "near"), PUBLISHED)
def test_pure_live_seed_as_published(pure, germinated, hard, percent, rate, bulk, near):
    share = live_seed.pure_live_seed_share(pure / 100, germinated / 100, hard / 100)
    assert 100 * share == pytest.approx(percent, abs=1e-9)
    assert live_seed.bulk_rate(rate, share) == pytest.approx(bulk, abs=near)


def test_conversion_table_of_the_soil_conservation_service():
    """USGS NPWRC Table 4 (SCS Job Sheet ND-20, 1980), 121 cells rounded irregularly to 0.05: within 0.05."""
    shares = live_seed.pure_live_seed_share(TABLE["purity_pct"] / 100, TABLE["germination_pct"] / 100)
    off = live_seed.bulk_rate(1.0, shares) - TABLE["factor"]
    assert len(TABLE) == 121
    assert np.abs(off).max() == pytest.approx(0.0442, abs=5e-5)


@pytest.mark.parametrize(("pure", "germinated", "factor"), [(100, 100, 1.0), (95, 95, 1.1), (90, 90, 1.25), (80, 70, 1.8),
                                                            (60, 60, 2.8), (50, 50, 4.0)])  # fmt: skip
def test_cells_of_the_conversion_table(pure, germinated, factor):
    assert 1 / live_seed.pure_live_seed_share(pure / 100, germinated / 100) == pytest.approx(factor, abs=0.05)


# Dimorphotheca sinuata, AOSA Rules App. 4 tutorial (2001): eight groups of 100 seeds, g
GROUPS = [0.2224, 0.2134, 0.2130, 0.2116, 0.2145, 0.2071, 0.2116, 0.2125]


def test_eight_groups_of_the_aosa_tutorial():
    """Formula of the tutorial, computed apart: mean 0.2132625 g, s 0.004296157, CV 2.014492 %, TSW 2.132625 g."""
    found = seed_weight.weigh(GROUPS)
    assert found.mean == pytest.approx(2.132625, abs=1e-9)
    assert found.variation == pytest.approx(2.014492, abs=5e-7)
    assert found.per_1000.std(ddof=1) / 10 == pytest.approx(0.004296157, abs=5e-10)
    assert 1000 * seed_weight.per_gram(found.mean) == pytest.approx(468_905.69, abs=0.005)
    assert 2500 / 1000 * found.mean == pytest.approx(5.33156, abs=5e-6)  # grams of 2500 seeds


@pytest.mark.parametrize(("per_pound", "grams", "near"), [
    pytest.param(880_000, 0.52, 0.005, id="Poa ampla, low end of the published range"),
    pytest.param(920_000, 0.49, 0.005, id="Poa ampla, high end"),
    pytest.param(225_000, 2.02, 0.005, id="tall fescue"),
    pytest.param(1_400_000, 0.324, 0.0005, id="Kentucky bluegrass"),
    pytest.param(165_000, 2.75, 0.005, id="big bluestem (from memory)"),
    pytest.param(255_000, 1.78, 0.005, id="little bluestem (from memory)"),
    pytest.param(191_000, 2.37, 0.006, id="sideoats grama (from memory)"),
    pytest.param(825_000, 0.55, 0.005, id="blue grama (from memory)"),
    pytest.param(110_000, 4.12, 0.005, id="western wheatgrass (from memory)"),
    pytest.param(5_300_000, 0.086, 0.0005, id="sand dropseed (from memory)"),
])
def test_seeds_a_pound_as_thousand_seed_weight(per_pound, grams, near):
    assert seed_weight.from_per_pound(per_pound) == pytest.approx(grams, abs=near)


def test_drying_as_published_by_irri():
    """IRRI Rice Knowledge Bank: 1000 kg at 25 % dried to 14 % weigh 872 kg; 15 % wet basis is 0.176 dry basis."""
    assert water.mass_at(1000, 0.25, 0.14) == pytest.approx(872, abs=0.5)
    assert water.dry_basis(0.15) == pytest.approx(0.176, abs=5e-4)


def test_water_content_of_a_tin():
    """ISTA ch. 9 formula (from memory), by hand: 4 g tin, 9 g moist, 8.6 g dry: 0.4 of 5 g."""
    assert 100 * water.water_share(4.0, 9.0, 8.6) == pytest.approx(8.0)


def test_viability_adjusted_germination():
    """Arithmetic on 100 sown, 80 filled, 60 viable, 45 germinated: 45 % of sown, 56.25 of filled, 75 of viable."""
    assert 100 * life.adjusted(45, 100) == pytest.approx(45)
    assert 100 * life.adjusted(45, 80) == pytest.approx(56.25)
    assert 100 * life.adjusted(45, 60) == pytest.approx(75)
    assert 100 * life.dormancy(45, 60) == pytest.approx(25)


def test_total_viable_is_germination_and_dormant_and_hard():
    """AASCO: 40 % germinated, 15 % dormant, 5 % hard of a 50 % pure lot leave 30 % pure live seed."""
    assert live_seed.pure_live_seed_share(0.5, 0.40, 0.15 + 0.05) == pytest.approx(0.30)


@pytest.mark.parametrize(("emerged_of_germinated", "of_sown", "survived"), [(0.17, 12.2, 8.8), (0.07, 5.0, 3.6)])
def test_establishment_of_james_and_others(emerged_of_germinated, of_sown, survived):
    """James, Svejcar & Rinella 2011, J. Appl. Ecol. 48:961: 0.72 germinated, 17 or 7 % of these emerged, 0.72 lived on."""
    germinated, lived = Interval(0.72), Interval(0.72)
    emerged = product(germinated, Interval(emerged_of_germinated))
    assert 100 * emerged.value == pytest.approx(of_sown, abs=0.05)
    assert 100 * product(emerged, lived).value == pytest.approx(survived, abs=0.07)  # printed from rounded parts


def test_purity_as_shares_of_the_sum_of_parts():
    """ISTA ch. 3 (from memory), by hand: 4.0 of 4.812 g; the 0.192 g that went missing count nowhere."""
    pure, other, inert = purity.shares(4.0, 0.0, 0.812)
    assert (100 * pure, 100 * other, 100 * inert) == pytest.approx((83.12552, 0.0, 16.87448), abs=5e-6)


def test_viable_seed_of_a_hundred_has_the_wilson_interval():
    """Wilson 1927 by hand: 64 of 100 gives 54.2 to 72.7 % (statsmodels proportion_confint, wilson)."""
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    rows = pd.DataFrame([{"taxon": "A", "lot": "L", "test": "T", "replicate": 1, "quantity": life.VIABLE,
                          "denominator": "", "k": 64, "n": 100}])  # fmt: skip
    (found,) = life.shares_of(rows)
    assert found.interval[1:3] == pytest.approx(proportion.proportion_confint(64, 100, method="wilson"), abs=1e-12)
    assert found.interval[1:3] == pytest.approx((0.542, 0.727), abs=5e-4)


def test_mean_of_weighings_has_the_t_interval_of_scipy():
    stats = pytest.importorskip("scipy.stats")
    low, high = stats.t.interval(0.95, len(GROUPS) - 1, np.mean(GROUPS), stats.sem(GROUPS))
    assert mean_interval(GROUPS)[1:3] == pytest.approx((low, high), abs=1e-12)


def test_interval_of_a_product_covers_as_a_simulation_does():
    """Normal errors on the log scale by numpy: exact interval of a product of two log-normals."""
    first, second = (Interval(v, v * np.exp(-1.96 * s), v * np.exp(1.96 * s)) for v, s in ((0.8, 0.05), (0.5, 0.1)))
    both = product(first, second)
    half = 1.96 * np.hypot(0.05, 0.1)
    assert both[:3] == pytest.approx((0.4, 0.4 * np.exp(-half), 0.4 * np.exp(half)), rel=1e-12)
