"""Decisions against figures computed for the journey, published establishment, and closed forms of theory."""

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import special

from palea.calc.decision.cost import Price, break_even_area, cost, units_for_plants
from palea.calc.decision.equivalence import equivalence, tost
from palea.calc.decision.losses import losses
from palea.calc.decision.mixture import best_share, long_run, mixture, season_mean
from palea.calc.planning.seed import clean_per_received

PLANTS = pd.read_csv(Path(__file__).parent / "data" / "PlantGrowth.csv")
MANY = 1e12  # seeds, so that shares are what they were set to


# The field of the invented demo, derived by hand from its table of truths: germinable seed emerges on log-logistic
# days, stands under weekly hazards from the week after emergence (half in its own week), then to week 40.
MEDIAN_D = {"AV": 18, "CC": 14, "AM": 12}
EMERGE = {"AV": 0.42, "CC": 0.28, "AM": 0.50}
WEEKLY = {"AV": (0.02, 0.08), "CC": (0.03, 0.12), "AM": (0.03, 0.50)}
TO_WEEK_40 = {"AV": 0.60, "CC": 0.55, "AM": 0.68}
VIABLE = {"AV": 0.93, "CC": 0.90, "AM": 0.92}
FILLED = {"AV": 0.84, "CC": 0.70, "AM": 0.70}
NORMAL = 0.97
MASS = {"AV": (5.2, 2.7), "CC": (0.15, 0.10), "AM": (1.45, 0.90)}
SEED_PRICE = {"AV": 95, "CC": 310, "AM": 240}
BRUSHED = {"AV": 0.90, "CC": 0.62, "AM": 0.84}
GERMINABLE = {"AV": 0.90, "CC": 0.72, "AM": 0.62}
HARD = {"AV": (0.60, 0.22), "CC": (0, 0), "AM": (0, 0)}


@cache
def standing(taxon, times=1.0):
    """(emerged by week 12, alive at week 12) of those that ever emerge."""
    usual, dry = WEEKLY[taxon]
    weeks = np.arange(1, 13)
    hazard = np.where((weeks >= 3) & (weeks <= 5), dry, usual)
    by = 1 / (1 + (np.maximum(7.0 * np.arange(13), 1e-9) / (times * MEDIAN_D[taxon])) ** -3.5)
    new = np.diff(by)
    later = np.array([hazard[w:].sum() for w in range(1, 13)])
    return new.sum(), float(new @ np.exp(-hazard / 2 - later))


def stages(taxon, clean, brush=0.0, emerge=None, times=1.0):
    """Shares of one stage after another: filled, viable, germinated, emerged, established at week 40."""
    germinable = special.expit(special.logit(GERMINABLE[taxon]) + brush)
    emerged, alive = standing(taxon, times)
    return (
        0.97 if clean else FILLED[taxon], VIABLE[taxon], (1 - HARD[taxon][int(clean)]) * germinable * NORMAL,
        (emerge or EMERGE[taxon]) * emerged, alive / emerged * TO_WEEK_40[taxon],
    )


NAMES = ("filled", "viable", "germinated", "emerged", "established")


def passed(taxon, **arms):
    return pd.DataFrame([
        {"taxon": taxon, "treatment": name, "environment": "", "stage": stage, "unit": f"{name}{unit}", "batch": "",
         "entered": MANY, "passed": share * MANY}
        for name, shares in arms.items() for stage, share in zip(NAMES, shares, strict=True) for unit in (1, 2)
    ])


def priced(taxon, **arms):
    received, clean = MASS[taxon]
    brushed = {"recovery": clean_per_received(BRUSHED[taxon], FILLED[taxon], 0.97), "clean_g": clean, "per_received": 25}
    rows = [
        {"taxon": taxon, "treatment": name, "price": SEED_PRICE[taxon], "received_g": received, "campaign": campaign}
        | (brushed | {"per_clean": coat} if name != "T01" else {})
        for name, (coat, campaign) in arms.items()
    ]
    return pd.DataFrame(rows)


def answers(taxon, arms, prices, **options):
    pairs = pd.DataFrame([{"taxon": taxon, "a": name, "b": "T01"} for name in arms if name != "T01"])
    found = cost(passed(taxon, **arms), priced(taxon, **prices), pairs, replicates=99, **options)
    return {(e.quantity, e.of.get("treatment") or e.of["a"]): e for e in found.estimates if e.scale != "difference"}


def test_establishment_of_the_demo_is_the_journeys():
    """The invented journey: alive of sown T01 .70 x .92 x .06986 x .68 = .0306, T07 .97 x .92 x .17444 x .68 = .1059."""
    arms = {"T01": stages("AM", clean=False), "T07": stages("AM", clean=True, emerge=0.47, times=3.0)}
    of_sown = {(e.of["treatment"], e.quantity): e.value / 100 for e in losses(passed("AM", **arms), replicates=99).groups}
    for name, of_viable, established in (("T01", 0.06986, 0.0306), ("T07", 0.17444, 0.1059)):
        assert of_sown[name, "established"] == pytest.approx(established, abs=5e-5)
        assert of_sown[name, "established"] / of_sown[name, "viable"] / 0.68 == pytest.approx(of_viable, abs=5e-6)


def test_losses_of_the_demo_are_the_journeys():
    """The invented journey, AM at Hollow Sands, week 40: T01 100, 70, 64.4, 38.7, 19.3, 3.1;
    T07 100, 97, 89.2, 53.7, 24.0, 10.6."""
    arms = {"T01": stages("AM", clean=False), "T07": stages("AM", clean=True, emerge=0.47, times=3.0)}
    found = losses(passed("AM", **arms), pd.DataFrame([{"taxon": "AM", "a": "T07", "b": "T01"}]), replicates=99)
    values = [round(e.value, 1) for e in found.groups]
    assert values == [70, 64.4, 38.7, 19.3, 3.1, 97, 89.2, 53.7, 24.0, 10.6]
    *steps, last = (e.value for e in found.effects)
    assert np.prod(steps) == pytest.approx(last, rel=1e-9)
    assert last == pytest.approx(0.1059 / 0.0306, rel=2e-3)


def test_losses_of_published_establishment():
    """James, Svejcar & Rinella 2011, J. Appl. Ecol. 48:961: germination 0.72, 17 % of germinated emerged, later survival
    0.72: emerged 12.2 %, established 8.8 % of sown; 7 % on fire sites: 5.0 and 3.6 %."""
    rows = pd.DataFrame([
        {"taxon": "S", "treatment": site, "environment": "", "stage": stage, "unit": "u", "entered": 10_000, "passed": k}
        for site, emerged in (("tilled", 1700), ("fire", 700))
        for stage, k in (("germinated", 7200), ("emerged", emerged), ("established", 7200))
    ])
    values = {(e.of["treatment"], e.quantity): e.value for e in losses(rows).groups}
    assert values["tilled", "emerged"] == pytest.approx(12.2, abs=0.05)
    assert values["tilled", "established"] == pytest.approx(8.8, abs=0.05)
    assert values["fire", "emerged"] == pytest.approx(5.0, abs=0.05)
    assert values["fire", "established"] == pytest.approx(3.6, abs=0.05)


def test_denominators_by_arithmetic():
    """Sown 100, filled 80, viable 60, germinated 45: 45 % of sown, 56.25 % of filled, 75 % of viable, dormancy 25 %."""
    rows = pd.DataFrame([
        {"taxon": "S", "treatment": "t", "environment": "", "stage": stage, "unit": "u", "entered": n, "passed": k}
        for stage, n, k in (("filled", 100, 80), ("viable", 80, 60), ("germinated", 60, 45))
    ])
    values = [e.value for e in losses(rows).groups]
    assert values == pytest.approx([80, 60, 45])
    assert 100 * values[2] / values[0] == pytest.approx(56.25)
    assert 100 * values[2] / values[1] == pytest.approx(75)


def test_cost_of_the_delaying_coat():
    """The invented journey: 20 000 plants/ha. T01 653 757 fruits = 0.948 kg = 228 EUR/ha; T07 188 934 seeds from 0.452 kg = 126
    EUR/ha + 1200 a campaign: pays above 11.8 ha; at 5 ha only from 519 EUR/kg."""
    arms = {"T01": stages("AM", clean=False), "T07": stages("AM", clean=True, emerge=0.47, times=3.0)}
    found = answers("AM", arms, {"T01": (0, 0), "T07": (35, 1200)}, area=5.0)
    assert found["seed units for a hectare", "T01"].value == pytest.approx(653_757, rel=1e-4)
    assert found["seed units for a hectare", "T07"].value == pytest.approx(188_934, rel=1e-4)
    assert found["seed for a hectare", "T01"].value == pytest.approx(0.948, abs=5e-4)
    assert found["seed for a hectare", "T07"].value == pytest.approx(0.452, abs=5e-4)
    assert found["cost of a hectare", "T01"].value == pytest.approx(228, abs=0.5)
    assert found["break-even area", "T07"].value == pytest.approx(11.8, abs=0.05)
    assert found["break-even seed price", "T07"].value == pytest.approx(519, abs=0.5)
    alone = answers("AM", arms, {"T01": (0, 0), "T07": (35, 0)}, area=5.0)
    assert alone["cost of a hectare", "T07"].value == pytest.approx(126, abs=0.5)
    assert alone["cost of a plant", "T07"].value == pytest.approx(126 / 20_000, rel=5e-3)


def test_cost_of_the_brush_alone():
    """The invented journey: AM 299 EUR/ha against 228: never pays. AV 141 against 195 EUR/ha: pays above 5.5 ha."""
    for taxon, base, brushed, area in (("AM", 228, 299, np.nan), ("AV", 195, 141, 5.5)):
        arms = {"T01": stages(taxon, clean=False), "T03": stages(taxon, clean=True)}
        found = answers(taxon, arms, {"T01": (0, 0), "T03": (0, 300)})
        without = answers(taxon, arms, {"T01": (0, 0), "T03": (0, 0)})
        assert found["cost of a hectare", "T01"].value == pytest.approx(base, abs=0.5)
        assert without["cost of a hectare", "T03"].value == pytest.approx(brushed, abs=0.5)
        assert found["break-even area", "T03"].value == pytest.approx(area, abs=0.05, nan_ok=True)
    found = answers("AM", {"T01": stages("AM", clean=False), "T03": stages("AM", clean=True)}, {"T01": (0, 0), "T03": (0, 300)})
    assert found["break-even area", "T03"].reason.startswith("It never pays")


def test_cost_of_what_never_pays():
    """The invented journey: CC bare in the hull 23, T17 31, pellet 55 EUR/ha: never pays."""
    arms = {
        "T01": stages("CC", clean=False), "T17": stages("CC", clean=True, brush=-0.75, emerge=0.48),
        "T08": stages("CC", clean=True, brush=-0.75, times=1.25),
    }
    found = answers("CC", arms, {"T01": (0, 0), "T17": (28, 0), "T08": (120, 0)})
    costs = [found["cost of a hectare", name].value for name in ("T01", "T17", "T08")]
    assert costs == pytest.approx([23, 31, 55], abs=0.5)
    full = answers("CC", arms, {"T01": (0, 0), "T17": (28, 1200), "T08": (120, 1200)})
    assert all(np.isnan(full["break-even area", name].value) for name in ("T17", "T08"))


def test_break_even_by_the_printed_sums():
    assert break_even_area(126, 228, 1200, 0) == pytest.approx(11.8, abs=0.05)
    assert break_even_area(141, 195, 300, 0) == pytest.approx(5.5, abs=0.1)


@pytest.mark.parametrize(("plants", "thousand_g", "share", "kg"), [(300, 51.9, 0.85, 183.176), (280, 53, 0.85, 174.588)])
def test_sowing_rate_of_grain(plants, thousand_g, share, kg):
    """Agriland: 300 plants/m2, 51.9 g, 85 % -> 183 kg/ha; Irish Farmers Journal: 280, 53 g, 85 % -> 175 kg/ha."""
    units = units_for_plants(plants * 1e4, share)
    assert Price(0, thousand_g, thousand_g).seed(units) == pytest.approx(kg, abs=5e-4)


def test_sowing_rate_of_oilseed():
    """Canola guide: 9.6 x 10 plants/ft2 x 4 g / 50 % = 7.7 lb/ac; 43 560 ft2/ac, 453.59237 g/lb: exactly 7.6827."""
    units = units_for_plants(10 * 43_560, 0.50)
    assert Price(0, 4, 4).seed(units) * 1000 / 453.59237 == pytest.approx(7.6827, abs=5e-5)


def test_seeds_on_a_square_metre():
    """Lucerne: 450 000 seeds/kg at 2 kg/ha are 90 seeds/m2; 5 kg/ha of 440 000 are 220."""
    for seeds_kg, rate, dense in ((450_000, 2, 90), (440_000, 5, 220)):
        mass = Price(0, 1e6 / seeds_kg, 1).seed(dense * 1e4)
        assert mass == pytest.approx(rate)


HOLD_BACK = [[0.10, 0.085], [0.10 * 0.10, 0.085 * 0.70]]
CHANCES = [0.9, 0.1]


def test_hold_back_of_the_journey():
    """The invented journey: early 10 %, delayed 8.5 %, failed spring 1 in 10 leaving 10 % and 70 %: single-season best w = 0
    (9.1 %), long-run best w = 0.5 (8.39 %)."""
    assert best_share(HOLD_BACK, CHANCES, of=season_mean) == 0
    assert 100 * season_mean([1, 0], HOLD_BACK, CHANCES) == pytest.approx(9.1)
    best = best_share(HOLD_BACK, CHANCES)
    assert best == pytest.approx(0.5, abs=0.05)
    assert 100 * long_run([0.5, 0.5], HOLD_BACK, CHANCES) == pytest.approx(8.39, abs=0.005)
    assert 100 * long_run([1 - best, best], HOLD_BACK, CHANCES) == pytest.approx(8.39, abs=0.005)
    # derived by hand: 0.9 x 1.5 / (10 - 1.5 w) = 0.1 x 4.95 / (1 + 4.95 w)
    assert best == pytest.approx(3.6 / 7.425, abs=1e-6)


@pytest.mark.parametrize(("chance", "seeds_made", "kept"), [(0.7, 4.0, 0.5), (0.6, 10.0, 0.8), (0.9, 2.0, 0.3)])
def test_long_run_best_is_cohens(chance, seeds_made, kept):
    """Cohen 1966, J. Theor. Biol. 12:119: seed that germinates makes Y in a good year (chance p) and 0 in a bad one, seed
    that waits lives on with s; the best share to germinate is (p Y - s) / (Y - s)."""
    scale = 20.0  # shares must lie below 1; the optimum does not move
    waits = best_share([[seeds_made / scale, kept / scale], [0.0, kept / scale]], [chance, 1 - chance])
    assert 1 - waits == pytest.approx((chance * seeds_made - kept) / (seeds_made - kept), abs=1e-5)


def test_mixture_answers_all_aims():
    seasons = pd.DataFrame([
        {"season": s, "chance": c, "portion": p, "established": 100 * HOLD_BACK[i][j]}
        for i, (s, c) in enumerate((("good", 0.9), ("failed", 0.1))) for j, p in enumerate(("early", "delayed"))
    ])
    portions = pd.DataFrame({
        "portion": ["early", "delayed"], "waiting": [30.0, 64.0], "viable": [90.0, 50.0], "thousand_g": [0.9, 1.45],
    })
    found = mixture(seasons, portions, keep=47.0)
    values = [(e.quantity, round(e.value, 2)) for e in found.estimates]
    assert values[0] == ("share held back", 0)
    assert values[1] == ("established in the mean season", 9.1)
    assert ("established in the long run", 8.39) in values
    assert values[8] == ("share held back", 50)
    assert [v for q, v in values if q == "mass in the bag"] == [5.0, 14.5]


def test_two_one_sided_tests_of_plant_growth():
    """statsmodels 0.15 ttost_ind: trt1 - ctrl, margin 1: pooled p 0.0292791 (t 2.019684, -4.402205; df 18), 90 %
    -0.911048 to 0.169048; Welch p 0.0299693 (df 16.5236). trt2 - ctrl: p 0.0211411."""
    by = PLANTS.groupby("group")["weight"].agg(["mean", "std", "size"])
    sides = [by.loc["trt1"], by.loc["ctrl"]]
    numbers = [[each[name] for each in sides] for name in ("mean", "std", "size")]
    pooled = tost(*numbers[0], *numbers[1], *numbers[2], margin=1)
    assert pooled.p_value == pytest.approx(0.0292791, abs=5e-8)
    assert (pooled.t_low, pooled.t_high, pooled.df) == pytest.approx((2.019684, -4.402205, 18), abs=5e-7)
    assert (pooled.lower, pooled.upper) == pytest.approx((-0.911048, 0.169048), abs=5e-7)
    welch = tost(*numbers[0], *numbers[1], *numbers[2], margin=1, pooled=False)
    assert (welch.p_value, welch.df) == pytest.approx((0.0299693, 16.5236), abs=5e-5)
    second, control = by.loc["trt2"], by.loc["ctrl"]
    found = tost(second["mean"], control["mean"], second["std"], control["std"], 10, 10, 1)
    assert found.p_value == pytest.approx(0.0211411, abs=5e-8)


def test_two_one_sided_tests_of_a_published_example():
    """Lakens 2017, SPPS 8:355: 5.25 and 5.22, sd 0.95 and 0.83, n 95 and 89, bounds +-0.43 d; published t(182) = 2.69,
    p = .004; Welch t 3.14973 and -2.692771, p .0038755, df 181.134."""
    found = tost(5.25, 5.22, 0.95, 0.83, 95, 89, 0.383569, pooled=False)
    assert (found.t_low, found.t_high) == pytest.approx((3.14973, -2.692771), abs=2e-5)
    assert (found.p_value, found.df) == pytest.approx((0.0038755, 181.134), abs=5e-4)


def plants(*groups):
    kept = PLANTS[PLANTS["group"].isin(groups)]
    return pd.DataFrame({
        "taxon": "S", "treatment": kept["group"], "environment": "e", "batch": kept.index.astype(str),
        "unit": kept.index.astype(str), "quantity": "dry mass", "value": kept["weight"],
    })


def test_the_verdict_carries_the_published_p():
    """The same two tests (statsmodels ttost_ind, pooled over the two groups that are compared)."""
    asked = pd.DataFrame([{"taxon": "", "a": "trt1", "b": "ctrl", "quantity": "dry mass", "margin": 1.0}])
    found = equivalence(plants("trt1", "ctrl"), asked).effects[0]
    assert found.p_value == pytest.approx(0.0292791, abs=5e-8)
    assert (found.inner_lower, found.inner_upper) == pytest.approx((-0.911048, 0.169048), abs=5e-7)
    assert found.verdict == "equivalent within m"
