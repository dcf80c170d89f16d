"""What came out against what went in, by number and by mass; and whether the lots sown are cleaned as was meant."""

from palea import schema
from palea.checks.examples import dish, examined, lot, moved, run, several, treated
from palea.checks.rule import rule
from palea.derived.ledger import run_masses
from palea.derived.lookup import numbers, texts
from palea.derived.recovery import recovery

MORE_UNITS = 1.10  # both numbers come from weighed groups, good to a few percent
MORE_FILLED = 1.25  # fill is known from a hundred or two of units
MISSING = 0.10  # share of the dry matter put in; common practice, no source


def _brushed(grams, **more):
    """100 g of pods at 5.2 g a thousand, brushed to seed at 2.6 g a thousand."""
    groups = [{"mass": 0.52}, {"mass": 0.52}], [{"mass": 0.26}, {"mass": 0.26}]
    return several(
        lot("AV-0", seed_unit="legume"), lot("AV-1", seed_unit="seed"), run("R1", "AV-0", "AV-1", out_g=grams, **more),
        *(examined(name, "mass of units", *g, unit="g", out_of=100) for name, g in zip(("AV-0", "AV-1"), groups, strict=True)),
        dish(lot_id="AV-0"),
    )  # fmt: skip


@rule(
    "cleaning.more-out-than-in", severity="error", reads=("runs", recovery, run_masses), at="runs.run_id",
    says="Run {run_id}: {seeds} seed units came out of {units} {what} that went in: recovery by number is {percent} %.",
    remedy="Look at the two masses and at both thousand-seed weights: one is of another unit. If a unit holds several "
    "seeds, say so in seeds_each where it is sown.",
    fires=_brushed(60.0), nearly=_brushed(48.0),
)  # fmt: skip
def more_out_than_in(runs, recovery, run_masses):
    """One-seeded units give one seed each at most, and empty ones none. What may hold several seeds is left alone, and so
    is a run whose mass grew too: that is told of its mass.
    """
    grew = run_masses.loc[run_masses["mass_g_out"] > run_masses["mass_g_in"], "run"]
    known = recovery.set_index("run")
    known = known[known["single"].astype(bool) & ~known.index.isin(grew)]
    empty_too = known["units_out"] > MORE_UNITS * known["units_in"]
    filled = known["filled_out"] > MORE_FILLED * known["filled_in"]
    known = known.assign(
        seeds=known["units_out"].where(empty_too, known["filled_out"]).round(),
        units=known["units_in"].where(empty_too, known["filled_in"]).round(),
        what=empty_too.map({True: "units", False: "filled units"}),
    )[empty_too | filled]
    bad = runs[runs["run_id"].isin(known.index) & runs["kind"].isin(("clean", "grade"))]
    seeds, units = (numbers(bad["run_id"], known[c]) for c in ("seeds", "units"))
    return bad.assign(seeds=seeds, units=units, what=texts(bad["run_id"], known["what"]), percent=(100 * seeds / units).round())


@rule(
    "cleaning.mass-missing", severity="warning", reads=("runs", "movements", "lots", run_masses), at="runs.run_id",
    says="Run {run_id}: {missing_g} g of {dry_g_in} g (dry matter) that went in is in none of the fractions, waste included.",
    remedy="Look for a fraction that was not weighed, or enter what was lost.",
    fires=several(lot("AV-0"), lot("AV-1"), lot("AV-W", fraction="waste"), run("R1", "AV-0", "AV-1", out_g=40),
                  moved("made", "AV-W", mass_g=30, run_id="R1")),
    nearly=several(lot("AV-0"), lot("AV-1"), lot("AV-W", fraction="waste"), run("R1", "AV-0", "AV-1", out_g=40),
                   moved("made", "AV-W", mass_g=55, run_id="R1")),
)  # fmt: skip
def mass_missing(runs, movements, lots, run_masses):
    """Where the waste was weighed too, everything was meant to be weighed."""
    waste = lots.loc[lots["fraction"].eq("waste").fillna(value=False), "lot_id"]
    whole = movements.loc[movements["lot_id"].isin(waste) & movements["kind"].eq("made").fillna(value=False), "run_id"]
    masses = run_masses.set_index("run")
    told = runs.assign(dry_g_in=numbers(runs["run_id"], masses["dry_g_in"]).round(2))
    told = told.assign(missing_g=(told["dry_g_in"] - numbers(runs["run_id"], masses["dry_g_out"])).round(2))
    asked = told["run_id"].isin(whole.dropna()) & told["kind"].isin(("clean", "grade"))
    return told[asked & (told["missing_g"] > MISSING * told["dry_g_in"])]


_SOWN = dish(treatment="T02")


@rule(
    "cleaning.hull-not-as-meant", severity="error", reads=("units", "treatments", "lots"), at="units.lot_id",
    says="Treatment {treatment_id} means the hull to be {hull}, but its units were sown from lot {lot_id}, which is "
    "{seed_unit}.",
    remedy="Correct the treatment, the lot that was sown, or the lot's seed unit.",
    fires=several(treated("T02", hull="off"), lot("AV-1", seed_unit="legume"), _SOWN),
    nearly=several(treated("T02", hull="off"), lot("AV-1", seed_unit="film-coated"), _SOWN),
)  # fmt: skip
def hull_not_as_meant(units, treatments, lots):
    """A bare lot shows whether its hull is on; told once a treatment and lot."""
    state = {w: schema.word("seed_unit", w).get("hull") for w in schema.words("seed_unit")}
    pairs = units.drop_duplicates(["treatment_id", "lot_id"])
    pairs = pairs.assign(hull=texts(pairs["treatment_id"], treatments.set_index("treatment_id")["hull"]),
                         seed_unit=texts(pairs["lot_id"], lots.set_index("lot_id")["seed_unit"]))  # fmt: skip
    is_so = texts(pairs["seed_unit"], state)
    whole = pairs["hull"].isin(("on", "off"))
    return pairs[whole & is_so.ne(pairs["hull"]).fillna(value=False)]


RULES = (more_out_than_in, mass_missing, hull_not_as_meant)
