"""Where the sentences come from: every run with its lots, and every open cell with its file, line and column."""

from collections import defaultdict

from palea import schema
from palea.documents import page
from palea.documents.page import Code, Column, Grid, Part, Row
from palea.record.batches import is_product
from palea.record.lots import ids_told
from palea.record.spread import centre
from palea.record.story import anchor, gaps, open_cells
from palea.words.numbers import short
from palea.words.prose import capital, inside


def runs(story):
    """The Part that lists all runs, one row each, or None where there is none."""
    rows = story.rows("runs")
    if not rows:
        return None
    moved = defaultdict(list)
    for movement in story.rows("movements"):
        moved[movement["run_id"]].append(movement)
    heads = (
        "Run",
        "Started",
        "By",
        "From lots",
        "Into lot",
        Column("Seed in, g", "right"),
        Column("Water, %", "right"),
        Column("Product, g", "right"),
        Column("Water, %", "right"),
    )
    told = tuple(_run(story, row, moved[row["run_id"]]) for row in rows)
    grid = Grid("Runs with their main product (tables runs and movements)", heads, told, "table-runs")
    return Part("Runs", (grid,), "runs")


def _run(story, run, moved):
    seed = [m for m in moved if m["kind"] == "drawn for run"]
    made = [m for m in moved if m["kind"] == "made" and is_product(story, m)]
    state = (
        ""
        if run["status"] in schema.words("run_status", gives_seed=True)
        else f" ({story.value('runs', run, 'status')})"
    )
    return Row(
        (
            f"{run['run_id']}{state}",
            run["started_at"][:10],
            story.person(run["done_by"]),
            _lots(seed),
            _lots(made),
            *(_cell(side, column, run["run_id"]) for side in (seed, made) for column in ("mass_g", "moisture_pct")),
        ),
        anchor("runs", run["run_id"]),
    )


def _lots(movements):
    return ids_told(list(dict.fromkeys(m["lot_id"] for m in movements)))


def _cell(movements, column, run):
    """A number of one or several movements, and a gap for each that is blank; "" where there is no movement."""
    shown = dict.fromkeys(short(m[column]) for m in movements if m[column] is not None)
    return (" + ".join(shown), *gaps("movements", movements, column, [run] * len(movements), run))


def open_list(pages):
    """The Part that says where each gap of a page is to be filled in, or None where it has none."""
    named = dict.fromkeys(gap.anchor for gap in page.gaps(pages))
    cells = [(name, found) for name in named if (found := open_cells(name))]
    if not cells:
        return None
    heads = ("Table and file", Column("Line", "right"), "Column", "What it is")
    told = tuple(_open(name, *found) for name, found in cells)
    grid = Grid("Cells that are blank and that a reader needs", heads, told, "table-open-cells")
    return Part("Open cells", (grid,), "open-cells")


def _open(name, table, lines, column):
    field = schema.table(table)[column]
    shown = centre(lines, 0) if len(lines) == 1 else f"{min(lines)} to {max(lines)}"
    return Row((Code(f"data/{table}.csv"), shown, Code(column), capital(inside(field.title))), name)
