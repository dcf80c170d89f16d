"""How much to sow from a bag: living seeds in a gram of product with the evidence for it, the rate, and until when."""

from dataclasses import dataclass

from palea import schema
from palea.analyses.run import run
from palea.derived.lineage import ancestry
from palea.documents.page import Gap, Paragraph, Part
from palea.record import tested
from palea.words.prose import inside, stop

LIVE, UNITS = "live seeds per gram", "seeds per gram"  # quantities of the recipes on lots
LIVING = ("inoculant",)  # roles of materials that die with time


@dataclass(frozen=True)
class Live:
    """Living seeds in a gram of product, with bounds (None where they are not known), and how that is known."""

    value: float
    lower: float | None
    upper: float | None
    how: str


def part(story, lot_id, put_on, live, target):
    """Live seeds per gram, the rate for a target, and until when."""
    lines = [Paragraph(("Live seeds per gram of product: ", *_live_told(live), "."))]
    if live:
        most = f" ({target / live.upper:.3g} to {target / live.lower:.3g})" if live.lower and live.upper else ""
        lines.append(
            Paragraph(
                f"For {target:g} live seeds a square metre sow {target / live.value:.3g} g/m²{most} of product, that is"
                f" {10 * target / live.value:.3g} kg/ha, before any loss in the field."
            )
        )
    tests = [t for t in story.rows("tests", lot_id=lot_id) if tested.found(t, story.readings(t["test_id"]))]
    told = [
        f"{inside(schema.word('test_quantity', t['quantity'])['title'])} {tested.found(t, story.readings(t['test_id']))}"
        for t in tests
    ]
    found = [Paragraph(f"Tests of this lot: {'; '.join(told)}.", small=True)] if told else []
    return Part("Sowing", (*lines, Paragraph(tuple(_until(put_on))), *found))


def _until(put_on):
    """Until when what lives on the seed keeps; a gap where nothing says it."""
    dated = sorted((row["expires_on"], row["name"]) for row in put_on if row["expires_on"] and row["role"] in LIVING)
    if dated:
        yield f"Sow by {dated[0][0]}: {stop(f'{inside(dated[0][1])} keeps until then')}"
    else:
        yield from ("Sow by: ", Gap("sow-by date"), ".")


def _live_told(live):
    if live is None:
        return (Gap("living share or mass of units of this lot", "", "not tested"),)
    bounds = (
        f" (95 % interval {live.lower:.3g} to {live.upper:.3g})"
        if live.lower is not None and live.lower == live.lower
        else ""
    )
    return (f"{live.value:.3g}{bounds}; {live.how}",)


def live_seeds(story, lot_id):
    """Live seeds per gram of this product: as tested, or from its own units and the living share of the seed inside."""
    results = {}
    for recipe in ("lots.tsw", "lots.pure_live_seed"):
        for row in run(recipe, story.package).results.to_dict("records"):
            results.setdefault((row.get("lot_id"), row.get("quantity")), row)
    own, units = results.get((lot_id, LIVE)), results.get((lot_id, UNITS))
    if own:
        return Live(own["estimate"], own["lower"], own["upper"], "purity, fill and viability of this lot")
    before = next((key for key in _ancestors(story, lot_id) if (key, LIVE) in results), None)
    if units is None or before is None:
        return None
    share = results[before, LIVE], results[before, UNITS]["estimate"]
    holding, said = _holding(story, lot_id)
    value, lower, upper = (units["estimate"] * holding * share[0][c] / share[1] for c in ("estimate", "lower", "upper"))
    return Live(
        value,
        lower,
        upper,
        f"{units['estimate']:.0f} units in a gram of product{said}; living share as tested on the seed"
        f" before it was treated (lot {before}), not on the product",
    )


def _ancestors(story, lot_id):
    """Lots that this one was made of, the nearest first."""
    rows = [row for row in story.frame(ancestry) if row["lot"] == lot_id]
    return [row["ancestor"] for row in sorted(rows, key=lambda row: row.get("steps") or 0)]


def _holding(story, lot_id):
    """(share of units that hold a seed, how that is said): 1 where nobody opened any."""
    tests = [t["test_id"] for t in story.rows("tests", lot_id=lot_id) if t["quantity"] == "singles and multiples"]
    rows = [r for t in tests for r in story.readings(t) if r["value"] is not None and r["out_of"]]
    empty = [r for r in rows if r["item"] == "no seed"]
    if not empty:
        return 1.0, ""
    share = 1 - sum(r["value"] for r in empty) / sum(r["out_of"] for r in empty)
    return share, f", {100 * share:.1f} % of them with a seed"
