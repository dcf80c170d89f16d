"""Plans against the figures that were computed for the journey by hand, from the formula that it states."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.planning.seed import clean_per_received, grams, seed_needed
from palea.calc.planning.size import best_use, needed, size, whole
from palea.calc.stats import simulated_power as simulated
from palea.calc.stats.power import smallest_difference
from palea.calc.stats.proportions import newcombe

PLAIN = {
    "contrast": "C", "taxon": "S", "a": "a", "b": "b", "quantity": "survival", "denominator": "emerged",
    "kind": "superiority", "scale": "difference", "wanted": "higher", "rung": "plot", "ratio": np.nan, "log_sd": np.nan,
    "margin": np.nan, "dishes": np.nan, "batch_sd": np.nan, "block_sd": np.nan, "have": np.nan, "blocked": False,
}


@pytest.mark.parametrize(("level_b", "level_a", "seeds", "rho", "units"), [
    (60, 66, 8, 0.05, 171), (60, 66, 8, 0.10, 216), (60, 75, 8, 0.05, 26), (60, 75, 8, 0.10, 32),
    (70, 80, 25, 0.02, 18), (70, 85, 25, 0.02, 7), (60, 63, 8, 0.05, 697),
])
def test_units_for_a_difference(level_b, level_a, seeds, rho, units):
    """Computed for the journey: n = (z_a + z_b)^2 (p1 q1 + p2 q2) DE / (m d^2), two-sided 5 %, 80 % (Fleiss 1981, Kish
    1965): survival 60 to 66 % 171 and 216 plots, to 75 % 26 and 32; germination 70 to 80 % 18, to 85 % 7 dishes."""
    row = PLAIN | {"level_a": level_a, "level_b": level_b, "seeds": seeds, "rho": rho}
    assert whole(needed(row)) == units


def test_dishes_before_rounding():
    row = PLAIN | {"level_a": 80, "level_b": 70, "seeds": 25, "rho": 0.02}
    assert needed(row) == pytest.approx(17.2, abs=0.05)


@pytest.mark.parametrize(("margin", "seeds", "units"), [(10, 25, 16), (10, 50, 12), (5, 25, 64), (5, 50, 46)])
def test_units_for_no_worse(margin, seeds, units):
    """Computed for the journey: 75 % both, rho 0.03, one-sided 5 %, 80 %."""
    row = PLAIN | {"level_a": 75, "level_b": 75, "seeds": seeds, "rho": 0.03, "kind": "no worse", "margin": margin}
    assert whole(needed(row)) == units


def test_what_sixteen_plots_can_see():
    """Computed for the journey: from 60 %, 8 plants a plot, rho 0.05: 18 points."""
    assert round(100 * smallest_difference(0.60, 16, seeds=8, rho=0.05)) == 18


def test_the_answer_says_both():
    asked = pd.DataFrame([PLAIN | {"level_a": 66, "level_b": 60, "seeds": 8, "rho": 0.05, "have": 16, "blocked": True}])
    found = size(asked, trials=400)
    assert found.warnings == (
        "To see 6 points of survival you need about 171 units a treatment; you have 16, which can see 18 points.",
    )


def test_seed_of_the_whole_demo_plan():
    """Computed for the journey: 67 980 seeds; clean AV 14 360 = 38.8 g, CC 21 580 = 2.2 g, AM 21 880 = 19.7 g."""
    clean = {"AV": 2.7, "CC": 0.10, "AM": 0.90}
    dishes, plots, rows = 25, 120, 80
    arms = {  # clean arms: (units, seeds a unit)
        "AV": [(6 * 16, dishes), (120, dishes), (3 * 16, plots), (2 * 20, rows)],
        "CC": [(9 * 16, dishes), (120, dishes), (60, dishes), (40, dishes), (4 * 16, plots), (3 * 20, rows)],
        "AM": [(10 * 16, dishes), (120, dishes), (96, dishes), (4 * 16, plots), (3 * 20, rows)],
    }
    needs = pd.DataFrame([
        {"lot": taxon, "trial": "", "treatment": f"{taxon}{i}", "units": units, "seeds": seeds, "received_g": clean[taxon]}
        for taxon, parts in arms.items() for i, (units, seeds) in enumerate(parts)
    ])
    lots = pd.DataFrame({"lot": ["AV", "CC", "AM"], "held_g": [486.0, 47.7, 226.0], "keep_g": [np.nan, 5.0, 10.0]})
    found = seed_needed(needs, lots)
    taken = [e for e in found.estimates if e.quantity == "seed needed"]
    assert [e.n_seeds for e in taken] == [14_360, 21_580, 21_880]
    assert [e.value for e in taken] == pytest.approx([38.8, 2.2, 19.7], abs=0.05)
    in_the_hull = 3 * 400 + 3 * 16 * plots + 2 * 20 * rows
    assert sum(e.n_seeds for e in taken) + in_the_hull == 67_980


@pytest.mark.parametrize(("mass_g", "received_g", "clean_g", "recovery", "filled", "units", "clean"), [
    (1200, 5.2, 2.7, 0.90, 0.84, 179_857, 486), (160, 0.15, 0.10, 0.62, 0.70, None, 47.7),
    (600, 1.45, 0.90, 0.84, 0.70, None, 226),
])
def test_recovery_by_number(mass_g, received_g, clean_g, recovery, filled, units, clean):
    """Computed for the journey: AV 1200 g = 230 769 pods -> 179 857 seeds = 486 g; CC 47.7 g, AM 226 g clean."""
    seeds = 1000 * mass_g / received_g * clean_per_received(recovery, filled, 0.97)
    if units:
        assert seeds == pytest.approx(units, abs=1)
    assert grams(seeds, clean_g) == pytest.approx(clean, abs=0.5)


def test_a_plan_that_does_not_fit():
    """The invented journey: "The plan takes 214 g; the lot holds 180 g. Largest plan that fits: 10 dishes." (12 dishes asked)."""
    needs = pd.DataFrame([{"lot": "L", "trial": "G", "treatment": "a", "units": 12, "seeds": 25, "received_g": 214e3 / 300}])
    found = seed_needed(needs, pd.DataFrame([{"lot": "L", "held_g": 180.0, "keep_g": np.nan}]))
    assert found.warnings == ("The plan takes 214 g of L; the lot holds 180 g. Largest plan that fits: 10 units an arm.",)


def test_best_use_of_the_same_seeds_by_hand():
    """Kish 1965, rho 0.05: 100 seeds as 4 x 25 weigh as 100 / 2.2 = 45.45, as 20 x 5 as 100 / 1.2 = 83.33."""
    table = best_use(100, 80, 70, rho=0.05).set_index("dishes")
    assert table.loc[4, "effective_seeds"] == pytest.approx(45.4545, abs=5e-5)
    assert table.loc[20, "effective_seeds"] == pytest.approx(83.3333, abs=5e-5)
    assert table.loc[20, "power"] > table.loc[4, "power"]


def test_simulated_power_of_independent_seeds_is_the_exact_one():
    """The chance that Newcombe's interval excludes 0 can be summed over all outcomes; no over-dispersion, few units.

    One unit's worth of dispersion is set to 1 or more, so the analysis is a little careful: never above the sum, and
    below it by no more than its t quantile and its dispersion cost."""
    from scipy.stats import binom

    n, a, b = 800, 0.70, 0.62
    ka, kb = np.arange(n + 1)[:, None], np.arange(n + 1)[None, :]
    low, _ = newcombe(np.broadcast_to(ka, (n + 1, n + 1)), n, np.broadcast_to(kb, (n + 1, n + 1)), n)
    exact = np.sum(binom.pmf(ka, n, a) * binom.pmf(kb, n, b) * (low > 0))
    found = simulated.power(simulated.Trial(a, b, seeds=8), [100], trials=20_000)[0]
    assert exact - 0.035 < found < exact + 0.01


def test_drawn_dishes_are_beta_binomial():
    """scipy.stats.betabinom: chances of 0 to 8 of 8 at p 0.6, rho 0.1 (a = p (1 - rho) / rho)."""
    from scipy.stats import betabinom

    drawn = simulated.draw(simulated.Trial(0.6, 0.6, seeds=8, rho=0.1), 200, 1000, 3)
    seen = np.bincount(drawn.ravel(), minlength=9) / drawn.size
    assert seen == pytest.approx(betabinom.pmf(np.arange(9), 8, 0.6 * 9, 0.4 * 9), abs=0.003)


def test_simulated_power_reaches_the_formula():
    """171 plots a treatment were computed for 80 % (the invented journey); the analysis itself, 1000 trials, within 5 points."""
    found = simulated.power(simulated.Trial(0.66, 0.60, seeds=8, rho=0.05), [171], trials=1000)[0]
    assert found == pytest.approx(0.80, abs=0.05)
