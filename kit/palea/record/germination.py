"""Where seed was put to germinate: on what, how warm, how light, how wet; equal surroundings told once."""

from palea import schema
from palea.documents.page import Column, Grid, Paragraph, Row, reference, said
from palea.record import followed, visits
from palea.record.spread import several, spread
from palea.record.story import anchor, gaps
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed

TABLE = "table-environments"


def surroundings(story, key):
    """A Paragraph on the environments of a trial that stood in a chamber; nothing where it had none."""
    rows = [row for row in story.rows("environments", trial_id=key) if row["site_id"] is None]
    if rows:
        yield Paragraph(tuple(_told(story, key, rows)))


def _told(story, key, rows):
    shared = (
        "Seed lay on ",
        *_one(story, key, rows, "substrate"),
        ", with ",
        *_one(story, key, rows, "water_per_unit_ml"),
        " of liquid in each; light: ",
        *_one(story, key, rows, "light_hours"),
        " a day. Moving about of the units: ",
        *_one(story, key, rows, "moved_about"),
        ". ",
    )
    first = visits.said_before(story, "surroundings", said(shared), key)
    yield from shared if first == said(shared) else (f"Substrate, liquid, light and moving about: {first}. ",)
    yield from ("Chamber: ", *_chambers(story, key, rows), ". Temperature: ", *_warm(key, rows), ". ", *_water(story, rows))
    if len(rows) > 1:
        runs = {(row["chamber"], row["run_no"]) for row in rows}
        yield (
            f" These were {several(len(rows), 'setting')} in {several(len(runs), 'filling')} of a chamber (",
            reference(TABLE),
            ").",
        )
    yield from followed.rows("environments", [row["environment_id"] for row in rows])


def _one(story, key, rows, column):
    """A column that is told once, with its values where they differ, and a gap for each row that lacks it."""
    numbers = isinstance(next((row[column] for row in rows if row[column] is not None), None), int | float)
    told = dict.fromkeys(story.value("environments", row, column) for row in rows if row[column] is not None)
    words = spread([row[column] for row in rows]) if numbers and len(told) > 1 else listed(told, "or")
    unit = next(iter(told)).partition(" ")[2] if numbers and len(told) > 1 else ""
    return (f"{words} {unit}".strip(), *_gaps(key, rows, column))


def _gaps(key, rows, column):
    names = [row["environment_id"] for row in rows]
    return tuple(x for mark in gaps("environments", rows, column, names, key) for x in (" ", mark))


def _chambers(story, key, rows):
    """Kinds of the chambers with their links, several of one kind counted."""
    machines = [story.machine(chamber) for chamber in dict.fromkeys(row["chamber"] for row in rows) if chamber]
    kinds = {said(machine): [m for m in machines if said(m) == said(machine)] for machine in machines}
    told = (
        x
        for i, (kind, some) in enumerate(kinds.items())
        for x in ((", ",) if i else ()) + (some[0], f" ({several(len(some), 'of them', 'of them')})" if len(some) > 1 else "")
        if kind
    )
    return (*told, *_gaps(key, rows, "chamber"))


def _warm(key, rows):
    told = listed(dict.fromkeys(temperatures(row) for row in rows if row["day_c"] is not None), "or")
    return (told, *_gaps(key, rows, "day_c"))


def temperatures(row):
    """By day and by night, in words."""
    warm, cool = row["day_c"], row["night_c"]
    return f"{short(warm)} °C" if cool in (None, warm) else f"{short(warm)} °C by day and {short(cool)} °C by night"


def _water(story, rows):
    """What the units were wetted with, and how their water potentials were made."""
    dry = [row for row in rows if (row["water_potential_mpa"] or 0) < 0]
    wet = [row for row in rows if row["water_potential_mpa"] == 0]
    if wet:
        yield "Units were wetted with water" + (" or " if dry else ". ")
    if dry:
        levels = listed((short(x) for x in sorted({row["water_potential_mpa"] for row in dry}, reverse=True)), "or")
        made = (
            listed(dict.fromkeys(story.material(row["osmoticum"]) for row in dry if row["osmoticum"])) or "an osmoticum"
        )
        each = spread([row["osmoticum_g_per_kg"] for row in dry])
        how = listed(
            dict.fromkeys(
                story.value("environments", row, "potential_source") for row in dry if row["potential_source"]
            )
        )
        again = spread([row["renewed_every_d"] for row in dry])
        yield (
            f"{'' if wet else 'Units were wetted '}with {inside(made)} at {levels} MPa ("
            f"{f'{each} g/kg, ' if each else ''}{how or 'source not told'}{f'; renewed every {again} days' if again else ''}). "
        )


def table(story):
    """The Grid of all environments, one row each; None where there is none."""
    rows = [row for row in story.rows("environments") if row["site_id"] is None]
    heads = (
        "Environment",
        "Chamber, run",
        "Temperature",
        Column("Light, h a day", "right"),
        Column(f"Water, {schema.table('environments')['water_potential_mpa'].symbol}", "right"),
        Column("Osmoticum, g/kg", "right"),
        "Substrate, liquid",
    )
    told = tuple(map(_row, rows))
    return Grid("Environments in chambers (table environments)", heads, told, TABLE) if rows else None


def _row(row):
    run = f", run {row['run_no']}" if row["run_no"] is not None else ""
    liquid = f", {short(row['water_per_unit_ml'])} mL" if row["water_per_unit_ml"] is not None else ""
    numbers = (row[c] for c in ("light_hours", "water_potential_mpa", "osmoticum_g_per_kg"))
    return Row(
        (
            row["environment_id"],
            f"{row['chamber'] or ''}{run}",
            temperatures(row) if row["day_c"] is not None else "",
            *(short(x) if x is not None else "" for x in numbers),
            capital(f"{row['substrate'] or ''}{liquid}"),
        ),
        anchor("environments", row["environment_id"]),
    )
