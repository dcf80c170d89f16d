"""What cannot be true of seed that was treated by somebody else, and what that leaves unsaid."""

from palea import schema
from palea.checks.examples import dish, examined, lot, moved, several, treated
from palea.checks.rule import rule
from palea.derived.ledger import run_masses
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import surely_before, unsaid
from palea.derived.tests_of_lots import read

SEED_MISSING, SEED_GAINED = 0.05, 0.15  # share of the seed sent; the first is common practice, the second is no chance


def _sent(*, seed_unit="pellet", sent_at="2025-02-01", back_at="2025-03-01", sent_g=1000.0, back_g=1600.0, **more):
    """Seed of AV-0 that went to a contractor and came back as lot AV-1."""
    named = {"contractor": "YARD", "asked_for": "a pellet", "disclosure": "withheld", "keep_lot_id": "AV-K"}
    order = {"run_id": "R1", "kind": "coat", "started_at": "2025-02", "status": "finished", "place_kind": "contractor"}
    return several(
        lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit=seed_unit), {"runs": [order | named | more]},
        moved("drawn for run", "AV-0", sent_at, sent_g, run_id="R1"), moved("made", "AV-1", back_at, back_g, run_id="R1"),
    )  # fmt: skip


def _contracted(runs):
    return runs[runs["place_kind"].eq("contractor").fillna(value=False)]


def _unsaid(column):
    """A function that finds runs of contractors in which a column is blank without a reason."""
    return lambda runs: _contracted(runs)[lambda r: unsaid(r, column)]


contractor_unnamed = rule(
    "outsourced.contractor-unnamed", severity="error", reads=("runs",), at="runs.contractor",
    says="Run {run_id} was done by a contractor, and nobody is named.",
    remedy="Name who did it, in people; the name need not be published.",
    fires=_sent(contractor=None), nearly=_sent(),
)(_unsaid("contractor"))  # fmt: skip

order_unsaid = rule(
    "outsourced.order-unsaid", severity="gap", reads=("runs",), at="runs.asked_for",
    says="Run {run_id} was done by a contractor, and nothing says what was asked for.",
    remedy="Copy the words of the order.",
    fires=_sent(asked_for=None), nearly=_sent(),
)(_unsaid("asked_for"))  # fmt: skip


@rule(
    "outsourced.recipe-not-asked", severity="gap", reads=("runs",), at="runs.disclosure",
    says="Run {run_id}: nobody asked the contractor for the recipe, or the answer is not recorded.",
    remedy="Ask, item by item, and enter who keeps back what; a recipe that is withheld is known to be.",
    fires=_sent(disclosure="not asked"), nearly=_sent(),
)  # fmt: skip
def recipe_not_asked(runs):
    """Withheld by somebody is an answer, not asked is none."""
    done = _contracted(runs)
    return done[done["disclosure"].eq("not asked").fillna(value=False) | unsaid(done, "disclosure")]


@rule(
    "outsourced.contractor-in-house", severity="warning", reads=("runs",), at="runs.place_kind",
    says="Run {run_id} names {contractor} as contractor, but its place is {place}.",
    remedy="Set place_kind to contractor, or take the contractor out.",
    fires=_sent(place_kind="in house"), nearly=_sent(),
)  # fmt: skip
def contractor_in_house(runs):
    """Who names a contractor had it done by one."""
    other = runs["contractor"].notna() & runs["place_kind"].ne("contractor").fillna(value=True)
    return runs.assign(place=runs["place_kind"].fillna("not said"))[other]


@rule(
    "outsourced.nothing-kept", severity="warning", reads=("runs", "movements", "lots"), at="runs.keep_lot_id",
    says="Run {run_id}: no seed was kept back when {lot_id} was sent to the contractor: nothing is left to compare with.",
    remedy="Keep a sealed sample before seed is sent. Is there one? Name it in keep_lot_id.",
    fires=_sent(keep_lot_id=None),
    nearly=several(_sent(keep_lot_id=None), lot("AV-K", fraction="keep-sample"), moved("moved to lot", "AV-0", mass_g=5,
                                                                                     counterpart_lot_id="AV-K")),
)  # fmt: skip
def nothing_kept(runs, movements, lots):
    """A keep-sample of the lot that was sent, named beside the run or set aside by a movement."""
    kept = lots[lots["fraction"].eq("keep-sample").fillna(value=False)]
    set_aside = movements.loc[movements["counterpart_lot_id"].isin(kept["lot_id"]), "lot_id"]
    covered = {*set_aside, *kept["keep_of"].dropna()}
    drawn = movements[movements["kind"].eq("drawn for run").fillna(value=False)]
    none_kept = drawn[~drawn["lot_id"].isin(covered)].drop_duplicates("run_id").set_index("run_id")["lot_id"]
    told = _contracted(runs)
    told = told.assign(lot_id=texts(told["run_id"], none_kept))
    return told[told["lot_id"].notna() & unsaid(told, "keep_lot_id")]


@rule(
    "outsourced.back-before-sent", severity="error", reads=("movements", "runs"), at="movements.moved_at",
    says="Lot {lot_id} came back from the contractor on {moved_at}, before its seed was sent on {sent_at} ({run_id}).",
    remedy="Look whether day and month were swapped in one of the two dates.",
    fires=_sent(back_at="2025-01-20"), nearly=_sent(back_at="2025-02"),
)  # fmt: skip
def back_before_sent(movements, runs):
    """Seed is sent, then it comes back."""
    of_run = movements[movements["run_id"].isin(_contracted(runs)["run_id"])]
    sent = of_run[of_run["kind"].eq("drawn for run").fillna(value=False)].sort_values("moved_at", kind="stable")
    back = of_run[of_run["kind"].isin(("made", "returned"))]
    told = back.assign(sent_at=texts(back["run_id"], sent.set_index("run_id")["moved_at"]))
    return told[surely_before(told["moved_at"], told["sent_at"])]


@rule(
    "outsourced.returned-unsent", severity="warning", reads=("movements",), at="movements.kind",
    says="Lot {lot_id}: seed came back from {counterpart_person} on {moved_at}, and nothing says that it had been sent there.",
    remedy="Enter when it was sent; if it is other seed, it was received and is a lot of its own.",
    fires=several(lot("AV-0"), moved("returned", "AV-0", mass_g=5, counterpart_person="YARD")),
    nearly=several(lot("AV-0"), moved("sent out", "AV-0", "2025-01", 5, counterpart_person="YARD"),
                   moved("returned", "AV-0", "2025-02", 5, counterpart_person="YARD")),
)  # fmt: skip
def returned_unsent(movements):
    """What comes back unchanged had gone to the same person."""
    keys = movements["lot_id"] + "|" + movements["counterpart_person"]
    sent = keys[movements["kind"].eq("sent out").fillna(value=False)]
    back = movements["kind"].eq("returned").fillna(value=False) & keys.notna()
    return movements[back & ~keys.isin(sent)]


def _products(runs, movements, lots):
    """Main lots that contractors' coating runs made: run_id, lot_id, seed_unit; the index is that of lots."""
    coats = _contracted(runs).loc[lambda r: r["kind"].eq("coat").fillna(value=False), "run_id"]
    made = movements[movements["kind"].eq("made").fillna(value=False) & movements["run_id"].isin(coats)]
    main = lots["fraction"].isna() | lots["fraction"].isin(schema.words("fraction", product=True))
    told = lots.assign(run_id=texts(lots["lot_id"], made.set_index("lot_id")["run_id"]))
    return told[told["run_id"].notna() & main]


@rule(
    "outsourced.coat-without-class", severity="error", reads=("lots", "runs", "movements"),
    at="lots.seed_unit", needs="runs movements",
    says="Lot {lot_id} came back from the contractor coated ({run_id}), and what lies in the bag is {said}: film, encrusted or "
    "pellet?",
    remedy="Look at a hundred units: the class goes by what stays visible of the seed. “Coated” is not a class.",
    fires=_sent(seed_unit=None), nearly=_sent(),
)  # fmt: skip
def coat_without_class(lots, runs, movements):
    """A coat has a class, or the seed was bound into agglomerates or mixed."""
    told = _products(runs, movements, lots)
    bare = [w for w in schema.words("seed_unit") if "hull" in schema.word("seed_unit", w)]
    return told.assign(said=told["seed_unit"].fillna("not said"))[told["seed_unit"].isna() | told["seed_unit"].isin(bare)]


@rule(
    "outsourced.coat-class-unsaid", severity="error", reads=("treatments", "units", "lots", "runs", "movements"),
    at="treatments.coat_class",
    needs="runs movements",
    says="Treatment {treatment_id} was sown from lot {lot_id}, which a contractor coated, and names no class of coat.",
    remedy="Enter film, encrusted or pellet, by what stays visible of the seed.",
    fires=several(_sent(), treated("T09"), dish(treatment="T09")),
    nearly=several(_sent(), treated("T09", coat_class="pellet"), dish(treatment="T09")),
)  # fmt: skip
def coat_class_unsaid(treatments, units, lots, runs, movements):
    """A treatment with a bought coat says what kind of coat it is."""
    coated = _products(runs, movements, lots)["lot_id"]
    sown = units[units["lot_id"].isin(coated)].drop_duplicates("treatment_id").set_index("treatment_id")["lot_id"]
    told = treatments.assign(lot_id=texts(treatments["treatment_id"], sown))
    return told[told["lot_id"].notna() & unsaid(told, "coat_class")]


_SHARE = {"sample": 10.0, "without coat": 5.6}


@rule(
    "outsourced.seed-missing", severity="warning", reads=("runs", "movements", "lots", run_masses, read), at="runs.run_id",
    says="Run {run_id}: {sent} g of seed (dry matter) was sent, lot {lot_id} holds {held} g of seed under its coat: {off} g "
    "{which}.",
    remedy="Ask the contractor what became of it, and whether other seed is in the bag; see whether all of it was weighed.",
    fires=several(_sent(back_g=1628.0), examined("AV-1", "coat share", _SHARE, unit="g")),
    nearly=several(_sent(back_g=1750.0), examined("AV-1", "coat share", _SHARE, unit="g")),
)  # fmt: skip
def seed_missing(runs, movements, lots, run_masses, read):
    """Product less its coat is the seed that was sent; the share of the coat was measured by washing it off."""
    grams = read[read["quantity"].eq("coat share").fillna(value=False)].groupby(["lot", "item"])["value"].sum().unstack()
    grams = grams.reindex(columns=["sample", "without coat"]).dropna()
    seed_share = grams["without coat"] / grams["sample"]
    product = _products(runs, movements, lots).drop_duplicates("run_id").set_index("run_id")["lot_id"]
    told, masses = _contracted(runs), run_masses.set_index("run")
    told = told.assign(lot_id=texts(told["run_id"], product), sent=numbers(told["run_id"], masses["dry_g_in"]).round(2))
    held = numbers(told["run_id"], masses["dry_g_out"]) * numbers(told["lot_id"], seed_share)
    told = told.assign(held=held.round(2), off=(told["sent"] - held).abs().round(2))
    told = told.assign(which=(held < told["sent"]).map({True: "missing", False: "too much"}))
    return told[(held < told["sent"] * (1 - SEED_MISSING)) | (held > told["sent"] * (1 + SEED_GAINED))]


@rule(
    "outsourced.product-unchecked", severity="gap", reads=("lots", "runs", "movements", "tests"),
    at="lots.lot_id", needs="runs movements",
    says="Lot {lot_id} came back from the contractor ({run_id}), and no test of it is recorded.",
    remedy="Sort a hundred units by class of coat, open them and count the seeds, weigh groups of a hundred.",
    fires=_sent(), nearly=several(_sent(), examined("AV-1", "coat class", {"pellet": 100}, out_of=100)),
)  # fmt: skip
def product_unchecked(lots, runs, movements, tests):
    """Without the recipe, what can be seen on the bag is all that is known."""
    told = _products(runs, movements, lots)
    return told[~told["lot_id"].isin(tests["lot_id"])]


@rule(
    "outsourced.nothing-travelled", severity="gap", reads=("units", "treatments", "lots", "runs", "movements"),
    at="units.lot_id", needs="runs movements",
    says="Lot {lot_id}, coated by a contractor, was sown in trial {trial_id} without seed that was kept back or that travelled "
    "uncoated: the journey cannot be told from the coat.",
    remedy="Sow the keep-sample, or a bag that went there and back, beside it.",
    fires=several(_sent(), dish(treatment="T09"), treated("T09")),
    nearly=several(_sent(), dish(treatment="T09"), treated("T09"),
                   dish("D02", "AV-0", "T0", visits={"2025-03-16": {"normal": 1}}), treated("T0", role="keep-sample")),
)  # fmt: skip
def nothing_travelled(units, treatments, lots, runs, movements):
    """Weeks in a van do something to seed too; told once a lot and trial."""
    kept = treatments.loc[treatments["role"].isin(("keep-sample", "travelled uncoated")), "treatment_id"]
    answered = units.loc[units["treatment_id"].isin(kept), "trial_id"]
    coated = units[units["lot_id"].isin(_products(runs, movements, lots)["lot_id"])].drop_duplicates(["lot_id", "trial_id"])
    return coated[~coated["trial_id"].isin(answered)]


@rule(
    "outsourced.source-not-said", severity="warning", reads=("lots", "runs", "movements"),
    at="lots.source_kind", needs="runs movements",
    says="Lot {lot_id} was made by a contractor ({run_id}), but its source is {source_kind}.",
    remedy="Set its source to made by contractor; reports count such lots apart.",
    fires=several(_sent(), {"lots": [{"lot_id": "AV-2", "seed_unit": "pellet", "source_kind": "made here"}]},
                  moved("made", "AV-2", "2025-03-01", 5, run_id="R1")),
    nearly=_sent(),
)  # fmt: skip
def source_not_said(lots, runs, movements):
    """What somebody else made was not made here."""
    told = _products(runs, movements, lots)
    return told[told["source_kind"].ne("made by contractor").fillna(value=False)]


RULES = (contractor_unnamed, order_unsaid, recipe_not_asked, contractor_in_house, nothing_kept, back_before_sent,
         returned_unsent, coat_without_class, coat_class_unsaid, seed_missing, product_unchecked, nothing_travelled,
         source_not_said)  # fmt: skip
