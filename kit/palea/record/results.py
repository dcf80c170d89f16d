"""What was found, as it is kept in the package: sentences, the figure, the numbers, and how they were computed."""

import json

from palea import schema
from palea.documents import drawing
from palea.documents.page import Code, Column, Grid, Listing, Note, Paragraph, Part, Picture, Row
from palea.errors import PaleaError
from palea.record.story import anchor
from palea.words.numbers import interval, p_value, places, plain, signed
from palea.words.prose import capital, inside, stop

MARGIN = "the margin"  # how verdicts that hold within a margin name it
SCALES = {"difference": "Difference", "ratio": "Ratio"}
PRIMARY = "Primary contrast."  # how words.effects begins the sentence of a primary contrast
COURSE = ".curve"  # end of the ids of recipes whose figure, the course over time, belongs into every record
FEW = 6  # sentences on single groups, on undeclared comparisons and of caution that are printed
LARGEST = 4 * 1024**2  # bytes of a kept file that is shown


def part(story, *, figures=True):
    """The Part with every kept analysis, or None where none is kept."""
    kept = story.rows("analyses")
    if not kept:
        return None
    return Part("Results", tuple(_analysis(story, row, figures=figures) for row in kept), "results")


def sentences(story, analysis_id):
    """(sentences, warnings) of a kept analysis, as they were written; nothing where the file is not there."""
    text = _kept(story, analysis_id, "sentences.md")
    lines = [line.strip() for line in text.split("\n\n") if line.strip()]
    mark = "Bear in mind: "
    return [x for x in lines if not x.startswith(mark)], [x.removeprefix(mark) for x in lines if x.startswith(mark)]


def _kept(story, analysis_id, name):
    """A file that was kept with an analysis, as text; "" where it is not there or cannot be shown."""
    try:
        path = story.package.file(f"analyses/{analysis_id}/{name}")
        return path.read_text(encoding="utf-8") if path.is_file() and path.stat().st_size <= LARGEST else ""
    except (PaleaError, OSError, UnicodeDecodeError):
        return ""


def _analysis(story, row, *, figures):
    key = row["analysis_id"]
    told, doubts = sentences(story, key)
    recipe = _recipe(row)
    blocks = list(_said(story, row, told))
    if doubts:
        told_doubts = [Paragraph(stop(doubt)) for doubt in doubts[:FEW]]
        more = [Paragraph(_more(len(doubts) - FEW, key), small=True)] if len(doubts) > FEW else []
        blocks.append(Note("caution", [*told_doubts, *more], "bear in mind"))
    blocks += [
        *_figure(story, key, told, figures=figures),
        *_tables(story, row),
        Paragraph(_how(row, recipe), small=True),
    ]
    return Part(recipe.title if recipe else f"Analysis {key}", tuple(blocks), anchor("analyses", key))


def _said(story, row, told):
    """Sentences on contrasts, by species; those on single groups only where there are few, for the table tells them."""
    contrasts = [sentence for sentence in told if len(_named(story, sentence)) > 1]
    groups = [sentence for sentence in told if sentence not in contrasts]
    declared = any(r["contrast_id"] for r in story.rows("results", analysis_id=row["analysis_id"]))
    shown = contrasts if declared else contrasts[:FEW]
    if shown:
        yield Listing(tuple(shown), small=True)
    if len(shown) < len(contrasts):
        yield Paragraph(_more(len(contrasts) - len(shown), row["analysis_id"]), small=True)
    if len(groups) <= FEW:
        yield from map(Paragraph, groups)
    else:
        path = f"analyses/{row['analysis_id']}/sentences.md"
        yield Paragraph((f"What was found for each of {len(groups)} groups is said in ", Code(path), "."))


def _more(many, analysis_id):
    """Where the sentences stand that are not printed."""
    return (f"{many} more stand in ", Code(f"analyses/{analysis_id}/sentences.md"), ".")


def _named(story, sentence):
    """Treatments that a sentence names by their id."""
    return [t["treatment_id"] for t in story.rows("treatments") if f"({t['treatment_id']})" in sentence]


def answers(story):
    """Sentences of the kept analyses that answer the primary contrasts, in the order of the contrasts."""
    primary = [c for c in story.rows("contrasts") if c["primary"]]
    told = [
        s for row in story.rows("analyses") for s in sentences(story, row["analysis_id"])[0] if s.startswith(PRIMARY)
    ]
    return [s.removeprefix(PRIMARY).strip() for c in primary for s in told if {c["a"], c["b"]} <= set(_named(story, s))]


def _recipe(row):
    """The recipe that gave an answer, or None where this palea does not have it."""
    from palea.analyses import catalogue

    try:
        return catalogue.find(f"{row['recipe']}/{row['version']}")
    except PaleaError:
        return None


def _figure(story, key, told, *, figures):
    """The kept figure; only named where it answers no contrast; a note where it cannot be shown."""
    svg = _kept(story, key, "figure.svg") if figures else ""
    if not svg:
        return
    if not (key.endswith(COURSE) or _answers_contrast(story, key)):
        yield Paragraph(("Its figure is ", Code(f"analyses/{key}/figure.svg"), "."))
        return
    alternative = _described(_kept(story, key, "figure.json")) or " ".join(told) or f"Figure of analysis {key}."
    try:
        drawing.inline(svg, "trial", alternative)
    except PaleaError as fault:
        yield Note("caution", (Paragraph(str(fault)),), f"the figure of {key} is not shown")
        return
    yield Picture(
        svg, alternative, (f"Figure. {key}; the file is ", Code(f"analyses/{key}/figure.svg"), "."), f"figure-{key}"
    )


def _answers_contrast(story, key):
    return any(r["treatment_b"] for r in story.rows("results", analysis_id=key))


def _described(chart):
    """The text alternative that a chart carries; "" where it carries none."""
    try:
        told = json.loads(chart).get("description", "") if chart else ""
    except (ValueError, AttributeError):
        return ""
    return told if isinstance(told, str) else ""


def _tables(story, row):
    """Declared contrasts, then groups on the outcomes that the plan names."""
    mine = story.rows("results", analysis_id=row["analysis_id"])
    effects = [r for r in mine if r["treatment_b"] and (r["verdict"] or r["contrast_id"])]
    for number, quantity in enumerate(dict.fromkeys(map(_quantity, effects)), 1):
        yield _effects(story, row, quantity, [e for e in effects if _quantity(e) == quantity], number)
    groups = [r for r in mine if not r["treatment_b"] and r["treatment_a"]]
    planned = _planned(story, row, groups) if effects else []
    if planned:
        yield _groups(row, planned)
    if len(planned) < len(groups):
        yield Paragraph(
            (
                f"All {len(mine)} numbers of this analysis stand in ",
                Code("data/results.csv"),
                f" under {row['analysis_id']}.",
            ),
            small=True,
        )


def _planned(story, row, groups):
    """Groups of quantities that the trial's plan names, on the denominator that it names."""
    plan = {(o["outcome"], o["denominator"]) for o in story.rows("trial_outcomes", trial_id=row["trial_id"])}
    return [g for g in groups if (g["quantity"], g["denominator"]) in plan]


def _effects(story, row, quantity, effects, number):
    """A Grid of contrasts on one quantity."""
    heads = (
        "Contrast",
        "Compared",
        Column(SCALES.get(effects[0]["scale"], "Effect"), "right"),
        Column(f"{100 * (effects[0]['confidence'] or 0.95):g} % interval", "right"),
        Column("p", "right"),
        Column("Batches, units", "right"),
        "Verdict",
    )
    caption = f"Contrasts on {inside(quantity)} ({row['analysis_id']})"
    name = f"table-effects-{row['analysis_id']}-{number}"
    return Grid(caption, heads, tuple(_effect(story, e) for e in effects), name)


def _effect(story, e):
    p = p_value(e["p_value"]).removeprefix("p ").removeprefix("= ") if e["p_value"] is not None else ""
    return Row(
        (
            e["contrast_id"] or _contrast_id(story, e),
            f"{e['treatment_a']} against {e['treatment_b']}",
            *_numbers(e),
            p,
            _behind(e),
            _verdict(story, e),
        )
    )


def _contrast_id(story, e):
    """The declared contrast of these two on this quantity; "" where there is none."""
    found = story.rows("contrasts", a=e["treatment_a"], b=e["treatment_b"], outcome=e["quantity"])
    return found[0]["contrast_id"] if found else ""


def _verdict(story, e):
    """The verdict, with the margin that it was held against in its words; else why there is none."""
    word = inside(story.value("results", e, "verdict"))
    if word and e["margin"] is not None:
        margin = f"{e['margin']:g}{' points' if e['unit'] == '%' else ''}"
        return word.replace(MARGIN, margin) if MARGIN in word else f"{word} (margin {margin})"
    return word or e["reason"] or ""


def _groups(row, groups):
    """One row a treatment, one column a quantity: estimate with interval, and what stands behind it."""
    quantities = list(dict.fromkeys((_quantity(g), g["environment_id"]) for g in groups))
    several = len({environment for _, environment in quantities}) > 1
    by_treatment = {}
    for g in groups:
        by_treatment.setdefault(g["treatment_a"], {})[_quantity(g), g["environment_id"]] = g
    heads = (
        "Treatment",
        Column("Batches, units", "right"),
        Column("Seeds", "right"),
        *(
            Column(f"{quantity}{f', {environment}' if several else ''}", "right")
            for quantity, environment in quantities
        ),
    )
    rows = tuple(
        Row(
            (
                key,
                _behind(first := next(iter(found.values()))),
                _number(first["n_seeds"]),
                *(_estimate(found.get(q)) for q in quantities),
            )
        )
        for key, found in by_treatment.items()
    )
    return Grid(
        f"Groups: {row['analysis_id']}, estimate and 95 % interval", heads, rows, f"table-groups-{row['analysis_id']}"
    )


def _estimate(r):
    if r is None:
        return ""
    value, span = _numbers(r)
    return f"{value} ({span})" if span else value


def _quantity(r):
    of = f" {schema.word('denominator', r['denominator'])['of']}" if r["denominator"] else ""
    return f"{capital(schema.word('quantity', r['quantity'])['title'])}{of}"


def _numbers(r):
    """Estimate with its unit, and interval."""
    if r["estimate"] is None:
        return "", ""
    low, high = (r[side] if r[side] is not None else float("nan") for side in ("lower", "upper"))
    share = r["unit"] == "%"
    many = places(r["estimate"], low, high, share=share)
    difference = r["scale"] == "difference"
    text = (signed if difference else plain)(r["estimate"], many)
    unit = (" points" if difference else " %") if share else f" {r['unit']}" if r["unit"] not in {None, "1"} else ""
    shown = interval(low, high, many, sign=difference) if low == low else ""
    return f"{text}{unit if r['scale'] in ('value', 'difference') else ' ×'}", shown


def _behind(r):
    return ", ".join(_number(r[n]) for n in ("n_batches", "n_units"))


def _number(x):
    return f"{x:.0f}" if x is not None else ""


def _how(row, recipe):
    """How it was computed: recipe and version, unit of replication, options, source, and when."""
    options = ", ".join(f"{name} = {value}" for name, value in sorted(_options(row).items()) if value not in {"", None})
    when = f" Computed {row['ran_at'][:10]} with palea {row['code_version']}." if row["ran_at"] else ""
    told = f"How it was computed: recipe {row['recipe']}, version {row['version']}"
    if recipe is None:
        return (f"{told}, which this palea does not have; options: {options or 'none'}.{when}",)
    unit = f"the unit of replication is the {recipe.rung}; options: {options or 'none'}."
    return (f"{told}; {unit} Source: {stop(recipe.source)}{when}",)


def _options(row):
    try:
        told = json.loads(row["options"] or "{}")
    except ValueError:
        return {}
    return {k: v for k, v in told.items() if isinstance(v, str | int | float)} if isinstance(told, dict) else {}


def sources(story):
    """Texts that name published sources: those of the recipes that gave the kept results."""
    return [recipe.source for row in story.rows("analyses") if (recipe := _recipe(row))]
