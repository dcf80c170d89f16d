"""What cannot be true of costs, and what they leave unsaid."""

from palea import schema
from palea.calc.spans import is_readable
from palea.checks.rule import rule
from palea.derived.meant import known_ids, of_nothing


def cost(**more):
    """One cost of treatment A."""
    usual = {
        "cost_id": "K1",
        "about_table": "treatments",
        "about_id": "A",
        "what": "coating",
        "basis": "per campaign",
        "amount": 900.0,
        "currency": "EUR",
        "price_date": "2025-03",
    }
    return {"treatments": [{"treatment_id": "A"}], "costs": [usual | more]}


@rule(
    "decision.cost-of-nothing",
    severity="error",
    reads=("costs", known_ids),
    at="costs.about_id",
    says="Cost {cost_id} ({what}) is about {about_table} “{about_id}”, which is not there.",
    remedy="Correct the id, or the table that it belongs to.",
    fires=cost(about_id="B"),
    nearly=cost(),
)
def cost_of_nothing(costs, known_ids):
    """What a cost is about is a row of the package."""
    return of_nothing(costs, known_ids)


@rule(
    "decision.table-or-id-alone",
    severity="gap",
    reads=("costs",),
    at="costs.about_id",
    says="Cost {cost_id} ({what}) names {named} only, so nobody can tell what it is a cost of.",
    remedy="Enter both, or neither for a cost of the whole work.",
    fires=cost(about_id=None),
    nearly=cost(about_id=None, about_table=None),
)
def table_or_id_alone(costs):
    """Table and id belong together."""
    named = costs["about_table"].notna().map({True: "a table", False: "an id"})
    return costs.assign(named=named)[costs["about_table"].notna() ^ costs["about_id"].notna()]


@rule(
    "decision.two-currencies",
    severity="warning",
    reads=("costs",),
    at="costs.currency",
    says="Cost {cost_id} is in {currency}, and others are in {usual}: they are not added up.",
    remedy="Convert them at a stated rate and day, and keep the rate in the notes.",
    fires={"costs": [*cost()["costs"], *cost(cost_id="K2")["costs"], *cost(cost_id="K3", currency="DKK")["costs"]]},
    nearly={"costs": [*cost()["costs"], *cost(cost_id="K2")["costs"]]},
)
def two_currencies(costs):
    """Money of two currencies is never added."""
    counted = costs["currency"].dropna().value_counts()
    usual = sorted(counted.index, key=lambda c: (-counted[c], c))[:1]
    return costs.assign(usual="".join(usual))[costs["currency"].notna() & ~costs["currency"].isin(usual)]


@rule(
    "decision.scale-upside-down",
    severity="error",
    reads=("costs",),
    at="costs.scale_to_g",
    says="Cost {cost_id} holds from {scale_from_g} g up to {scale_to_g} g: nothing lies between.",
    remedy="Swap the two, or correct one of them.",
    fires=cost(scale_from_g=5000.0, scale_to_g=50.0),
    nearly=cost(scale_from_g=0.0, scale_to_g=50.0),
)
def scale_upside_down(costs):
    """From is below to."""
    return costs[costs["scale_from_g"] > costs["scale_to_g"]]


@rule(
    "decision.price-of-when",
    severity="gap",
    reads=("costs",),
    at="costs.price_date",
    says="Cost {cost_id} ({what}): nothing says when that price held.",
    remedy="Enter the month or year of the price.",
    fires=cost(price_date=None),
    nearly=cost(price_date="2025"),
)
def price_of_when(costs):
    """A price has a date."""
    return costs[~is_readable(costs["price_date"])]


@rule(
    "decision.batch-of-what-size",
    severity="gap",
    reads=("costs",),
    at="costs.batch_capacity_g",
    says="Cost {cost_id} ({what}) is per batch, and nothing says how much a batch can hold.",
    remedy="Enter the largest batch; without it nobody can tell how many are needed.",
    fires=cost(basis="per batch"),
    nearly=cost(basis="per batch", batch_capacity_g=20000.0),
)
def batch_of_what_size(costs):
    """A cost per batch needs the size of a batch."""
    return costs[costs["basis"].eq("per batch").fillna(value=False) & costs["batch_capacity_g"].isna()]


def _priced(*extra):
    treatments = [{"treatment_id": t, "label": t, "role": "test", "coat_class": "film"} for t in ("A", "B")]
    return cost() | {
        "treatments": treatments,
        "contrasts": [{"contrast_id": "C1", "a": "B", "b": "A"}],
        "costs": [*cost()["costs"], *extra],
    }


@rule(
    "decision.cost-unknown",
    severity="gap",
    reads=("treatments", "costs", "contrasts"),
    at="treatments.treatment_id",
    needs="costs contrasts",
    says="{treatment_id} is a {coat_class} coat that is compared with others, and no cost is entered for it, though "
    "costs of other "
    "treatments are.",
    remedy="Enter what it costs, on its basis and with the date; else it is left out of what is worth its price.",
    fires=_priced(),
    nearly=_priced(
        {
            "cost_id": "K2",
            "about_table": "treatments",
            "about_id": "B",
            "amount": 20.0,
            "currency": "EUR",
            "price_date": "2025",
            "basis": "per kg clean seed",
            "what": "film",
        }
    ),
)
def cost_unknown(treatments, costs, contrasts):
    """Where treatments are priced, those that are compared and carry a coat are priced too. A withheld price is a reason."""
    priced = set(costs.loc[costs["about_table"].eq("treatments").fillna(value=False), "about_id"].dropna())
    coats = treatments["coat_class"].isin(
        [c for c in schema.words("coat_class") if not schema.word("coat_class", c)["zero"]]
    )
    compared = treatments["treatment_id"].isin(contrasts["a"]) | treatments["treatment_id"].isin(contrasts["b"])
    unpriced = coats & compared & ~treatments["treatment_id"].isin(priced)
    return treatments[unpriced & bool(priced)]


RULES = (
    cost_of_nothing,
    table_or_id_alone,
    two_currencies,
    scale_upside_down,
    price_of_when,
    batch_of_what_size,
    cost_unknown,
)
