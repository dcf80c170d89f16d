"""How seed was handled by itself and by the seeder: settings, order, air, and what was counted."""

from palea import schema
from palea.documents.page import Paragraph
from palea.record import followed
from palea.record.spread import period, several, spread
from palea.record.story import gaps
from palea.words.prose import capital, inside, listed

# What is told of a method where it was recorded: column, words around the number.
SETTINGS = (
    ("opening_mm", "an opening of {} mm"),
    ("meter_rpm", "the meter at {} rpm"),
    ("speed_km_h", "{} km/h"),
    ("length_m", "{} m a run"),
    ("width_m", "rows {} m apart"),
    ("filled_g", "{} g filled in"),
    ("taps", "{} taps"),
    ("drop_m", "a drop of {} m"),
    ("moisture_pct", "seed at {} % water"),
    ("room_c", "air of {} °C"),
    ("room_rh", "{} % relative humidity"),
)


def paragraphs(story, key):
    """A Paragraph on the handling runs of a trial, method by method; nothing where it had none."""
    rows = story.rows("handling_runs", trial_id=key)
    if rows:
        methods = dict.fromkeys(row["method"] for row in rows)
        told = [part for m in methods for part in _method(story, [row for row in rows if row["method"] == m])]
        yield Paragraph(
            (*told, *_counted(story, rows), *followed.rows("handling_runs", [r["handling_id"] for r in rows]))
        )


def _method(story, rows):
    title = inside(schema.word("handling_method", rows[0]["method"])["title"])
    lots = {row["lot_id"] for row in rows}
    people = listed(dict.fromkeys(story.person(row["done_by"]) for row in rows))
    machines = [story.machine(m) for m in dict.fromkeys(row["equipment_id"] for row in rows) if m]
    with_what = (" with the ", machines[0]) if machines else ()
    settings = [
        words.format(spread([row[c] for row in rows]))
        for c, words in SETTINGS
        if any(row[c] is not None for row in rows)
    ]
    typed = listed(dict.fromkeys(row["setting"] for row in rows if row["setting"]))
    ordered = ", in the order that the plan drew" if all(row["order_in_day"] is not None for row in rows) else ""
    yield (
        f"{capital(title)}: {several(len(rows), 'run')} of {several(len(lots), 'lot')}",
        *with_what,
        f" {period([row['done_at'] for row in rows])} by {people}{ordered}; {f'{typed}; ' if typed else ''}{', '.join(settings)}.",
    )
    yield from _open(story, rows)
    yield " "


def _open(story, rows):
    """A gap for what the checklist asks of such a run and is blank."""
    asked = (
        "equipment_id",
        "setting",
        "speed_km_h",
        "length_m",
        "stops",
        "filled_g",
        "order_in_day",
        "replicate",
        "room_rh",
        "moisture_pct",
    )
    names = [row["handling_id"] for row in rows]
    for column in asked:
        due = [row for row in rows if row[column] is None and story.due("handling_runs", row, column)]
        for mark in gaps(
            "handling_runs", due, column, [n for n, r in zip(names, rows, strict=True) if r in due], rows[0]["method"]
        ):
            yield from (" ", mark)


def _counted(story, rows):
    """What was counted along the row."""
    mine = {row["handling_id"] for row in rows}
    counts = story.facts["handling_counts"]
    counts = counts[counts["handling_id"].isin(mine)]
    if len(counts):
        lengths = spread(sorted(set(counts["length_m"].dropna().astype(float))))
        stops = sum(row["stops"] or 0 for row in rows)
        yield (
            f"Seeds were counted at {several(len(counts), 'place')} of {lengths} m along the rows"
            f" ({counts['seeds'].sum():.0f} seeds); the seeder stopped {several(stops, 'time')}."
        )
