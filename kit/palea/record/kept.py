"""What an analysis left in the package beside its rows: sentences, cautions, the figure, and the recipe behind it."""

import json

from palea.documents import drawing
from palea.documents.page import Code, Note, Paragraph, Picture
from palea.errors import PaleaError
from palea.words.prose import counted, stop

LARGEST = 4 * 1024**2  # bytes of a kept file that is shown
CAUTION = "Bear in mind: "
OF_INTERVALS = "Intervals of "  # how cautions begin that say of which estimates the interval may be too narrow
SAME = 40  # letters with which cautions begin that say the same of other units
COURSE = ".curve"  # end of the ids of recipes whose figure, the course over time, belongs into every record
TEXT_WIDTH_MM, TEXT_HEIGHT_MM, PX_MM = 170, 200, 25.4 / 96
SMALLEST = 0.66  # of its own size to which a figure may be drawn smaller, or its type cannot be read on paper


def sentences(story, analysis_id):
    """(sentences, cautions) of a kept analysis, as they were written; nothing where the file is not there."""
    text = _file(story, analysis_id, "sentences.md")
    lines = [line.strip() for line in text.split("\n\n") if line.strip()]
    return [x for x in lines if not x.startswith(CAUTION)], [
        x.removeprefix(CAUTION) for x in lines if x.startswith(CAUTION)
    ]


def _file(story, analysis_id, name):
    """A file that was kept with an analysis, as text; "" where it is not there or cannot be shown."""
    key = ("kept file", analysis_id, name)
    if key not in story.memory:
        try:
            path = story.package.file(f"analyses/{analysis_id}/{name}")
            fits = path.is_file() and path.stat().st_size <= LARGEST
            story.memory[key] = path.read_text(encoding="utf-8") if fits else ""
        except (PaleaError, OSError, UnicodeDecodeError):
            story.memory[key] = ""
    return story.memory[key]


def named(story, sentence):
    """Treatments that a sentence names by their id."""
    return [t["treatment_id"] for t in story.rows("treatments") if f"({t['treatment_id']})" in sentence]


def recipe(row):
    """The recipe that gave an answer, or None where this palea does not have it."""
    from palea.analyses import catalogue

    try:
        return catalogue.find(f"{row['recipe']}/{row['version']}")
    except PaleaError:
        return None


def doubts(story, analyses, most, beginning=""):
    """A Note with the cautions of several analyses, each once, where there are any; on intervals first, for they bear on
    verdicts.

    beginning : only those that begin so.
    """
    every = [stop(d) for a in analyses for d in sentences(story, a["analysis_id"])[1] if d.startswith(beginning)]
    every.sort(key=lambda told: not told.startswith(OF_INTERVALS))
    told = list({doubt[:SAME]: doubt for doubt in reversed(every)}.values())[::-1]
    if told:
        more = [Paragraph(f"{counted(len(told) - most, 'more caution')} in the files of the analyses.", small=True)]
        yield Note("caution", (*map(Paragraph, told[:most]), *(more if len(told) > most else ())), "bear in mind")


def pictures(story, analyses):
    """The kept figures on the course of things that can be read when they are printed, or a Note why one is not shown."""
    for row in analyses:
        key = row["analysis_id"]
        svg = _file(story, key, "figure.svg") if row["recipe"].endswith(COURSE) else ""
        if not svg:
            continue
        alternative = _described(_file(story, key, "figure.json")) or f"Figure of analysis {key}."
        try:
            shown = drawing.inline(svg, "trial", alternative)
        except PaleaError as fault:
            yield Note("caution", (Paragraph(str(fault)),), f"the figure of {key} is not shown")
            continue
        file = Code(f"analyses/{key}/figure.svg")
        if readable(*drawing.size(shown)):
            yield Picture(svg, alternative, (f"{key}, as it was kept in ", file, "."), f"figure-{key}")


def readable(width, height):
    """Whether a figure of so many pixels has type that can be read on a page."""
    scale = min(TEXT_WIDTH_MM / (width * PX_MM), TEXT_HEIGHT_MM / (height * PX_MM)) if width and height else 0
    return scale >= SMALLEST


def _described(chart):
    """The text alternative that a chart carries; "" where it carries none."""
    try:
        told = json.loads(chart).get("description", "") if chart else ""
    except (ValueError, AttributeError):
        return ""
    return told if isinstance(told, str) else ""


def options(row):
    """The options with which an analysis was run, those of plain values."""
    try:
        told = json.loads(row["options"] or "{}")
    except ValueError:
        return {}
    return {k: v for k, v in told.items() if isinstance(v, str | int | float)} if isinstance(told, dict) else {}


def sources(story):
    """Texts that name published sources: those of the recipes that gave the kept results."""
    return [found.source for row in story.rows("analyses") if (found := recipe(row))]
