"""What cannot be true of plots and rows from visit to visit, and of thinning."""

from palea import schema
from palea.calc.spans import earliest
from palea.checks.examples import several
from palea.checks.rule import rule
from palea.derived.lookup import moments
from palea.derived.standing import walked


def plot(*seen, sown=120, kind="plot", rule_of=None, lot_id="AV-1"):
    """A plot of trial F1 and its visits, a week apart; each a mapping of outcome to count. The last may be a thinning."""
    days = [f"2025-09-{1 + 7 * n:02d}" for n in range(len(seen))]
    visits = [
        {
            "visit_id": f"W{n}",
            "trial_id": "F1",
            "visited_at": day,
            "visited_by": "A",
            "counting": "new",
            "thinning_rule": rule_of if "removed" in found or "kept" in found else None,
        }
        for n, (day, found) in enumerate(zip(days, seen, strict=True))
    ]
    counts = [
        {"visit_id": f"W{n}", "unit_id": "P1", "outcome": o, "taxon_id": "AV", "observer": "A", "count": c}
        for n, found in enumerate(seen)
        for o, c in found.items()
    ]
    unit = {
        "unit_id": "P1",
        "trial_id": "F1",
        "kind": kind,
        "lot_id": lot_id,
        "treatment_id": "A",
        "sown_n": sown,
        "seeds_each": 1,
        "placed_at": "2025-08-25",
        "status": "in use",
    }
    return {"trials": [{"trial_id": "F1"}], "units": [unit], "visits": visits, "counts": counts}


def _at(counts, found):
    """Rows of counts at which something was found, with the values its sentence names; None where nothing was."""
    if found.empty:
        return None
    told = found.set_index("line")
    told = told[~told.index.duplicated()]
    return told.loc[told.index.intersection(counts.index)]


@rule(
    "field.thinned-as-dead",
    severity="error",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {gone} plants were taken out ({standing} stood, {kept} were kept), and {died} "
    "are entered as dead "
    "instead. Plants taken out did not die.",
    remedy="Enter them under “taken out”: survival would else be wrong by all of them.",
    fires=plot(
        {"emerged": 20, "standing": 20}, {"standing": 20, "kept": 8, "died": 12, "removed": 0}, rule_of="spacing"
    ),
    nearly=plot(
        {"emerged": 20, "standing": 20}, {"standing": 18, "kept": 8, "died": 2, "removed": 10}, rule_of="spacing"
    ),
)
def thinned_as_dead(counts, walked):
    """Where a thinning left fewer than stood and nothing was taken out, the dead of that visit are those taken out."""
    gone = walked["standing"] - walked["kept"]
    wrong = walked.assign(gone=gone)[gone.gt(0) & walked["removed"].fillna(0).eq(0) & walked["died"].ge(gone)]
    return _at(counts, wrong)


@rule(
    "field.thinning-does-not-add-up",
    severity="error",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {standing} stood, {removed} were taken out and {kept} kept; that is {off} off.",
    remedy="Look at the sheet: those that stood before are those taken out and those kept.",
    fires=plot({"emerged": 20}, {"standing": 20, "removed": 10, "kept": 8}, rule_of="spacing"),
    nearly=plot({"emerged": 20}, {"standing": 20, "removed": 12, "kept": 8}, rule_of="spacing"),
)
def thinning_does_not_add_up(counts, walked):
    """Kept = stood before - taken out. Where those taken out were entered as dead another rule says so."""
    off = (walked["standing"] - walked["removed"] - walked["kept"]).abs()
    as_dead = walked["removed"].eq(0) & walked["died"].ge(walked["standing"] - walked["kept"])
    return _at(counts, walked.assign(off=off)[off.gt(0) & ~as_dead])


@rule(
    "field.more-than-kept",
    severity="error",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {standing} stand, though only {stood_before} were left after thinning and "
    "{came_since} came up since.",
    remedy="Count again, or enter what came up newly; a plot that was thinned gains plants in no other way.",
    fires=plot({"standing": 20, "removed": 12, "kept": 8}, {"standing": 10, "emerged": 0}, rule_of="spacing"),
    nearly=plot({"standing": 20, "removed": 12, "kept": 8}, {"standing": 10, "emerged": 2}, rule_of="spacing"),
)
def more_than_kept(counts, walked):
    """After thinning at most those kept, and those that came up since, can stand. Nothing entered as new is none."""
    thinned = walked["after_thinning"] & walked["standing"].notna()
    most = walked["stood_before"] + walked["came_since"].fillna(0)
    wrong = walked[thinned & walked["standing"].gt(most)]
    return _at(counts, wrong.assign(came_since=wrong["came_since"].fillna(0)))


@rule(
    "field.standing-rises",
    severity="warning",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {standing} stand, {stood_before} stood before and {came_since} are recorded "
    "as new. Late emergence, "
    "or a miscount?",
    remedy="Enter what came up newly; survival cannot be told where plants appear that nobody saw come up.",
    fires=plot({"standing": 31, "emerged": 31}, {"standing": 35, "emerged": 0}),
    nearly=plot({"standing": 31, "emerged": 31}, {"standing": 35, "emerged": 4}),
)
def standing_rises(counts, walked):
    """Standing rises by what came up newly, at most. Visits that did not look for new seedlings say nothing of it."""
    more = walked["standing"] > walked["stood_before"] + walked["came_since"]
    return _at(counts, walked[more & ~walked["after_thinning"]])


@rule(
    "field.more-died-than-stood",
    severity="error",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {died} are entered as newly dead, but {stood_before} stood before and "
    "{came_since} came up since.",
    remedy="Enter only those that died since the visit before.",
    fires=plot({"standing": 10, "emerged": 10}, {"died": 12, "emerged": 0, "standing": 0}),
    nearly=plot({"standing": 10, "emerged": 10}, {"died": 10, "emerged": 0, "standing": 0}),
)
def more_died_than_stood(counts, walked):
    """Only what stood can die."""
    return _at(counts, walked[walked["died"] > walked["stood_before"] + walked["came_since"]])


@rule(
    "field.books-do-not-balance",
    severity="warning",
    reads=("counts", walked),
    at="counts.count",
    needs="walked",
    says="{kind} {unit}, visit {visit}: {stood_before} stood, {came_since} came up and {died} died, which leaves "
    "{due}; {standing} stand.",
    remedy="Look at the sheet of this visit and the one before; if seedlings died unseen, say so in a note.",
    fires=plot({"standing": 20, "emerged": 20}, {"emerged": 5, "died": 2, "standing": 15}),
    nearly=plot({"standing": 20, "emerged": 20}, {"emerged": 5, "died": 2, "standing": 23}),
)
def books_do_not_balance(counts, walked):
    """Standing = stood before + newly up - newly dead, where all three were looked for at each visit."""
    due = walked["stood_before"] + walked["came_since"] - walked["died"]
    short = due > walked["standing"]
    return _at(counts, walked.assign(due=due)[short & walked["kept"].isna() & walked["removed"].isna()])


@rule(
    "field.more-emerged-than-sown",
    severity="error",
    reads=("units", walked),
    at="units.sown_n",
    needs="walked",
    says="{kind} {unit_id}: {emerged} seedlings came up in all, {sown_n} seed units were sown.",
    remedy="If running totals were written, set the counting of these visits to cumulative; else look for a slip.",
    fires=plot({"emerged": 80}, {"emerged": 60}),
    nearly=plot({"emerged": 80}, {"emerged": 40}),
)
def more_emerged_than_sown(units, walked):
    """More cannot come up than was sown, wild seedlings apart: those are few beside what is sown."""
    total = walked[walked["own"]].groupby("unit")["emerged"].sum(min_count=1)
    found = units.assign(emerged=units["unit_id"].map(total).astype(float))
    most = (found["sown_n"] * found["seeds_each"].fillna(1)).where(found["sown_n"].gt(0))
    return found[found["emerged"].gt(most)]


@rule(
    "field.kept-the-largest",
    severity="warning",
    reads=("visits",),
    at="visits.thinning_rule",
    says="Visit {visit_id} thinned by keeping the largest plants: growth is biased, and so is what is said of size.",
    remedy="Keep plants by spacing or at random. Growth after this thinning can be described, and not compared.",
    fires={"visits": [{"visit_id": "W13", "trial_id": "F1", "thinning_rule": "largest"}]},
    nearly={"visits": [{"visit_id": "W13", "trial_id": "F1", "thinning_rule": "spacing"}]},
)
def kept_the_largest(visits):
    """A thinning that keeps the large ones chooses the result."""
    return visits[visits["thinning_rule"].isin(schema.words("thinning_rule", biased=True))]


@rule(
    "field.thinning-without-rule",
    severity="gap",
    reads=("visits", walked),
    at="visits.thinning_rule",
    needs="walked",
    says="Visit {visit_id} took plants out (units: {n}), and no rule says which were kept.",
    remedy="Say by what rule: spacing, at random, the largest.",
    fires=plot({"standing": 20, "removed": 12, "kept": 8}),
    nearly=plot({"standing": 20, "removed": 12, "kept": 8}, rule_of="spacing"),
)
def thinning_without_rule(visits, walked):
    """Who was kept decides what can be said of growth."""
    n = walked[walked["removed"].gt(0)].groupby("visit").size()
    found = visits[visits["visit_id"].isin(n.index) & visits["thinning_rule"].isna()]
    return found.assign(n=found["visit_id"].map(n))


@rule(
    "field.nobody-saw-them-come",
    severity="gap",
    reads=("units", walked),
    at="units.unit_id",
    needs="walked",
    says="{kind} {unit_id}: plants that stand were counted at {n} visits, and newly emerged ones at none: only bounds "
    "for survival can be "
    "given.",
    remedy="Count what came up newly beside what stands, at least until emergence is over; or tag plants.",
    fires=plot({"standing": 20}, {"standing": 24}),
    nearly=plot({"standing": 20, "emerged": 20}, {"standing": 24}),
)
def nobody_saw_them_come(units, walked):
    """Standing counts alone hide deaths behind new seedlings."""
    by = walked.groupby("unit").agg(n=("standing", "count"), came=("emerged", "count"))
    alone = by[by["n"].gt(1) & by["came"].eq(0)]
    found = units[units["unit_id"].isin(alone.index) & units["sown_n"].gt(0)]
    return found.assign(n=found["unit_id"].map(alone["n"]))


@rule(
    "field.visited-before-sown",
    severity="error",
    reads=("units", walked),
    at="units.placed_at",
    needs="walked",
    says="{kind} {unit_id} was sown on {placed_at}, and visited on {first} already.",
    remedy="Look whether day and month were swapped in one of the two dates.",
    fires=several(plot({"emerged": 3}) | {"units": [plot()["units"][0] | {"placed_at": "2025-10-01"}]}),
    nearly=several(plot({"emerged": 3}) | {"units": [plot()["units"][0] | {"placed_at": "2025-09"}]}),
)
def visited_before_sown(units, walked):
    """Sown, then visited; partial dates are spans."""
    at = moments(units["unit_id"], walked.groupby("unit")["at"].min())
    return units.assign(first=at.astype(str).str[:10])[earliest(units["placed_at"]) > at]


RULES = (
    thinned_as_dead,
    thinning_does_not_add_up,
    more_than_kept,
    standing_rises,
    more_died_than_stood,
    books_do_not_balance,
    more_emerged_than_sown,
    kept_the_largest,
    thinning_without_rule,
    nobody_saw_them_come,
    visited_before_sown,
)
