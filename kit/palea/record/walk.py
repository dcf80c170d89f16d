"""From a result, a plant, a unit or a lot back to the collected seed, and from a lot forward to all that came of it.

A walk is a list of lines, each with what was done, when, by whom and how much, and the table and row where that stands.
Every lot is told once; where it comes up again, a line refers to it.
"""

from dataclasses import asdict, dataclass, field
from difflib import get_close_matches

from palea import schema
from palea.documents.page import Code, Grid, Page, Paragraph, Picture
from palea.errors import PaleaError
from palea.record.onward import Onward
from palea.record.passage import Line, Path
from palea.record.story import Story
from palea.words.prose import counted

STARTS = ("plants", "units", "lots")  # tables in which an id is looked for; results are named analysis/number


@dataclass(frozen=True)
class Walk:
    """Lines in walking order, and the lots that they pass."""

    start: str
    forward: bool
    lines: tuple[Line, ...]
    lots: tuple[str, ...] = field(repr=False)


def back(package, asked):
    """The walk from an id back to the seed as it was collected.

    asked : `ANALYSIS/NUMBER` of a kept result, or the id of a plant, unit or lot. PaleaError names the nearest id.
    """
    path = Path(Story(package))
    table, key = find(path.story, asked)
    return Walk(asked, forward=False, lines=tuple(getattr(path, table)(key)), lots=tuple(path.passed))


def ahead(package, asked):
    """The walk from a lot to all that came of it: tests, runs, lots, trials, counts and kept results."""
    path = Onward(Story(package))
    table, key = find(path.story, asked)
    if table != "lots":
        msg = f"“{asked}” is a row of {table}. Only from a lot does a walk lead forward; leave out --forward to walk back."
        raise PaleaError(msg)
    return Walk(asked, forward=True, lines=tuple(path.onward(key)), lots=tuple(path.passed))


def find(story, asked):
    """(table, key) of what was asked for. PaleaError for an unknown id."""
    analysis, _, number = asked.rpartition("/")
    results = {(r["analysis_id"], str(r["result_no"])) for r in story.rows("results")}
    if (analysis, number) in results:
        return "results", asked
    for table in STARTS:
        if story.row(table, asked):
            return table, asked
    known = [row[schema.table(t).primary_key[0]] for t in STARTS for row in story.rows(t)] + [
        f"{a}/{n}" for a, n in results
    ]
    near = get_close_matches(asked, known, 1)
    hint = f"The nearest is “{near[0]}”." if near else "`palea status` tells what the package holds."
    msg = f"There is no result, plant, unit or lot “{asked}”. {hint}"
    raise PaleaError(msg)


def text(walk):
    """A walk as lines of text: indented a step a lot, with when, who and where it stands at the end."""
    return [
        f"{'  ' * line.depth}{' '.join(filter(None, (line.when, f'({line.who})' if line.who else '')))}"
        f"{': ' if line.when or line.who else ''}{line.what} [{stands(line)}]" for line in walk.lines
    ]  # fmt: skip


def stands(line):
    """Table and row of a line, as a spreadsheet numbers rows: "units, row 66 and 3 more"."""
    more = f" and {len(line.rows) - 1} more" if len(line.rows) > 1 else ""
    return f"{line.table}, row {line.rows[0]}{more}"


def as_json(walk):
    """A walk as plain mappings."""
    return {"id": walk.start, "forward": walk.forward, "lots": list(walk.lots), "lines": [asdict(x) for x in walk.lines]}


def assemble(package, walk):
    """A walk as a Page: the lineage picture of its lot, where it passes one, and its lines as a table."""
    from palea.figures import to_svg
    from palea.record import lineage

    heads = ("Step", "When", "Who", "Where it stands")
    rows = tuple((("\u2003" * x.depth, x.what), x.when, x.who, Code(stands(x))) for x in walk.lines)
    pictures = []
    if walk.lots:
        chart = lineage.chart(package, lot=walk.lots[0])
        caption = f"What {walk.lots[0]} came from, and what came of it."
        pictures = [Picture(to_svg(chart), str(chart.description), caption)]
    way = "forward to all that came of it" if walk.forward else "back to the seed as it was received"
    told = f"{counted(len(walk.lines), 'step')}, past {counted(len(walk.lots), 'lot')}."
    grid = Grid("", heads, rows)
    return Page(f"From {walk.start} {way}", (Paragraph(told), *pictures, grid), package.title, contents=False)
