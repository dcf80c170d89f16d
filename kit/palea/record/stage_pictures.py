"""Pictures of a stage that are no picture of one result: frames for the figures, laid out from views and results."""

import pandas as pd

from palea import schema
from palea.analyses import catalogue
from palea.analyses.run import names_of, run
from palea.calc.results import Refusal
from palea.calc.stats.proportions import wilson
from palea.derived import build_ups, counting, ledger, lot_tests
from palea.derived.coated_lots import unit_masses
from palea.derived.facts import Facts
from palea.derived.lineage import parents
from palea.errors import PaleaError
from palea.figures import evidence, hundred, runs, stock
from palea.words import naming, numbers
from palea.words.prose import counted, inside, listed, together

YIELD, MINUTES = "live-seed yield", "minutes per 1000 live seeds"
SIDES = ("taxon_id", "treatment_a", "treatment_b", "environment_id")
LOT_KINDS = ("empty", "dead", "alive")


def lots_in_hundred(package):
    """Of 100 units of each lot that was tested: empty, dead, alive. PaleaError where none was tested for fill and life."""
    facts, names = Facts(package), names_of(package)
    tested = facts[lot_tests.counted_seeds]
    both = tested.groupby(["taxon", "lot", "quantity"], sort=False)[["k", "n"]].sum().unstack("quantity")  # noqa: PD010 - no sum is due twice
    rows = []
    for (taxon, lot), row in both.dropna().iterrows():
        (filled, of), (living, looked) = ((row["k", q], row["n", q]) for q in ("filled units", "viable seed"))
        full, life = filled / of, living / looked
        low, high = map(float, wilson(living, looked))
        shares = (100 * (1 - full), 100 * full * (1 - life), 100 * full * life)
        second = f"{names.get(taxon, taxon)}, {counted(of, 'unit')} cut, {counted(looked, 'seed')} tested"
        ends = {"alive": (100 * full * low, 100 * full * high)}
        rows += [(lot, second, kind, share, *ends.get(kind, (None, None))) for kind, share in zip(LOT_KINDS, shares, strict=True)]
    if not rows:
        msg = "No lot was tested for both fill and life. Enter a cut test and a test for life of each lot."
        raise PaleaError(msg)
    parts = _parts(rows)
    return hundred.draw(parts, LOT_KINDS, "What 100 units of a lot are", _hundred_told(parts))


def ends_in_hundred(package, trial, taxon):
    """How 100 sown units of each treatment ended, all its dishes together. PaleaError where no dish was counted out."""
    facts = Facts(package)
    dishes = facts[counting.ends]
    mine = dishes[dishes["trial"].eq(trial) & dishes["taxon"].eq(taxon)]
    ways = [w for w in schema.words("outcome", ends_a_seed=True) if w in mine and mine[w].fillna(0).sum() > 0]
    if mine.empty or not ways:
        msg = f"No dish of {taxon} in {trial} was counted out. Enter how the seeds ended at the last count."
        raise PaleaError(msg)
    names, rows = names_of(package), []
    kinds = {w: inside(schema.word("outcome", w)["title"]) for w in reversed(ways)}
    for (treatment, environment), own in mine.groupby(["treatment", "environment"], sort=False):
        total = own[ways].sum()
        told = f"{treatment}, {names.get(environment, environment)}, {counted(len(own), 'dish', 'dishes')}"
        rows += [(naming.plain_name(names, treatment), told, kinds[w], 100 * total[w] / total.sum(), None, None) for w in kinds]
    parts = _parts(rows)
    title = f"How 100 seed units of {names.get(taxon, taxon)} ended in {trial}"
    return hundred.draw(parts, tuple(kinds.values()), title, _hundred_told(parts))


def _parts(rows):
    parts = pd.DataFrame(rows, columns=["name", "second", "kind", "share", "lower", "upper"])
    return parts.astype({"share": float, "lower": float, "upper": float})


def _hundred_told(parts):
    said = [
        f"{name} ({second}): {listed(f'{k} {numbers.plain(s)}' for k, s in zip(own['kind'], own['share'], strict=True))}"
        for (name, second), own in parts.groupby(["name", "second"], sort=False)
    ]
    return together(*said)


def stock_over_time(package, taxon):
    """What the received lots of a species held over time. PaleaError where none was received."""
    facts = Facts(package)
    lots = facts["lots"]
    made = set(facts[parents]["lot"])
    received = [k for k, t in zip(lots["lot_id"], lots["taxon_id"], strict=True) if t is not pd.NA and t == taxon and k not in made]
    held = facts[ledger.held]
    held = held[held["lot"].isin(received) & held["mass_after_g"].notna()]
    if held.empty:
        msg = f"No lot of {taxon} has movements that were weighed. Enter what was received and drawn, with its mass."
        raise PaleaError(msg)
    day = pd.to_datetime(held["when"]).dt.strftime("%Y-%m-%d")
    steps = pd.DataFrame({"lot": held["lot"], "at": day, "grams": held["mass_after_g"]})
    now = steps.groupby("lot", sort=False)["grams"].last()
    draws = facts[lot_tests.planned_draws].groupby("lot")["grams"].agg(lambda s: s.sum() if s.notna().all() else None)
    left = pd.DataFrame({"lot": now.index, "grams": (now - draws.astype(float).reindex(now.index)).to_numpy()})
    moves = facts["movements"]
    scale = moves[moves["kind"].eq("weighed").fillna(value=False) & moves["lot_id"].isin(now.index) & moves["mass_g"].notna()]
    weighed = pd.DataFrame({"lot": scale["lot_id"], "at": scale["moved_at"].str.slice(0, 10), "grams": scale["mass_g"]})
    told = [f"{lot}: {counted(len(own), 'movement')}, {numbers.plain(own['grams'].iloc[-1], 1)} g left by the book"
            for lot, own in steps.groupby("lot", sort=False)]  # fmt: skip
    title = f"Stock of {names_of(package).get(taxon, taxon)}"
    return stock.draw(steps, left, weighed, title, together(*told))


def cleaning_effort(package):
    """Living seed kept against minutes of work, a point a cleaning run. PaleaError where either is not known."""
    result = run("cleaning.recovery", package).result
    if isinstance(result, Refusal):
        raise PaleaError(together(result.missing, result.remedy))
    units, keys = result.units, ["taxon", "treatment", "batch"]
    wide = units[units["quantity"].isin([YIELD, MINUTES])].drop_duplicates([*keys, "quantity"])
    wide = wide.set_index([*keys, "quantity"])["value"].unstack("quantity")  # noqa: PD010 - nothing to add up
    wide = wide.reindex(columns=[YIELD, MINUTES]).dropna().reset_index()
    points = wide.rename(columns={YIELD: "yield_pct", MINUTES: "minutes"})
    if points.empty:
        msg = "No cleaning run has both its minutes of work and tests of the seed before and after. Enter them."
        raise PaleaError(msg)
    names = names_of(package)
    told = [
        f"{naming.called(names, t)}: {counted(len(own), 'run')}, {numbers.plain(own['yield_pct'].mean())} % of the living"
        f" seed kept in {numbers.short(round(own['minutes'].mean(), 2))} minutes per 1000 live seeds"
        for t, own in points.groupby("treatment", sort=False)
    ]
    return runs.effort(points, names, "What cleaning yields and what it costs", together(*told))


def coat_growth(package, taxon):
    """How coats of a species grew from cycle to cycle, and the masses of single units. PaleaError where no cycle is told."""
    facts, names = Facts(package), names_of(package)
    cycles = facts[build_ups.build_ups]
    cycles = cycles[cycles["taxon"].eq(taxon) & cycles["treatment"].notna() & cycles["done"].notna()]
    if cycles.empty:
        msg = f"No coat on {taxon} was put on in cycles of known amounts and solids. Enter amounts, cycle by cycle."
        raise PaleaError(msg)
    singles = facts[build_ups.single_units]
    singles = singles[singles["treatment"].isin(cycles["treatment"])]
    bare = _bare_mg(facts, singles["batch"])
    told = []
    for t, own in cycles.groupby("treatment", sort=False):
        last = own.sort_values("cycle").groupby("batch").last()
        meant = f", planned {numbers.plain(last['planned'].mean(), 1)} %" if last["planned"].notna().any() else ""
        many = f"{counted(len(last), 'batch', 'batches')}, {counted(own['cycle'].nunique(), 'cycle')}"
        put_on = f"{numbers.plain(last['done'].mean(), 1)} % of the seed put on{meant}"
        told.append(f"{naming.called(names, t)}: {many}, {put_on}")
    title = f"How coats on {names.get(taxon, taxon)} grew"
    return runs.growth(cycles, singles.assign(bare_mg=bare), names, title, together(*told))


def _bare_mg(facts, batches):
    """Mean mass of a bare unit of the seed that went into each batch, mg; nan where nobody weighed it."""
    known = facts[unit_masses].drop_duplicates("batch").set_index("batch")["bare_mg"]
    return batches.map(known)


def evidence_table(package):
    """Contrasts by stage with verdict and interval, from the results kept in a package. PaleaError where none was judged."""
    results = Facts(package)["results"]
    recipe = Facts(package)["analyses"].drop_duplicates("analysis_id").set_index("analysis_id")["recipe"]
    known = {r.id: r.stage for r in catalogue.RECIPES}
    judged = results[results["verdict"].notna() & results["treatment_b"].notna() & results["estimate"].notna()]
    stage = judged["analysis_id"].map(recipe).map(known)
    judged = judged.assign(stage=stage)[stage.notna()].drop_duplicates([*SIDES, "stage"])
    if judged.empty:
        msg = "No contrast has a kept verdict. Declare contrasts, then run `palea analyse`."
        raise PaleaError(msg)
    names = names_of(package)
    cells = pd.DataFrame([_cell(r, names) for r in judged.to_dict("records")])
    order = [r.stage for r in catalogue.RECIPES]
    stages = sorted(set(cells["stage"]), key=order.index)
    told = [f"{c['second']}: {c['row']}, {c['stage']}, {c['verdict']}, {c['said']}" for c in cells.to_dict("records")]
    return evidence.draw(cells, stages, "What is known of each contrast", together(*told))


def _cell(row, names):
    unit = "points" if row["scale"] == "difference" and row["unit"] == "%" else row["unit"]
    unit = "" if unit in ("1", None) else f" {numbers.unit_word(unit) if unit != 'points' else unit}"
    places = numbers.places(row["estimate"], row["lower"], row["upper"])
    ends = f" ({numbers.interval(row['lower'], row['upper'], places)})" if row["lower"] == row["lower"] else ""
    margin = numbers.short(row["margin"]) if row["margin"] == row["margin"] else "m"
    where = names.get(row["environment_id"], "") if isinstance(row["environment_id"], str) else ""
    taxon = names.get(row["taxon_id"], row["taxon_id"])
    return {
        "row": f"{row['treatment_a']} against {row['treatment_b']}", "second": ", ".join(filter(None, (taxon, where))),
        "stage": row["stage"], "said": f"{numbers.plain(row['estimate'], places)}{unit}{ends}",
        "verdict": " ".join(margin if word == "m" else word for word in row["verdict"].split()),
    }  # fmt: skip
