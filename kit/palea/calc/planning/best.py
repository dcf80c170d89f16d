"""The best use of so many seeds: many small dishes or few large ones, at the same total."""

from types import MappingProxyType

from palea.calc.formula import number, shown
from palea.calc.planning.size import best_use
from palea.calc.results import Estimate, Refusal, Values

CHANCE, SEEN = "power", "smallest difference seen"


def dishes(total=400, level_a=80.0, level_b=70.0, rho=0.02, power=0.8, alpha=0.05, smallest=5):
    """The same number of seeds an arm in dishes of every size -> Values; `units` is the table, most dishes first.

    total : seeds an arm.  level_a, level_b : shares expected [%].  rho : how alike seeds of a dish are.  power, alpha :
    as in `size`.  smallest : seeds a dish, at least.
    Estimates a size of dish: power [%] and the smallest difference seen [points].
    Refusal where the total cannot be shared out evenly over two dishes or more.
    Source: Kish 1965, Survey Sampling (design effect).
    """
    table = best_use(total, level_a, level_b, rho, power, alpha, smallest)
    if table.empty:
        return Refusal(quantity=CHANCE, missing=f"{total} seeds do not go evenly into dishes of {smallest} or more.",
                       remedy="Take a total that divides, such as 400, or allow smaller dishes.")
    best = table.iloc[0]
    told = (
        shown("DE", "1 + (seeds a dish - 1) x rho", f"1 + ({best['seeds']:.0f} - 1) x {rho:g}", best["design_effect"]),
        shown("seeds that count", "seeds / DE", f"{total} / {number(best['design_effect'])}", best["effective_seeds"]),
    )
    return Values(
        units=table, method=f"For {_name(best)}: {' '.join(told)} Power by the normal approximation, dishes as units.",
        estimates=tuple(e for _, row in table.iterrows() for e in _estimates(row)),
        assumptions=(
            f"Seeds of a dish are alike with rho = {rho:g}; more small dishes always see more.",
            "A germination test by rules may ask for few large ones (4 x 100).",
        ),
    )  # fmt: skip


def _name(row):
    return f"{row['dishes']:.0f} dishes of {row['seeds']:.0f}"


def _estimates(row):
    of = MappingProxyType({"treatment": _name(row)})
    behind = {"n_units": int(row["dishes"]), "n_seeds": int(row["dishes"] * row["seeds"])}
    yield Estimate(CHANCE, of, float(row["power"]), **behind)
    yield Estimate(SEEN, of, float(row["smallest_difference"]), **behind)
