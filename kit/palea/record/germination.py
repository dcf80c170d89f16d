"""How seed was put to germinate: the question, the ladder of replication, the surroundings, visits and contrasts."""

import numpy as np

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import DAY, dishes
from palea.documents.page import Column, Grid, Paragraph, Part, Row
from palea.record.spread import period, several, spread, symbol
from palea.record.story import anchor, applies, gap
from palea.words.numbers import short
from palea.words.prose import inside, listed, stop


def parts(story):
    """A Part for each trial, in the order of the table."""
    return [_trial(story, trial) for trial in story.rows("trials")]


def _trial(story, trial):
    key = trial["trial_id"]
    blocks = (
        Paragraph(_asked(story, trial), anchor("trials", key)),
        Paragraph(_surroundings(story, key)),
        Paragraph(_looked(story, trial)),
        _ladder(story, key),
        _contrasts(story, key),
    )
    return Part(f"Trial {key}: {trial['title'].rstrip('.')}", tuple(b for b in blocks if b), f"trial-{key}")


def _asked(story, trial):
    """The question, the design and how places were drawn."""
    key = trial["trial_id"]
    design = story.cell("trials", trial, "design", key)
    locked = (
        f" and locked on {trial['locked_at'][:10]}, before the first count"
        if _before(story, trial)
        else (f" and locked on {trial['locked_at'][:10]}" if trial["locked_at"] else "")
    )
    planned = (
        f" It was planned on {trial['planned_at'][:10]}{locked}."
        if trial["planned_at"]
        else (" It was planned ", story.cell("trials", trial, "planned_at", key), ".")
    )
    return (
        f"The question was: {stop(trial['question'])} "
        if not trial["question"].rstrip().endswith("?")
        else f"The question was: {trial['question'].strip()} ",
        "Design: ",
        design,
        ". Places were drawn by ",
        *_drawn(story, trial),
        ".",
        planned,
    )


def _drawn(story, trial):
    if trial["allocation_method"] is None:
        return (story.cell("trials", trial, "allocation_method", trial["trial_id"]),)
    version = f", version {trial['allocation_version']}" if trial["allocation_version"] else ""
    seed = f", random seed {trial['random_seed']}" if trial["random_seed"] is not None else ""
    return (f"{trial['allocation_method']}{version}{seed}",)


def _before(story, trial):
    first = min((v["visited_at"] for v in story.rows("visits", trial_id=trial["trial_id"])), default="")
    return bool(trial["locked_at"] and first and trial["locked_at"][:10] <= first[:10])


def _surroundings(story, key):
    """What units stood on, at which temperature, light and water."""
    return tuple(part for row in story.rows("environments", trial_id=key) for part in _environment(story, row))


def _environment(story, row):
    key = row["environment_id"]

    def cell(column):
        return story.cell("environments", row, column, key)

    chamber = story.machine(row["chamber"]) if row["chamber"] else cell("chamber")
    water = f" with {short(row['water_per_unit_ml'])} mL of liquid each" if row["water_per_unit_ml"] is not None else ""
    warm = _temperatures(row) or cell("day_c")
    light = f"{short(row['light_hours'])} h of light a day" if row["light_hours"] is not None else cell("light_hours")
    run = f", run {row['run_no']}" if row["run_no"] is not None else ""
    yield (
        "Seed lay on ",
        cell("substrate"),
        f"{water}, at ",
        warm,
        ", with ",
        light,
        ", in the ",
        chamber,
        f"{run} ({key}).",
    )
    yield from _potential(story, row)
    moved = row["moved_about"]
    if moved:
        yield f" Units were moved about: {inside(moved.rstrip('.'))}."
    elif applies(row, "moved_about"):
        yield (" Moving about of the units: ", cell("moved_about"), ".")
    yield " "


def _temperatures(row):
    warm, cool = row["day_c"], row["night_c"]
    if warm is None:
        return ""
    return f"{short(warm)} °C" if cool in (None, warm) else f"{short(warm)} °C by day and {short(cool)} °C by night"


def _potential(story, row):
    if row["water_potential_mpa"] is None:
        return
    how = f", {story.value('environments', row, 'potential_source')}" if row["potential_source"] else ""
    of = f" with {story.material(row['osmoticum'])}" if row["osmoticum"] else ""
    amount = f" ({short(row['osmoticum_g_per_kg'])} g/kg)" if row["osmoticum_g_per_kg"] is not None else ""
    renewed = f", renewed every {short(row['renewed_every_d'])} days" if row["renewed_every_d"] is not None else ""
    if row["water_potential_mpa"] == 0 and not of:
        yield " They were wetted with water."
    else:
        yield f" The water potential was {short(row['water_potential_mpa'])} MPa{of}{amount}{how}{renewed}."


def _looked(story, trial):
    """What counted as germinated, when and by whom units were looked at, and which were lost or left out."""
    key = trial["trial_id"]
    visits = story.rows("visits", trial_id=key)
    when = story.cell("trials", trial, "germinated_when", key)
    zero = story.cell("trials", trial, "time_zero", key)
    told = [("Counted as germinated: ", when, ". Day 0: ", zero, ". ")]
    if visits:
        told.append(_visits(story, key, visits))
    told += [_outcomes(story, key), *_how_ended(story, visits), *_left_out(story, key)]
    return tuple(told)


def _visits(story, key, visits):
    days = listed(_days(story, key)) or period([v["visited_at"] for v in visits])
    people = listed(dict.fromkeys(story.person(v["visited_by"]) for v in visits))
    blind = {v["blind"] for v in visits}
    names = [v["visit_id"] for v in visits]
    marks = [
        gap("visits", [v], "blind", f"visit {n}")
        for v, n in zip(visits, names, strict=True)
        if v["blind"] is None and applies(v, "blind")
    ]
    knew = (
        "; the counter did not know the treatment"
        if blind == {True}
        else "; the counter knew the treatment"
        if (False in blind)
        else ""
    )
    ways = listed(dict.fromkeys(story.value("visits", v, "counting") for v in visits))
    when = f"{several(len(visits), 'visit')}, {period([v['visited_at'] for v in visits])}"
    told = f"Units were looked at on days {days} ({when}) by {people}{knew}"
    return (told, *((", ", mark) for mark in marks), f". Counts are written as: {ways}. ")


def _days(story, key):
    """Days of the visits since the first wetting of the first unit, as text."""
    start = story.facts[dishes]
    start = start[start["trial"].eq(key)]["start"].min()
    visits = story.facts["visits"]
    at = earliest(visits[visits["trial_id"].eq(key)]["visited_at"])
    found = (at - np.datetime64(start)) / DAY
    return list(dict.fromkeys(f"{day:.0f}" for day in np.sort(np.floor(found[np.isfinite(found)]))))


def _outcomes(story, key):
    told = []
    for row in story.rows("trial_outcomes", trial_id=key):
        quantity = inside(schema.word("quantity", row["outcome"])["title"])
        of = f" {schema.word('denominator', row['denominator'])['of']}" if row["denominator"] else ""
        day = f" by day {short(row['at_day'])}" if row["at_day"] is not None else ""
        first = ", the primary one" if row["primary"] else ""
        words = f" ({row['criterion'].rstrip('.')})" if row["criterion"] else ""
        told.append(f"{quantity}{of}{day}{first}{words}")
    return f"Outcomes set in the plan: {'; '.join(told)}. " if told else ""


def _how_ended(story, visits):
    """How seed that was left at the end was told apart."""
    mine = {v["visit_id"] for v in visits}
    counts = story.facts["counts"]
    last = counts[counts["visit_id"].isin(mine) & counts["outcome"].isin(schema.words("outcome", seen="at the end"))]
    methods = [m for m in dict.fromkeys(last["method"].tolist()) if isinstance(m, str)]
    if methods:
        titles = listed(inside(schema.word("count_method", m)["title"]) for m in methods)
        what = listed(inside(schema.word("outcome", o)["title"]) for o in dict.fromkeys(last["outcome"].tolist()))
        yield f"Seed left at the end was told apart ({what}) by: {titles}. "


def _left_out(story, key):
    """Units that do not count, with their reason."""
    out = [u for u in story.rows("units", trial_id=key) if u["status"] in schema.words("unit_status", counts=False)]
    if not out:
        yield "No unit was lost or left out. "
        return
    for unit in out:
        why = unit["reason"].rstrip(".") if unit["reason"] else gap("units", [unit], "reason", unit["unit_id"])
        blind = {True: ", decided with its outcome known", False: ", decided before its outcome was known"}.get(
            unit["outcome_known"], ""
        )
        yield (f"{unit['unit_id']} is {story.value('units', unit, 'status')} (", why, f"{blind}). ")


def _ladder(story, key):
    """How many of what stand behind each treatment, from the batch down."""
    every = story.facts[dishes]
    mine = every[every["trial"].eq(key)]
    if mine.empty:
        return None
    by = mine.groupby(["taxon", "treatment"], sort=False, dropna=False)
    rows = by.agg(
        batches=("batch", "nunique"),
        units=("unit", "nunique"),
        low=("sown", "min"),
        high=("sown", "max"),
        seeds=("sown", "sum"),
    ).reset_index()
    earlier = [t["trial_id"] for t in story.rows("trials")]
    earlier = earlier[: earlier.index(key)] if key in earlier else []
    before = set(every.loc[every["trial"].isin(earlier), "treatment"])  # a treatment is anchored where it first stands
    arms = [t["treatment_id"] for t in story.rows("treatments")]
    told = [r for arm in arms for r in rows[rows["treatment"].eq(arm)].to_dict("records")]
    heads = (
        "Treatment",
        "Species",
        Column("Batches", "right"),
        Column("Units", "right"),
        Column("Seeds a unit", "right"),
        Column("Seeds", "right"),
    )
    return Grid(
        f"Ladder of replication in {key}: what stands behind each treatment",
        heads,
        tuple(_arm(story, row, first=row["treatment"] not in before) for row in told),
        f"ladder-{key}",
    )


def _arm(story, row, *, first):
    treatment = story.row("treatments", row["treatment"])
    label = f"{treatment['label']} ({row['treatment']})" if treatment else row["treatment"]
    numbers = [f"{row[n]:.0f}" for n in ("batches", "units")]
    return Row(
        (label, story.species_short(row["taxon"]), *numbers, spread([row["low"], row["high"]]), f"{row['seeds']:.0f}"),
        anchor("treatments", row["treatment"]) if first else "",
    )


def _contrasts(story, key):
    """What was declared in the plan: who against whom, about what, with which margin."""
    rows = story.rows("contrasts", trial_id=key)
    if not rows:
        return None
    days = {row["declared_at"][:10] for row in rows}
    on = f" on {days.pop()}" if len(days) == 1 else ""
    asks = schema.table("contrasts")["asks_about"].title
    heads = ("Contrast", "Compared", asks, "Outcome", "Kind", "Margin", *([] if on else ["Declared"]))
    return Grid(
        f"Contrasts declared for {key}{on}",
        heads,
        tuple(_contrast(story, row, dated=not on) for row in rows),
        f"contrasts-{key}",
    )


def _contrast(story, row, *, dated):
    """Treatments by id: their labels stand in the ladder."""
    unit = "points" if row["margin_unit"] == "%" else symbol(row["margin_unit"])
    margin = f"{short(row['margin'])} {unit}" if row["margin"] is not None else "none"
    primary = " (primary)" if row["primary"] else ""
    return Row(
        (
            f"{row['contrast_id']}{primary}",
            f"{row['a']} against {row['b']}",
            story.value("contrasts", row, "asks_about"),
            story.value("contrasts", row, "outcome"),
            row["kind"],
            margin,
            *([row["declared_at"][:10]] if dated else []),
        ),
        anchor("contrasts", row["contrast_id"]),
    )
