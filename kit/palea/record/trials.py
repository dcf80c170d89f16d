"""A trial as the methods tell it: the question, the design, what stood behind each treatment, who looked when."""

from collections import Counter

from palea import schema
from palea.derived.counting import dishes
from palea.documents.page import Column, Grid, Paragraph, Part, Row, reference
from palea.record import field, germination, handling, visits
from palea.record.lots import few_told
from palea.record.spread import several, spread
from palea.record.story import anchor
from palea.words.numbers import short
from palea.words.prose import capital, counted, inside, listed, stop

TABLE, LADDER = "table-trials", "table-ladder"


def part(story):
    """The Part on all trials: a table of them, then each in its own words; None where there is none."""
    rows = story.rows("trials")
    if not rows:
        return None
    lead = Paragraph(
        (
            "The trials are listed in ",
            reference(TABLE),
            "; what stood behind each treatment in ",
            reference(LADDER),
            "; the contrasts that were declared stand with their answers in the results.",
        )
    )
    return Part("Trials", (lead, _table(story, rows), *(_trial(story, row) for row in rows)), "trials")


def _table(story, rows):
    heads = ("Trial", "Question", "Design", "Units", Column("Seeds", "right"), "Unit of treatment")
    return Grid("Trials", heads, tuple(_line(story, row) for row in rows), TABLE)


def _line(story, trial):
    key = trial["trial_id"]
    mine = _sown(story, key)
    units = listed(counted(n, kind, visits.units_of(kind)) for kind, n in _kinds(story, key).items())
    runs = len(story.rows("handling_runs", trial_id=key))
    rungs = dict.fromkeys(
        story.value("trial_factors", row, "applied_to") for row in story.rows("trial_factors", trial_id=key)
    )
    return Row(
        (
            f"{key}. {trial['title'].rstrip('.')}",
            stop(trial["question"]),
            story.cell("trials", trial, "design", key),
            units or (counted(runs, "run") if runs else ""),
            f"{mine['sown'].sum():.0f}" if len(mine) else "",
            listed(rungs),
        ),
        f"row-{anchor('trials', key)}",
    )


def _sown(story, key):
    every = story.facts[dishes]
    return every[every["trial"].eq(key)]


def _kinds(story, key):
    """{kind of unit: how many were laid out} of the units that are looked at."""
    if ("kinds", key) not in story.memory:
        story.memory["kinds", key] = Counter(u["kind"] for u in story.rows("units", trial_id=key) if u["treatment_id"])
    return story.memory["kinds", key]


def _trial(story, trial):
    key = trial["trial_id"]
    blocks = (
        Paragraph(_designed(story, trial), anchor("trials", key)),
        *germination.surroundings(story, key),
        *field.paragraphs(story, key),
        *handling.paragraphs(story, key),
        visits.paragraph(story, trial),
    )
    return Part(f"{key}. {trial['title'].rstrip('.')}", tuple(b for b in blocks if b), f"trial-{key}")


def _designed(story, trial):
    """Design, how places were drawn, when it was planned, and on which rung each treatment was applied."""
    key = trial["trial_id"]
    planned = (
        (f"planned on {trial['planned_at'][:10]}",)
        if trial["planned_at"]
        else ("planned ", story.cell("trials", trial, "planned_at", key))
    )
    locked = f" and locked on {trial['locked_at'][:10]}" if trial["locked_at"] else ""
    before = ", before the first count" if locked and visits.locked_before(story, trial) else ""
    yield from ("The trial was ", *planned, f"{locked}{before}. ")
    design = story.value("trials", trial, "design")  # where it is not known, the table of trials has the gap
    yield f"Design: {design}; " if design else ""
    yield from (*_drawn(story, trial), ". ", *_rungs(story, key), *_replication(story, key))


def _drawn(story, trial):
    if trial["allocation_method"] is None:
        return ("How places were drawn: ", story.cell("trials", trial, "allocation_method", trial["trial_id"]))
    version = f", version {trial['allocation_version']}" if trial["allocation_version"] else ""
    seed = f", random seed {trial['random_seed']}" if trial["random_seed"] is not None else ""
    method = visits.said_before(story, "allocation", f"{trial['allocation_method']}{version}", trial["trial_id"])
    return (f"places {method}{seed}" if method.startswith("as in") else f"{method}{seed}",)


def _rungs(story, key):
    """On which rung each factor was applied, and so has to be judged."""
    by_rung = {}
    for row in story.rows("trial_factors", trial_id=key):
        by_rung.setdefault(story.value("trial_factors", row, "applied_to"), []).append(_factor(row["factor"]))
    told = (
        f"{listed(names)} {'was' if len(names) == 1 else 'were'} applied to the {rung}"
        for rung, names in by_rung.items()
    )
    yield f"{capital('; '.join(told))}. " if by_rung else ""


def unit(story, key):
    """What a unit of a trial is called; that of no trial is a unit."""
    return inside(schema.word("unit_kind", kind)["title"]) if (kind := next(iter(_kinds(story, key)), "")) else "unit"


def _factor(name):
    words = schema.vocabulary("asks_about").words
    return inside(words[name]["title"]) if name in words else name.replace("_", " ")


def _replication(story, key):
    """How many units and seeds stood behind a treatment, told once with those that differ."""
    rows = ladder(story, key)
    if not rows:
        return
    units, batches = (spread([row[name] for row in rows]) for name in ("units", "batches"))
    seeds = spread([row[name] for row in rows for name in ("fewest", "most")])
    kind = next(iter(_kinds(story, key)), "unit")
    most = {}
    for row in rows:
        most[row["treatment"]] = max(row["batches"], most.get(row["treatment"], 0))
    few = [treatment for treatment, many in most.items() if many == 1]
    several_batches = f", of {batches} batches" if max(row["batches"] for row in rows) > 1 else ", all of one batch"
    but = f" ({few_told(few)}: one batch)" if few and len(few) < len(most) else ""
    n, together = len({row["treatment"] for row in rows}), sum(row["seeds"] for row in rows)
    yield (
        f"{capital(several(n, 'treatment'))} had {units} {visits.units_of(kind)} of {seeds} seeds each{several_batches}{but};"
        f" {together:.0f} seeds were sown in all."
    )


def ladder(story, key):
    """Rows of treatment and species: batches, units, seeds a unit, seeds; in the order of the treatments."""
    mine = _sown(story, key)
    by = mine.groupby(["taxon", "treatment"], sort=False, dropna=False)
    told = by.agg(
        batches=("batch", "nunique"),
        units=("unit", "nunique"),
        fewest=("sown", "min"),
        most=("sown", "max"),
        seeds=("sown", "sum"),
    )
    order = {row["treatment_id"]: i for i, row in enumerate(story.rows("treatments"))}
    rows = told.reset_index().to_dict("records") if len(mine) else []
    return sorted(rows, key=lambda row: order.get(row["treatment"], len(order)))


def ladders(story):
    """The Grid of what stands behind each treatment in each trial, treatments that stand alike in one row; or None."""
    rows = [
        _arm(trial["trial_id"], *alike) for trial in story.rows("trials") for alike in _alike(story, trial["trial_id"])
    ]
    heads = (
        "Trial",
        "Treatments",
        Column("Batches", "right"),
        Column("Units", "right"),
        Column("Seeds a unit", "right"),
        Column("Seeds each", "right"),
    )
    caption = "Ladder of replication: what stands behind each treatment in each trial"
    return Grid(caption, heads, tuple(rows), LADDER) if rows else None


def _alike(story, key):
    """(numbers, treatments) of those that have the same of everything."""
    groups = {}
    for row in ladder(story, key):
        each = spread([row["fewest"], row["most"]])
        groups.setdefault((row["batches"], row["units"], each, row["seeds"]), []).append(row["treatment"])
    return groups.items()


def _arm(key, numbers, treatments):
    batches, units, each, seeds = numbers
    told = listed(dict.fromkeys(treatments))
    return Row((key, told, f"{batches:.0f}", f"{units:.0f}", each, short(float(seeds))))
