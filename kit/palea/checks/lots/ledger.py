"""Whether the movements of seed add up: nothing leaves that never came, and the balance agrees with the book."""

import pandas as pd

from palea.calc.spans import latest
from palea.checks.examples import dish, lot, moved, run, several
from palea.checks.rule import rule
from palea.derived.ledger import arrivals, entries, held, run_additions, run_masses, stock, weighings
from palea.derived.lookup import moments, numbers
from palea.derived.spoken import sums

ROUNDING_G = 1e-6
UNWEIGHED = 1.02  # more than this ratio cannot be a balance's rounding
OFF_BOOK = 0.02  # share of the book that a weighing may be off; common practice, no source
LEFT_OVER = 0.05  # share of what came in that may still be there by the book when a bag is called empty


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


_STOCKED = several(lot("AV-0"), moved("received", "AV-0", mass_g=100), moved("sown", "AV-0", "2025-03-01", 20))


@rule(
    "lots.weighed-off-the-book",
    severity="warning",
    reads=("movements", weighings),
    at="movements.mass_g",
    says="Lot {lot_id} weighed {mass_g} g on {moved_at}; by its movements {book_g} g should be there.",
    remedy="Look for a draw that was not entered. What is truly gone is a movement of its kind, lost; dried seed needs its "
    "water content beside both masses.",
    fires=several(_STOCKED, moved("weighed", "AV-0", "2025-04-01", 75)),
    nearly=several(_STOCKED, moved("weighed", "AV-0", "2025-03-01", 99)),
)
def weighed_off_the_book(movements, weighings):
    """The balance agrees with the book within 2 %, compared as dry matter where every water content is known."""
    dry = weighings[["dry_g", "least_dry_g", "most_dry_g"]].notna().all(axis=1)
    mass, least, most = (
        weighings[f"{side}dry_g"].where(dry, weighings[f"{side}mass_g"]) for side in ("", "least_", "most_")
    )
    under, over = mass < least * (1 - OFF_BOOK) - ROUNDING_G, mass > most * (1 + OFF_BOOK) + ROUNDING_G
    book = weighings["least_mass_g"].where(under, weighings["most_mass_g"])
    off = (under | over) & (least >= 0)
    return movements.loc[off.index[off]].assign(book_g=book[off])


@rule(
    "lots.never-came",
    severity="gap",
    reads=("lots", entries),
    at="lots.lot_id",
    says="Nothing is recorded of how lot {lot_id} came in: it was neither received, nor made, nor moved over.",
    remedy="Enter the movement that brought it, with its day and mass.",
    fires=several(lot("AV-0"), lot("AV-1"), moved("received", "AV-0", mass_g=50)),
    nearly=several(lot("AV-0"), lot("AV-1"), moved("received", "AV-0"), moved("moved to lot", "AV-0", counterpart_lot_id="AV-1")),
)
def never_came(lots, entries):
    """A lot that no movement names has neither a date nor a mass; one that only lost seed is overdrawn."""
    return lots[~lots["lot_id"].isin(entries["lot"])]


@rule(
    "lots.used-up-but-held",
    severity="warning",
    reads=("lots", stock, entries),
    at="lots.status",
    needs="movements",
    says="Lot {lot_id} is {status}, but by its movements {held_g} g of {came_g} g are still there.",
    remedy="Enter the draws that emptied it, or what was lost or discarded; or set its status back to in use.",
    fires=several(lot("AV-0", status="used up"), moved("received", "AV-0", mass_g=50), moved("sown", "AV-0", "2025-03", 30)),
    nearly=several(lot("AV-0", status="used up"), moved("received", "AV-0", mass_g=50), moved("sown", "AV-0", "2025-03", 49)),
)
def used_up_but_held(lots, stock, entries):
    """An empty bag is empty by the book too, but for what sticks to hands and trays."""
    came = sums(entries[entries["sign"].gt(0)].groupby("lot")["mass_g"])
    told = lots.assign(held_g=numbers(lots["lot_id"], stock.set_index("lot")["mass_g"]), came_g=numbers(lots["lot_id"], came))
    return told[told["status"].eq("used up") & (told["held_g"] > LEFT_OVER * told["came_g"])]


@rule(
    "lots.sown-off-the-book",
    severity="warning",
    reads=("units", "movements"),
    at="units.sown_n",
    needs="movements",
    says="{sown} seed units of lot {lot_id} stand in trial {trial_id}, but only {drawn} were drawn to be sown there.",
    remedy="Enter the draw that is missing, or correct sown_n.",
    fires=several(lot("AV-1"), moved("sown", "AV-1", seed_units=20, trial_id="G1"), dish()),
    nearly=several(lot("AV-1"), moved("sown", "AV-1", seed_units=25, trial_id="G1"), dish()),
)
def sown_off_the_book(units, movements):
    """What stands in the units of a trial was drawn for it; asked only where every draw for it was counted."""
    keys = ["lot_id", "trial_id"]
    drawn = movements[movements["kind"].eq("sown").fillna(value=False)].groupby(keys)["seed_units"]
    drawn = sums(drawn).rename("drawn")
    told = units.assign(sown=units.groupby(keys)["sown_n"].transform("sum")).drop_duplicates(keys).join(drawn, on=keys)
    return told[told["sown"] > told["drawn"]]


_MADE = several(lot("AV-0"), lot("AV-1"))


@rule(
    "lots.drawn-before-it-came",
    severity="error",
    reads=("movements", arrivals),
    at="movements.moved_at",
    says="Lot {lot_id}: {kind} on {moved_at}, before any of its seed came in on {came}.",
    remedy="Look at both dates, and whether the movement names the right lot.",
    fires=several(_MADE, moved("received", "AV-0", "2025-02-10"), moved("drawn for test", "AV-0", "2025-02-01")),
    nearly=several(_MADE, moved("received", "AV-0", "2025-02-10"), moved("drawn for test", "AV-0", "2025-02")),
)
def drawn_before_it_came(movements, arrivals):
    """Where masses are known the ledger says so too; this also holds for draws that nobody weighed."""
    since = moments(movements["lot_id"], arrivals.set_index("lot")["since"])
    early = (pd.Series(latest(movements["moved_at"]), index=movements.index) < since) & movements["mass_g"].isna()
    return movements.assign(came=since.dt.strftime("%Y-%m-%d"))[early]


RULES = (more_drawn_than_held, run_gained_mass, weighed_off_the_book, never_came, used_up_but_held, sown_off_the_book,
         drawn_before_it_came)  # fmt: skip
