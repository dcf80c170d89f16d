"""What a trial's dishes lack, or have too much of: replicates, spread, reasons, instruments in calibration."""

import numpy as np

from palea import schema
from palea.calc.germination.tolerance import chance_of_dish
from palea.calc.spans import earliest, latest
from palea.checks.examples import dish, lot, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import arms
from palea.derived.counting import ends, rising
from palea.derived.lookup import beside, codes, texts

SURELY = 0.02  # of a whole trial: chance that dishes which differ by chance alone are called too far apart
ALLOWED_RHO = 0.05  # correlation within a dish that good practice still shows


def _dishes(*germinated, treatment="A", first=1):
    seen = [
        dish(f"D{n}", "AV-0", treatment, sown=50, visits={f"2025-03-{10 + n}": {"normal": g, "dead": 50 - g}})
        for n, g in enumerate(germinated, first)
    ]
    return several(lot("AV-0"), treated(treatment), *seen)


@rule(
    "germination.one-dish",
    severity="warning",
    reads=("treatments", arms),
    at="treatments.treatment_id",
    says="Trial {trial} has one dish only of {treatment_id}: nothing tells how dishes differ, so it cannot be "
    "compared.",
    remedy="Sow it again in several dishes; until then its counts are described and not judged.",
    fires=several(_dishes(20), _dishes(22, 25, treatment="B", first=4)),
    nearly=_dishes(20, 25),
)
def one_dish(treatments, arms):
    """A difference is judged against the differences between dishes; one dish has none."""
    by = (
        arms.groupby(["trial", "treatment"], sort=False)
        .agg(dishes=("dishes", "sum"), taxon=("taxon", "first"))
        .reset_index()
    )
    compared = by.groupby(["trial", "taxon"])["dishes"].transform("max").gt(1)
    single = by[by["dishes"].eq(1) & compared].drop_duplicates("treatment")
    return beside(treatments, "treatment_id", single, "treatment")


@rule(
    "germination.dishes-apart",
    severity="warning",
    reads=("units", ends, rising),
    at="units.unit_id",
    says="{kind} {unit_id}: {seen} of {sown} germinated, and {others} of {of} in the other dishes of its batch: "
    "further apart than "
    "chance allows.",
    remedy="Look for a slip, a dried dish or a mixed-up sample, and repeat the batch rather than delete a dish.",
    fires=_dishes(5, 40, 42, 44),
    nearly=_dishes(30, 40, 42, 44),
)
def dishes_apart(units, ends, rising):
    """A dish lies as near to the others of its batch as chance allows, with some correlation within a dish.

    The bound allows for the number of dishes that are looked at, so that a trial which is sound seldom fires it. Of two
    dishes alone nothing tells which of them is odd.
    """
    seen = ends[schema.words("outcome", germinated=True)].sum(axis=1, min_count=1)
    told = ends.assign(seen=seen).dropna(subset=["seen"])
    told = told[told["sown"].gt(0) & told["seeds_each"].eq(1) & (told["seen"] <= told["sown"])]
    told = told[~told["unit"].isin(rising["unit"])]
    by = told.groupby(codes(told["trial"], told["treatment"], told["batch"], told["environment"]), sort=False)
    others, of = (by[c].transform("sum") - told[c] for c in ("seen", "sown"))
    told = told.assign(others=others, of=of, size=by["unit"].transform("size"))
    share, rest = told["seen"] / told["sown"], (told["others"] + 0.5) / (told["of"] + 1)
    near = (share - rest).abs() < np.sqrt(rest * (1 - rest) * (1 / told["sown"] + ALLOWED_RHO))  # within one standard deviation
    far, many = told[told["size"].gt(2) & ~near], max(len(told), 1)
    if far.empty:
        return None
    far = far.assign(chance=chance_of_dish(far["seen"], far["sown"], far["others"], far["of"], ALLOWED_RHO))
    odd = far[far["chance"] * many < SURELY]
    odd = (
        odd.sort_values("chance", kind="stable")
        .drop_duplicates(["trial", "treatment", "batch", "environment"])
        .set_index("unit")
    )
    found = units[units["unit_id"].isin(odd.index)]
    more = odd.reindex(found["unit_id"])[["seen", "sown", "others", "of"]].set_index(found.index)
    return found.assign(**{c: more[c] for c in more})


def _left_out(**more):
    return {"units": [{"unit_id": "D1", "trial_id": "G1", "kind": "dish", "status": "excluded"} | more]}


@rule(
    "germination.left-out-without-reason",
    severity="gap",
    reads=("units",),
    at="units.reason",
    says="{kind} {unit_id} is {status}, and no reason says why.",
    remedy="Say why it does not count, when that was decided, and whether its counts were known by then.",
    fires=_left_out(outcome_known=False),
    nearly=_left_out(outcome_known=False, reason="Lid off, dried out."),
)
def left_out_without_reason(units):
    """Every unit that does not count has a reason."""
    out = units["status"].isin(schema.words("unit_status", counts=False))
    return units[out & units["reason"].isna()]


@rule(
    "germination.left-out-knowing",
    severity="warning",
    reads=("units",),
    at="units.outcome_known",
    says="{kind} {unit_id} was left out when its counts were known already ({reason}).",
    remedy="Give the results with it and without it; who reads them has to see both.",
    fires=_left_out(outcome_known=True, reason="Looks odd."),
    nearly=_left_out(outcome_known=False, reason="Looks odd."),
)
def left_out_knowing(units):
    """Leaving out after having seen the result is a choice that a reader must see. Seed that spoiled is no choice."""
    known = units["outcome_known"].fillna(value=False).astype(bool)
    return units[units["status"].eq("excluded").fillna(value=False) & known].assign(
        reason=lambda u: u["reason"].fillna("no reason")
    )


def _chamber(due, day="2025-03-15"):
    example = dish(visits={day: {"normal": 3}})
    unit = example["units"][0] | {"environment_id": "E1"}
    return several(
        example | {"units": [unit]},
        {
            "environments": [{"environment_id": "E1", "trial_id": "G1", "chamber": "I1", "day_c": 20}],
            "equipment": [{"equipment_id": "I1", "kind": "incubator"}],
            "calibrations": [{"equipment_id": "I1", "done_on": "2024-03-01", "quantity": "temperature", "due_on": due}],
        },
    )


@rule(
    "germination.chamber-past-calibration",
    severity="warning",
    reads=("environments", "calibrations", "units", "counts", "visits"),
    at="environments.chamber",
    says="Chamber {chamber} held {environment_id} until {until}; its last calibration of {quantity} was good until "
    "{due} only.",
    remedy="Have it calibrated, and say in the record what was found: the temperature of this trial rests on it.",
    fires=_chamber("2025-03-01"),
    nearly=_chamber("2025-03-15"),
)
def chamber_past_calibration(environments, calibrations, units, counts, visits):
    """A chamber is in calibration on every day of the trial. A chamber that was never calibrated is a gap of its own."""
    one = units.dropna(subset=["environment_id"]).drop_duplicates("environment_id")  # its dishes were looked at together
    seen = counts.loc[counts["unit_id"].isin(one["unit_id"]), ["unit_id", "visit_id"]].drop_duplicates()
    when = texts(seen["visit_id"], visits.set_index("visit_id")["visited_at"])
    last = seen.assign(visited=when, at=earliest(when)).dropna(subset=["at"]).sort_values("at", kind="stable")
    last = last.drop_duplicates("unit_id", keep="last").merge(one[["unit_id", "environment_id"]], on="unit_id")
    held = environments[environments["chamber"].notna()]
    held = held.assign(until=texts(held["environment_id"], last.set_index("environment_id")["visited"])).reset_index(names="line")
    good = calibrations.dropna(subset=["due_on"]).assign(to=latest(calibrations["due_on"].dropna()))
    good = good.sort_values("to", kind="stable").drop_duplicates(["equipment_id", "quantity"], keep="last")
    both = (
        held.merge(good, left_on="chamber", right_on="equipment_id").rename(columns={"due_on": "due"}).set_index("line")
    )
    late = earliest(both["until"]) > both["to"]
    return both[late & ~both.index.duplicated()]


RULES = (one_dish, dishes_apart, left_out_without_reason, left_out_knowing, chamber_past_calibration)
