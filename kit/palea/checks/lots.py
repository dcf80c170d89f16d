"""What cannot be true of lots and the seed that moves between them."""

import pandas as pd

from palea.calc.spans import earliest, latest
from palea.checks.examples import lot, moved, run, several
from palea.checks.rule import rule
from palea.derived.ledger import held, run_additions, run_masses
from palea.derived.lineage import looped, parents
from palea.derived.lookup import moments, numbers, texts

ROUNDING_G = 1e-6
UNWEIGHED = 1.02  # more than this ratio cannot be a balance's rounding


@rule(
    "lots.more-drawn-than-held",
    severity="error",
    reads=("movements", held),
    at="movements.mass_g",
    says="Lot {lot_id} is drawn below nothing: after this movement {short_g} g more has left it than came in.",
    remedy="Look for a draw entered twice, a mass in mg, or a delivery that was not entered.",
    fires=several(lot("AV-0"), moved("received", "AV-0", mass_g=50), moved("sown", "AV-0", "2025-03-01", 60)),
    nearly=several(lot("AV-0"), moved("received", "AV-0", mass_g=50), moved("sown", "AV-0", "2025-03-01", 50)),
)
def more_drawn_than_held(movements, held):
    """The ledger never goes below zero, in whatever order partial dates can be put."""
    below = held[(held["mass_after_g"] < -ROUNDING_G) & held["sign"].lt(0)].drop_duplicates("lot")
    short = below.set_index("line")["mass_after_g"].abs()
    return movements.loc[short.index].assign(short_g=short, lot_id=below.set_index("line")["lot"])


@rule(
    "lots.run-gained-mass",
    severity="error",
    reads=("runs", run_masses, run_additions),
    at="runs.run_id",
    says="Run {run_id}: fractions weigh {gained_g} g more, as dry matter, than the seed and material that went in.",
    remedy="Is the lot still wet? Weigh it dry, or enter the water content that was read with the mass.",
    fires=several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", in_g=100, out_g=130)),
    nearly=several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", in_g=100, out_g=101)),
)
def run_gained_mass(runs, run_masses, run_additions):
    """What comes out is at most what went in; a run whose additions are not known in grams is left alone."""
    masses = run_masses.set_index("run").join(run_additions.set_index("run"))
    # min_count leaves nan for a run whose materials cannot be told in grams; no material at all is no addition.
    had_material = masses.index.isin(run_additions["run"])
    added = masses["added_g"].where(had_material, 0.0)
    gained = masses["dry_g_out"] - (masses["dry_g_in"] + added) * UNWEIGHED
    excess = (masses["dry_g_out"] - masses["dry_g_in"] - added)[gained > 0]
    bad = runs[runs["run_id"].isin(excess.index)]
    return bad.assign(gained_g=numbers(bad["run_id"], excess))


@rule(
    "lots.made-after-use",
    severity="error",
    reads=("units", "movements"),
    at="units.lot_id",
    says="{kind} {unit_id} was wetted on {first_wetted_at}, but its lot {lot_id} was only made on {made_at}.",
    remedy="Check both dates and the lot: one of the three was written down wrong.",
    fires=several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", "2025-04-01"),
        {"units": [{"unit_id": "D1", "kind": "dish", "lot_id": "AV-1", "first_wetted_at": "2025-03-01"}]},
    ),
    nearly=several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", "2025-03"),
        {"units": [{"unit_id": "D1", "kind": "dish", "lot_id": "AV-1", "first_wetted_at": "2025-03-01"}]},
    ),
)
def made_after_use(units, movements):
    """Seed cannot be sown before it exists; partial dates are spans, and only spans that cannot overlap are an error."""
    came = movements[movements["kind"].isin(["made", "received"])].assign(first=lambda m: earliest(m["moved_at"]))
    came = (
        came.dropna(subset=["first"]).sort_values("first", kind="stable").drop_duplicates("lot_id").set_index("lot_id")
    )
    born = moments(units["lot_id"], came["first"])
    wetted = pd.Series(latest(units["first_wetted_at"]), index=units.index)
    return units.assign(made_at=texts(units["lot_id"], came["moved_at"]))[born > wetted]


@rule(
    "lots.lineage-loop",
    severity="error",
    reads=("lots", parents),
    at="lots.lot_id",
    says="Lot {lot_id} is its own ancestor: following where it came from leads back to it, by way of {loop}.",
    remedy="One of the movements between these lots points the wrong way; swap its lot and counterpart.",
    fires=several(
        lot("A"),
        lot("B"),
        moved("moved to lot", "A", counterpart_lot_id="B"),
        moved("moved to lot", "B", counterpart_lot_id="A"),
    ),
    nearly=several(
        lot("A"),
        lot("B"),
        lot("C"),
        moved("moved to lot", "A", counterpart_lot_id="B"),
        moved("moved to lot", "A", at="2025-02-02", counterpart_lot_id="C"),
        moved("moved to lot", "B", counterpart_lot_id="C"),
    ),
)
def lineage_loop(lots, parents):
    """Where seed came from is a graph without loops; a loop is one fault, told at its first lot."""
    names = looped(parents)
    return lots[lots["lot_id"].isin(names)].iloc[:1].assign(loop=", ".join(names))


@rule(
    "lots.other-taxon",
    severity="error",
    reads=("lots", parents),
    at="lots.taxon_id",
    says="Lot {lot_id} is {taxon_id}, but it was made from lot {parent}, which is {parent_taxon}.",
    remedy="Correct the taxon, or the lot that was drawn. A blend of species is a mixture and has no taxon of its own.",
    fires=several(lot("AM-0", "AM"), lot("CC-1", "CC"), run("R1", "AM-0", "CC-1")),
    nearly=several(
        lot("AM-0", "AM"),
        lot("CC-0", "CC"),
        {"lots": [{"lot_id": "MIX", "seed_unit": "mixture"}]},
        moved("moved to lot", "AM-0", counterpart_lot_id="MIX"),
        moved("moved to lot", "CC-0", counterpart_lot_id="MIX"),
    ),
)
def other_taxon(lots, parents):
    """A lot has the taxon of the lots it was made from, unless it is a mixture."""
    taxon = lots.set_index("lot_id")["taxon_id"]
    pairs = parents.assign(own=texts(parents["lot"], taxon), parent_taxon=texts(parents["parent"], taxon))
    wrong = pairs[pairs["own"].ne(pairs["parent_taxon"]).fillna(value=False)].drop_duplicates("lot")
    found = lots.merge(wrong[["lot", "parent", "parent_taxon"]], left_on="lot_id", right_on="lot", how="inner")
    return found.set_index(lots.index[lots["lot_id"].isin(wrong["lot"])])


@rule(
    "lots.collected-after-received",
    severity="error",
    reads=("lots", "movements"),
    at="lots.collected_from",
    says="Lot {lot_id} was received on {received_at}, before it was collected on {collected_from}.",
    remedy="Look whether day and month were swapped in one of the two dates.",
    fires=several(lot("AV-0", collected_from="2025-06"), moved("received", "AV-0", "2025-02-01", 50)),
    nearly=several(lot("AV-0", collected_from="2025-02"), moved("received", "AV-0", "2025-02-01", 50)),
)
def collected_after_received(lots, movements):
    """Seed is collected before it arrives; partial dates are spans."""
    came = movements[movements["kind"].eq("received")].drop_duplicates("lot_id").set_index("lot_id")["moved_at"]
    received = texts(lots["lot_id"], came)
    return lots.assign(received_at=received)[earliest(lots["collected_from"]) > latest(received)]


RULES = (collected_after_received, more_drawn_than_held, run_gained_mass, made_after_use, lineage_loop, other_taxon)
