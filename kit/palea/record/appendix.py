"""The appendix: compact tables behind the sentences, each row with the anchor by which a sentence leads to it."""

from palea import schema
from palea.documents.page import Column, Grid, Part, Row
from palea.record import (
    cleaning,
    coating,
    estimates,
    germination,
    lots,
    materials,
    missing,
    pictures,
    precautions,
    rows,
    software,
    trials,
)
from palea.record.lots import ids_told
from palea.record.spread import period, spread
from palea.record.story import anchor
from palea.words.prose import inside, listed

LETTER = "A"


def part(story):
    """The Part with all tables, or None for a package without any row to show."""
    inner = (
        _tables("Seed and materials", [*lots.tables(story), *materials.tables(story), precautions.table(story)]),
        _tables("Cleaning", cleaning.tables(story)),
        _tables("Coats and soaks", coating.tables(story)),
        _tables(
            "Treatments and trials",
            [
                _treatments(story),
                trials.ladders(story),
                germination.table(story),
                _sites(story),
                _visits(story),
                _handling(story),
            ],
        ),
        rows.runs(story),
        estimates.part(story),
        _tables("Reporting", [missing.table(story), software.table(story)]),
        pictures.part(story),
    )
    there = tuple(part for part in inner if part)
    return Part("Appendix", there, "appendix", LETTER) if there else None


def _tables(heading, grids):
    there = tuple(grid for grid in grids if grid)
    return Part(heading, there) if there else None


def _treatments(story):
    """What was meant: one row a treatment."""
    told = tuple(_treatment(story, row) for row in story.rows("treatments"))
    heads = ("Treatment", "Label", "Role", "Hull; cleaned by", "Coat, % planned", "Active; route")
    return Grid("Treatments as they were meant", heads, told, "table-treatments") if told else None


def _treatment(story, row):
    key = row["treatment_id"]
    actives = [story.brief(a["material_id"]) for a in story.rows("treatment_actives", treatment_id=key)]
    build_up = f", {row['intended_build_up_pct']:g}" if row["intended_build_up_pct"] is not None else ""

    def cell(column):
        return story.value("treatments", row, column)

    return Row(
        (
            key,
            row["label"],
            cell("role"),
            "; ".join(filter(None, (cell("hull"), cell("clean_method")))),
            f"{cell('coat_class')}{build_up}",
            "; ".join(filter(None, (listed(actives), cell("route")))),
        ),
        anchor("treatments", key),
    )


def _sites(story):
    told = tuple(
        Row(
            (row["site_id"], story.value("sites", row, "place_sensitivity"), row["soil"] or "", row["habitat"] or ""),
            anchor("sites", row["site_id"]),
        )
        for row in story.rows("sites")
    )
    return Grid("Sites", ("Site", "Sensitivity of its place", "Soil", "Habitat"), told, "table-sites") if told else None


def _visits(story):
    told = tuple(_visit(story, row) for row in story.rows("visits"))
    heads = ("Visit", "On", "By", "Blind", schema.table("visits")["looked_for"].title, "Written as", "Typed")
    return Grid("Visits (table visits)", heads, told, "table-visits") if told else None


def _visit(story, row):
    return Row(
        (
            row["visit_id"],
            row["visited_at"][:10],
            story.person(row["visited_by"]),
            story.value("visits", row, "blind"),
            row["looked_for"] or "",
            story.value("visits", row, "counting"),
            (row["typed_at"] or "")[:10],
        ),
        anchor("visits", row["visit_id"]),
    )


def _handling(story):
    """Handling runs, those of one lot by one method in a row; the anchor is that of the first."""
    groups = {}
    for row in story.rows("handling_runs"):
        groups.setdefault((row["method"], row["lot_id"]), []).append(row)
    told = tuple(_handled(story, lot, rows) for (_, lot), rows in groups.items())
    heads = (
        "Runs",
        "Method",
        "Lot",
        Column("n", "right"),
        "On",
        Column("Delivered, g", "right"),
        Column("Units", "right"),
        Column("Stops", "right"),
        Column("Angle, °", "right"),
        Column("Volume, mL", "right"),
    )
    return (
        Grid("Handling runs (table handling_runs), lowest to highest of each lot", heads, told, "table-handling")
        if told
        else None
    )


def _handled(story, lot, rows):
    numbers = (
        spread([row[c] for row in rows])
        for c in ("delivered_g", "delivered_seed_units", "stops", "angle_deg", "volume_ml")
    )
    names = [row["handling_id"] for row in rows]
    return Row(
        (
            ids_told(names[:1]) + (f" to {names[-1]}" if len(names) > 1 else ""),
            inside(story.value("handling_runs", rows[0], "method")),
            lot,
            str(len(rows)),
            period([row["done_at"] for row in rows]).removeprefix("on ").removeprefix("between "),
            *numbers,
        ),
        anchor("handling_runs", names[0]),
    )
