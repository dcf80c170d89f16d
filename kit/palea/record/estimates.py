"""Numbers that the results do not tell: how each was computed, groups by treatment, and comparisons that were not declared."""

from collections import defaultdict

from palea.documents.page import Code, Column, Grid, Paragraph, Part, Row
from palea.record import declared, kept, results, trials
from palea.record.story import anchor
from palea.words.prose import counted, inside, stop

VALUE = "value"  # scale of a number that compares nothing
MOST = 48  # comparisons of one analysis that are printed


def part(story):
    """The Part on analyses and their numbers, or None where none is kept."""
    rows = story.rows("analyses")
    if not rows:
        return None
    groups = [grid for trial in story.rows("trials") if (grid := _groups(story, trial["trial_id"]))]
    return Part("Analyses and their numbers", (_methods(rows), *groups, *_others(story)), "numbers")


def _methods(rows):
    """One row an analysis: question, recipe and version, unit of replication, options, source."""
    heads = ("Analysis", "Question", "Recipe, version; options", "Unit of replication", "Source")
    return Grid(
        "Analyses: what was computed, and after which source", heads, tuple(map(_method, rows)), "table-analyses"
    )


def _method(row):
    recipe = kept.recipe(row)
    defaults = {name: option.default for name, option in recipe.options.items()} if recipe else {}
    chosen = {k: v for k, v in sorted(kept.options(row).items()) if v not in {"", None} and defaults.get(k) != v}
    options = "; ".join(f"{name} = {value}" for name, value in chosen.items())
    name = f"{row['recipe']}, {row['version']}{f'; {options}' if options else ''}"
    unknown = "this palea does not have the recipe"
    return Row(
        (
            row["analysis_id"],
            recipe.title if recipe else unknown,
            Code(name),
            recipe.rung if recipe else "",
            recipe.source if recipe else "",
        ),
        anchor("analyses", row["analysis_id"]),
    )


def _groups(story, key):
    """A Grid of a trial's groups on the outcomes that its plan names; None where there is none."""
    plan = [(o["outcome"], o["denominator"]) for o in story.rows("trial_outcomes", trial_id=key)]
    mine = {row["analysis_id"] for row in story.rows("analyses", trial_id=key)}
    found = [
        r
        for r in story.rows("results")
        if r["analysis_id"] in mine
        and not r["treatment_b"]
        and r["treatment_a"]
        and r["scale"] == VALUE
        and (r["quantity"], r["denominator"]) in plan
    ]
    if not found:
        return None
    columns = list(dict.fromkeys((r["quantity"], r["denominator"], r["environment_id"]) for r in found))
    settings = {environment for *_, environment in columns}
    by_treatment = defaultdict(dict)
    for r in found:
        by_treatment[r["treatment_a"]].setdefault((r["quantity"], r["denominator"], r["environment_id"]), r)
    unit = trials.unit(story, key)
    heads = (
        "Treatment",
        "Resting on",
        *(
            Column(
                _head(
                    next(r for r in found if (r["quantity"], r["denominator"], r["environment_id"]) == c),
                    several=len(settings) > 1,
                ),
                "right",
            )
            for c in columns
        ),
    )
    rows = tuple(
        Row(
            (
                name,
                declared.behind(next(iter(cells.values())), unit),
                *(declared.with_interval(cells[c]) if c in cells else "" for c in columns),
            )
        )
        for name, cells in by_treatment.items()
    )
    return Grid(f"Groups of {key}: planned outcomes with 95 % intervals", heads, rows, f"table-groups-{key}")


def _head(row, *, several):
    return ", ".join(filter(None, (declared.quantity(row), row["environment_id"] if several else None)))


def _others(story):
    """Comparisons that answer no declared contrast, analysis by analysis; long ones are only counted."""
    told, found = results.contrast_rows(story), defaultdict(list)
    for r in story.rows("results"):
        if r["treatment_b"] and (r["analysis_id"], r["result_no"]) not in told and r["estimate"] is not None:
            found[r["analysis_id"]].append(r)
    shown = {key: rows for key, rows in found.items() if len(rows) <= MOST}
    trial = {row["analysis_id"]: row["trial_id"] for row in story.rows("analyses")}
    rows = tuple(_other(story, r, trials.unit(story, trial[key])) for key, some in shown.items() for r in some)
    heads = ("Analysis", "Compared", "Quantity", Column("Effect (interval)", "right"), "Resting on", "Verdict")
    if rows:
        yield Grid(
            "Comparisons beside the declared contrasts: intervals, and no verdict unless it was declared",
            heads,
            rows,
            "table-others",
        )
    total = len(story.rows("results"))
    long = "; ".join(f"{key} ({counted(len(some), 'comparison')})" for key, some in found.items() if len(some) > MOST)
    more = f" Not printed because they are many: {stop(long)}" if long else ""
    yield Paragraph(
        (f"All {total} numbers stand in ", Code("data/results.csv"), f" under the name of their analysis.{more}"),
        small=True,
    )


def _other(story, r, unit):
    where = f", {r['environment_id']}" if r["environment_id"] else ""
    return Row(
        (
            r["analysis_id"],
            f"{r['treatment_a']} against {r['treatment_b']}",
            f"{inside(declared.quantity(r))}{where}",
            declared.with_interval(r) + (f" {r['scale']}" if r["scale"] in declared.TIMES[1:] else ""),
            declared.behind(r, unit),
            inside(story.value("results", r, "verdict")),
        )
    )
