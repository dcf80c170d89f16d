"""Planned against done in one table: recipe, layout, visits and exclusions, each deviation with its reason or a gap for it."""

from collections import defaultdict

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import dishes
from palea.derived.lookup import moments
from palea.derived.planned_steps import figures
from palea.documents.page import Grid, Link, Paragraph, Part, Row
from palea.record import batches as of
from palea.record import steps, visits
from palea.record.deviations import odd
from palea.record.lots import few_told, ids_told
from palea.record.spread import centre, known, with_symbol
from palea.record.story import anchor, gap
from palea.words.numbers import short
from palea.words.prose import capital, counted, inside, listed

NAME = "planned-and-done"
PER_SEED = ("per kg seed put in", "per kg bare seed")  # bases of an amount that follow the mass of the seed
AS_PLANNED, BY_PROCEDURE = "as planned", "as the procedure says"


def part(story):
    """The Part, or None where nothing was planned and nothing deviates."""
    rows = [*_recipe(story), *_layout(story), *_visits(story), *_exclusions(story)]
    if not rows:
        return None
    heads = ("What", "Planned", "Done", "Reason of a deviation")
    lead = Paragraph(
        "What the plan, the written procedures and the layout set, beside what was done. Where something went"
        " otherwise, its reason stands beside it, or a mark that none was given."
    )
    return Part("Planned and done", (lead, Grid("Planned against done", heads, tuple(rows), NAME)), "planned")


def _recipe(story):
    yield from _build_up(story)
    yield from _outside(story)
    for step in story.rows("run_steps"):
        if odd(step["deviation"]):
            action = inside(schema.word("step_action", step["action"])["title"])
            what = (
                "Recipe: ",
                Link(step["run_id"], anchor("runs", step["run_id"])),
                f", step {step['step']} ({action})",
            )
            why = step["reason"] or gap("run_steps", [step], "reason", f"{step['run_id']}, step {step['step']}")
            yield Row((what, BY_PROCEDURE, step["deviation"].rstrip("."), why))
    told = {step["run_id"] for step in story.rows("run_steps") if odd(step["deviation"])}
    for run in story.rows("runs"):
        if odd(run["deviations"]) and run["run_id"] not in told:
            why = run["reason"] or gap("runs", [run], "reason", run["run_id"])
            yield Row(
                (
                    ("Recipe: ", Link(run["run_id"], anchor("runs", run["run_id"]))),
                    BY_PROCEDURE,
                    run["deviations"].rstrip("."),
                    why,
                )
            )


def _build_up(story):
    """Build-up that was meant, beside what came of it, treatments with the same aim together."""
    alike = defaultdict(list)
    for batches in of.all_batches(story, ("coat",)):
        if batches.planned is not None:
            alike[batches.treatment["coat_class"], batches.planned].append(batches)
    for (name, planned), some in alike.items():
        found = [(batches.id, known(of.build_up(batches, run) for run in batches.runs)) for batches in some]
        every = [x for _, values in found for x in values]
        title = inside(schema.word("coat_class", name)["title"]) if name else "coat"
        done = (
            f"{centre(every, 0 if every and min(every) >= 100 else 1)} % in {counted(len(every), 'batch', 'batches')}"
            if every
            else "not weighed"
        )
        yield Row(
            (f"Recipe: build-up of {title} ({ids_told([key for key, _ in found])})", f"{short(planned)} %", done, "")
        )


def _outside(story):
    """Figures of steps that lie outside of what the written procedure allows."""
    plans = _plans(story)
    for run in story.rows("runs"):
        plan = plans.get((run["protocol_id"], run["version"]), {})
        kilos = (
            sum(m["mass_g"] or 0 for m in story.rows("movements", run_id=run["run_id"], kind="drawn for run")) / 1000
        )
        rows = story.steps(run["run_id"]) if plan else ()
        for key, step in zip(_keys(rows), rows, strict=True):
            yield from _figures(run, step, plan.get(key), kilos)


def _plans(story):
    """{procedure: {name of a step: row}}."""
    found = defaultdict(list)
    for row in story.rows("protocol_steps"):
        found[row["protocol_id"], row["version"]].append(row)
    return {key: dict(zip(_keys(rows), rows, strict=True)) for key, rows in found.items()}


def _keys(rows):
    return [(*key, row["cycle"]) for key, row in zip(steps.keys(rows), rows, strict=True)]


def _figures(run, step, plan, kilos):
    for name in figures() if plan else ():
        done, low, high = step[name], plan[f"lowest_{name}"], plan[f"highest_{name}"]
        if done is None or (low is None and high is None) or (name == "amount" and step["unit"] != plan["unit"]):
            continue
        times = _times(step, plan, kilos) if name == "amount" else 1.0
        low, high = (bound * times if bound is not None else limit for bound, limit in ((low, -np.inf), (high, np.inf)))
        if low * (1 - 1e-9) <= done <= high * (1 + 1e-9):
            continue
        unit = step["unit"] if name == "amount" else schema.table("run_steps")[name].unit
        title = inside(schema.table("run_steps")[name].title)
        what = ("Recipe: ", Link(run["run_id"], anchor("runs", run["run_id"])), f", step {step['step']}, {title}")
        why = step["reason"] or gap("run_steps", [step], "reason", f"{run['run_id']}, step {step['step']}")
        yield Row((what, f"{with_symbol(f'{short(low)} to {short(high)}', unit)}", with_symbol(short(done), unit), why))


def _times(step, plan, kilos):
    """By what a planned amount is multiplied to stand beside the amount that was put in."""
    planned, done = (kilos if basis in PER_SEED else 1.0 for basis in (plan["basis"], step["basis"]))
    return planned / done if done else 1.0


def _layout(story):
    """Units that were laid out, beside those that count; trials in which all do stand in one row."""
    whole = {}
    for trial in story.rows("trials"):
        key = trial["trial_id"]
        units = [u for u in story.rows("units", trial_id=key) if u["treatment_id"]]
        out = [u["unit_id"] for u in units if u["status"] in schema.words("unit_status", counts=False)]
        told = counted(len(units), units[0]["kind"], visits.units_of(units[0]["kind"])) if units else ""
        if out:
            yield Row((f"Layout of {key}", told, f"{len(units) - len(out)} count", f"see exclusions ({few_told(out)})"))
        elif units:
            whole[key] = told
    if whole:
        yield Row((f"Layout of {listed(whole)}", listed(whole.values()), AS_PLANNED, ""))


def _visits(story):
    """Days on which outcomes were to be judged, sheets that were typed late, and units that were not looked at."""
    whole = {}
    for trial in story.rows("trials"):
        key, days = trial["trial_id"], visits.days(story, trial["trial_id"])
        wanted = sorted({row["at_day"] for row in story.rows("trial_outcomes", trial_id=key)} - {None})
        if not (wanted and days):
            continue
        near = [min(days, key=lambda day, want=want: abs(day - want)) for want in wanted]
        planned, done = (f"day {listed(short(day) for day in some)}" for some in (wanted, near))
        if near == wanted:
            whole[key] = planned
        else:
            yield Row((f"Visits of {key}: days on which outcomes are judged", planned, done, ""))
    if whole:
        told = "; ".join(f"{key} {planned}" for key, planned in whole.items())
        yield Row((f"Visits of {listed(whole)}: days on which outcomes are judged", told, AS_PLANNED, ""))
    yield from _looks(story)
    yield from _late(story)
    yield from _not_looked(story)


def _looks(story):
    """Days on which units were to be looked at, beside the days on which they were, for each day on which some began."""
    kept = {}
    for trial in story.rows("trials"):
        key, planned = trial["trial_id"], _days_written(trial["visit_days"])
        begun = _seen(story, key) if planned else {}
        due = {start: [day for day in planned if trial["status"] != "running" or day <= max(begun[start])] for start in begun}
        off = {start: seen for start, seen in begun.items() if set(seen) != set(due[start])}
        if begun and not off:
            kept[key] = _on_days(planned)
        for start, seen in off.items():
            which = f" (units that began on {start})" if len(begun) > 1 else ""
            yield Row((f"Visits of {key}{which}", _on_days(planned), *_off(story, due[start], seen)))
    if kept:
        told = "; ".join(f"{key} {planned}" for key, planned in kept.items())
        yield Row((f"Visits of {listed(kept)}: days from the start", told, AS_PLANNED, ""))


def _on_days(some):
    return f"day{'s' * (len(some) > 1)} {listed(some)}"


def _days_written(text):
    """Days of a text such as "3; 5; 7", in order."""
    return sorted({int(day) for day in (text or "").split(";") if day.strip()})


def _seen(story, key):
    """{first day: {day since: ids of the visits}} of the units of a trial, by the day on which they began."""
    units, counts, rows = story.facts[dishes], story.facts["counts"], story.facts["visits"]
    start = units[units["trial"].eq(key)].set_index("unit")["start"].dropna().astype("datetime64[s]").dt.floor("D")
    rows = rows[rows["trial_id"].eq(key).fillna(value=False)]
    at = pd.Series(earliest(rows["visited_at"]), index=rows["visit_id"]).dropna().dt.floor("D")
    looked = counts[["visit_id", "unit_id"]].drop_duplicates()
    looked = looked[looked["visit_id"].isin(at.index) & looked["unit_id"].isin(start.index)]
    found = looked.assign(began=moments(looked["unit_id"], start), at=moments(looked["visit_id"], at))
    found = found[["visit_id", "began", "at"]].drop_duplicates().sort_values(["began", "at"])
    told = defaultdict(lambda: defaultdict(list))
    for visit, began, on in found.itertuples(index=False):
        told[began.date().isoformat()][(on - began).days].append(visit)
    return told


def _off(story, planned, seen):
    """(done, reason) where the days of visits are not those of the plan."""
    missed, more = [d for d in planned if d not in seen], [d for d in seen if d not in planned]
    done = "; ".join(filter(None, (
        f"not on {_on_days(missed)}" if missed else "", f"on {_on_days(more)} without a plan" if more else "",
    )))  # fmt: skip
    odd_ones = [story.row("visits", visit) for day in more for visit in seen[day]]
    why = [row["notes"] for row in odd_ones if row["notes"]]
    return done, "; ".join(why) or (gap("visits", odd_ones, "notes", "why other days than planned") if odd_ones else "")


def _late(story):
    for visit in story.rows("visits"):
        typed, seen = (visit["typed_at"] or "")[:10], visit["visited_at"][:10]
        if typed > seen:
            why = visit["notes"] or gap(
                "visits", [visit], "notes", f"why the sheet of {visit['visit_id']} was typed late"
            )
            yield Row(
                (
                    ("Visits: sheet of ", Link(visit["visit_id"], anchor("visits", visit["visit_id"]))),
                    f"typed on {seen}",
                    f"typed on {typed}",
                    why,
                )
            )


def _not_looked(story):
    """Counts that were due and not made, by visit and the reason that their row gives."""
    counts = story.facts["counts"]
    missing = counts[counts["missing"].notna()]
    for (visit, reason), some in missing.groupby(["visit_id", "missing"], sort=False):
        units = list(dict.fromkeys(some["unit_id"]))
        told = f"{counted(len(units), 'unit')} ({few_told(units)})"
        row = story.row("visits", visit) or {"notes": None}
        yield Row(
            (
                ("Visits: ", Link(visit, anchor("visits", visit))),
                "every unit counted",
                f"not counted: {told}",
                "; ".join(filter(None, (reason, row["notes"]))),
            )
        )


def _exclusions(story):
    """Whatever was left out: units, tests, handling runs and runs, with the reason in their row."""
    counted_out = (
        ("units", "unit_id", schema.words("unit_status", counts=False)),
        ("tests", "test_id", schema.words("test_status", counts=False)),
        ("handling_runs", "handling_id", schema.words("test_status", counts=False)),
        ("runs", "run_id", schema.words("run_status", gives_seed=False)),
    )
    for table, column, states in counted_out:
        for row in story.rows(table):
            if row["status"] in states:
                key = row[column]
                blind = {True: "; decided with the outcome known", False: "; decided before the outcome was known"}
                why = row["reason"] or gap(table, [row], "reason", key)
                kind = capital(inside(schema.table(table).title))
                yield Row(
                    (
                        f"Exclusions: {key} ({inside(kind)})",
                        "to count",
                        story.value(table, row, "status"),
                        (why, blind.get(row.get("outcome_known"), "")),
                    )
                )
