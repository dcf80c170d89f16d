"""Whether each movement of seed says what it must, and whether seed that is set apart is left alone."""

from palea import schema
from palea.checks.examples import dish, lot, moved, run, several
from palea.checks.rule import rule
from palea.derived.lineage import ancestry
from palea.derived.lookup import texts
from palea.derived.spoken import lacking, surely_before

LOTS = several(lot("AV-0"), lot("AV-1"))


def _needs(*, links):
    """{kind: columns that a movement of that kind needs}: those that name a run, trial or lot, or the others."""
    table = schema.table("movements")
    found = {}
    for kind in schema.words("movement_kind"):
        needed = schema.word("movement_kind", kind)["needs"]
        found[kind] = [c for c in needed if bool(table.link(c) and table.link(c).table != "people") == links]
    return found


def _lacking(movements, *, links):
    told = movements.assign(lacks=lacking(movements, "movements", movements["kind"], _needs(links=links)))
    return told[told["lacks"] != ""]


@rule(
    "lots.movement-unlinked",
    severity="error",
    reads=("movements",),
    at="movements.kind",
    says="Movement {movement_id} of lot {lot_id} is “{kind}”, and {lacks} is blank: the seed's way is broken there.",
    remedy="Fill it in, so that what happened to the seed can be followed.",
    fires=several(LOTS, moved("drawn for run", "AV-0", mass_g=5)),
    nearly=several(LOTS, moved("drawn for run", "AV-0", mass_g=5, run_id="R1")),
)
def movement_unlinked(movements):
    """A draw names its run or trial, a transfer the lot that it went into."""
    return _lacking(movements, links=True)


@rule(
    "lots.movement-lacks",
    severity="gap",
    reads=("movements",),
    at="movements.kind",
    says="Movement {movement_id} of lot {lot_id} is “{kind}” without {lacks}.",
    remedy="Fill it in if it is known.",
    fires=several(LOTS, moved("sent out", "AV-0", mass_g=5)),
    nearly=several(LOTS, moved("sent out", "AV-0", mass_g=5, counterpart_person="P1")),
)
def movement_lacks(movements):
    """What else a kind of movement asks for: who sent or got it, what it weighed."""
    return _lacking(movements, links=False)


@rule(
    "lots.movement-unmeasured",
    severity="gap",
    reads=("movements",),
    at="movements.mass_g",
    says="Movement {movement_id} ({kind} of lot {lot_id}) was neither weighed nor counted: stock is unknown from there on.",
    remedy="Enter the mass or the number of units, or weigh what is left and enter that.",
    fires=several(LOTS, moved("drawn for test", "AV-0")),
    nearly=several(LOTS, moved("drawn for test", "AV-0", seed_units=100), moved("lost", "AV-0")),
)
def movement_unmeasured(movements):
    """Seed that moved has a mass or a number; what was lost cannot be weighed."""
    asked = [k for k in schema.words("movement_kind")
             if schema.word("movement_kind", k)["sign"] and "mass_g" not in schema.word("movement_kind", k)["needs"]]  # fmt: skip
    open_ended = movements["kind"].isin([k for k in asked if k not in ("lost", "discarded")])
    return movements[open_ended & movements["mass_g"].isna() & movements["seed_units"].isna()]


@rule(
    "lots.moved-into-itself",
    severity="error",
    reads=("movements",),
    at="movements.counterpart_lot_id",
    says="Movement {movement_id} takes seed out of lot {lot_id} and puts it into the same lot.",
    remedy="Name the lot that it went into.",
    fires=several(LOTS, moved("moved to lot", "AV-0", mass_g=5, counterpart_lot_id="AV-0")),
    nearly=several(LOTS, moved("moved to lot", "AV-0", mass_g=5, counterpart_lot_id="AV-1")),
)
def moved_into_itself(movements):
    """A transfer has two ends."""
    return movements[movements["counterpart_lot_id"].eq(movements["lot_id"]).fillna(value=False)]


_KEPT = several(lot("AV-0"), lot("AV-K", fraction="keep-sample"))


@rule(
    "lots.keep-sample-touched",
    severity="error",
    reads=("movements", "lots"),
    at="movements.lot_id",
    says="{lot_id} is a keep-sample, and seed was taken from it on {moved_at}: {kind}.",
    remedy="Take the seed from another lot. If it was no keep-sample after all, correct the lot's fraction.",
    fires=several(_KEPT, moved("drawn for run", "AV-K", mass_g=5, run_id="R1")),
    nearly=several(_KEPT, moved("drawn for run", "AV-0", mass_g=5, run_id="R1"), moved("drawn for test", "AV-K", mass_g=1)),
)
def keep_sample_touched(movements, lots):
    """What is kept to compare with may be tested and sown for that; it never goes into a run or out of the house."""
    kept = lots.loc[lots["fraction"].eq("keep-sample") | lots["keep_of"].notna(), "lot_id"]
    taken = movements["kind"].isin(("drawn for run", "sent out"))
    return movements[taken & movements["lot_id"].isin(kept)]


@rule(
    "lots.drawn-after-discarded",
    severity="error",
    reads=("movements", "lots"),
    at="movements.moved_at",
    says="Lot {lot_id} was discarded on {gone_at}, yet on {moved_at} seed of it moved: {kind}.",
    remedy="Look at both dates. If only a part was thrown away, the lot's status is still in use.",
    fires=several(lot("AV-0", status="discarded"), moved("discarded", "AV-0", "2025-03-01", 5),
                  moved("sown", "AV-0", "2025-04-01", 5, trial_id="G1")),
    nearly=several(lot("AV-0", status="discarded"), moved("discarded", "AV-0", "2025-03-01", 5),
                   moved("sown", "AV-0", "2025-03", 5, trial_id="G1")),
)  # fmt: skip
def drawn_after_discarded(movements, lots):
    """Of a lot that was thrown away as a whole nothing can be taken later."""
    gone = lots.loc[lots["status"].eq("discarded").fillna(value=False), "lot_id"]
    last = movements[movements["kind"].eq("discarded").fillna(value=False) & movements["lot_id"].isin(gone)]
    last = last.sort_values("moved_at", kind="stable").drop_duplicates("lot_id", keep="last").set_index("lot_id")
    told = movements.assign(gone_at=texts(movements["lot_id"], last["moved_at"]))
    late = surely_before(told["gone_at"], told["moved_at"])
    return told[late & ~told["kind"].isin(("discarded", "lost"))]


@rule(
    "lots.sown-from-quarantine",
    severity="warning",
    reads=("lots", "units"),
    at="lots.status",
    says="Lot {lot_id} is quarantined, and {n} units of a trial were sown from it, the first of them {first}.",
    remedy="Clear the doubt and lift the quarantine, or leave the units out with a reason.",
    fires=several(lot("AV-1", status="quarantined"), dish()),
    nearly=several(lot("AV-1", status="used up"), dish()),
)
def sown_from_quarantine(lots, units):
    """A doubt about a lot is a doubt about every count of it."""
    in_use = units[~units["status"].isin(schema.words("unit_status", counts=False))]
    by = in_use.groupby("lot_id")["unit_id"].agg(["size", "first"])
    doubtful = lots[lots["status"].eq("quarantined") & lots["lot_id"].isin(by.index)]
    return doubtful.assign(n=by["size"].reindex(doubtful["lot_id"]).to_numpy(), first=texts(doubtful["lot_id"], by["first"]))


@rule(
    "lots.out-of-run-order",
    severity="error",
    reads=("movements", "runs"),
    at="movements.moved_at",
    says="Lot {lot_id}: {kind} on {moved_at} does not fit run {run_id}, which ran from {started_at} to {ended}.",
    remedy="Look whether the date, or the run that is named, was written down wrong.",
    fires=several(LOTS, run("R1", "AV-0", "AV-1", ended_at="2025-02-01"), moved("made", "AV-1", "2025-01-20", run_id="R1")),
    nearly=several(LOTS, run("R1", "AV-0", "AV-1", ended_at="2025-02-01"), moved("made", "AV-1", "2025-02", run_id="R1")),
)
def out_of_run_order(movements, runs):
    """Seed goes in before the run has ended and comes out after it began; at a contractor's other dates are known."""
    of_run = runs[runs["place_kind"].ne("contractor").fillna(value=True)].set_index("run_id")
    told = movements.assign(started_at=texts(movements["run_id"], of_run["started_at"]),
                            ended_at=texts(movements["run_id"], of_run["ended_at"]))  # fmt: skip
    early = told["kind"].eq("made") & surely_before(told["moved_at"], told["started_at"])
    late = told["kind"].eq("drawn for run") & surely_before(told["ended_at"], told["moved_at"])
    bad = told[early.fillna(value=False) | late.fillna(value=False)]
    return bad.assign(ended=bad["ended_at"].fillna("an end that is not recorded"))


_SOWN = several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1"), dish())


@rule(
    "lots.sown-untested",
    severity="gap",
    reads=("lots", "units", "tests", ancestry),
    at="lots.lot_id",
    says="Lot {lot_id} was sown in a trial, and neither it nor a lot that it came from was tested for fill or viability.",
    remedy="Cut or stain a sample of what is left. Without it, empty and dead seed cannot be told from a treatment that fails.",
    fires=_SOWN,
    nearly=several(_SOWN, {"tests": [{"test_id": "Q1", "lot_id": "AV-0", "quantity": "fill"}]}),
)
def sown_untested(lots, units, tests, ancestry):
    """Low germination is emptiness, death or dormancy; without a test of the seed nobody can say which."""
    told = tests.loc[tests["quantity"].isin(("fill", "viability")), "lot_id"]
    known = set(told) | set(ancestry.loc[ancestry["ancestor"].isin(told), "lot"])
    return lots[lots["lot_id"].isin(units["lot_id"].dropna().unique()) & ~lots["lot_id"].isin(known)]


RULES = (movement_unlinked, movement_lacks, movement_unmeasured, moved_into_itself, keep_sample_touched,
         drawn_after_discarded, sown_from_quarantine, out_of_run_order, sown_untested)  # fmt: skip
