"""Trials under the sky: the site and its ground, plots and rows, plants that were tagged, what was measured, the weather."""

import numpy as np

from palea import schema
from palea.calc.places import on_grid
from palea.documents.page import Paragraph
from palea.record import followed, visits
from palea.record.lots import PRECISE
from palea.record.spread import period, several, spread, with_symbol
from palea.record.story import gap
from palea.words.numbers import short
from palea.words.prose import capital, counted, inside, listed

GROUND = (("soil", "Soil: "), ("climate", "Climate: "), ("habitat", "Habitat: "), ("seedbed", "Seedbed: "))


def paragraphs(story, key):
    """Paragraphs on site, units and measurements of a trial in the field; nothing where it had no site."""
    sites = list(dict.fromkeys(row["site_id"] for row in story.rows("environments", trial_id=key) if row["site_id"]))
    for site in sites:
        row = story.row("sites", site)
        if row is not None:
            yield Paragraph((*_site(story, row), *_weather(story, site)))
    if sites:
        yield Paragraph((*_units(story, key), *_measured(story, key)))


def _site(story, row):
    """Where it lay, as far as its sensitivity allows, and what the ground was like."""
    key = row["site_id"]
    grid = schema.word("place_sensitivity", row["place_sensitivity"] or "none").get("grid_deg")
    country = row["country"] or story.cell("sites", row, "country", key)
    if grid is None or grid > PRECISE:
        yield from ("Site: ", country, f" (name and place withheld; sensitivity {row['place_sensitivity']}). ")
    else:
        yield from (f"Site: {row['name']}, ", country, f"{_where(row, grid)}. ")
    for column, lead in GROUND:
        told = row[column]
        if told:
            yield f"{lead}{told.rstrip('.')}. "
        elif story.due("sites", row, column):
            yield from (lead, gap("sites", [row], column, key), ". ")
    yield from followed.rows("sites", [key])
    yield " "


def _where(row, grid):
    """Coordinates as exactly as the sensitivity of the place allows; "" where they are not known."""
    if row["latitude"] is None or row["longitude"] is None:
        return ""
    places = (row["latitude"], row["longitude"])
    return ", ".join(["", *(short(float(on_grid([x], [grid])[0]) if grid else x) for x in places)])


def _weather(story, site):
    """Sums of rain and means of the rest from the loggers of a site."""
    rows = story.facts["conditions"]
    mine = rows[rows["site_id"].eq(site)]
    told = []
    for quantity, some in mine.groupby("quantity", sort=False):
        word = schema.word("condition", quantity)
        values = some["value"].to_numpy(float)
        summed = word.get("unit") == "mm"
        number = np.nansum(values) if summed else np.nanmean(values)
        lead = "in all" if summed else f"on average ({np.nanmin(values):.1f} to {np.nanmax(values):.1f})"
        unit = some["unit"].dropna()
        told.append(f"{inside(word['title'])} {with_symbol(f'{number:.1f}', unit.iloc[0] if len(unit) else '')} {lead}")
    if told:
        days = period([mine["logged_at"].min(), mine["logged_at"].max()])
        yield f"Logged {days} ({counted(len(mine), 'reading')}): {listed(told)}."


def _units(story, key):
    """Plots and rows with their size, when they were sown and how deep."""
    units = [u for u in story.rows("units", trial_id=key) if u["treatment_id"]]
    for kind in dict.fromkeys(u["kind"] for u in units):
        some = [u for u in units if u["kind"] == kind]
        sown = [u for u in some if u["sown_n"]]
        size = [
            f"{spread([u[c] for u in some])} {words}"
            for c, words in (("area_m2", "m²"), ("row_length_m", "m long"))
            if any(u[c] is not None for u in some)
        ]
        deep = spread([u["depth_mm"] for u in sown])
        blocks = len({u["block"] for u in some} - {None})
        bare = f"; {several(len(some) - len(sown), 'unit')} left unsown" if len(sown) < len(some) else ""
        yield (
            f"{capital(several(len(some), inside(kind), visits.units_of(kind)))}{f' of {listed(size)}' if size else ''}"
            f"{_in_blocks(blocks)} were sown {period([u['placed_at'] for u in sown])}"
            f" with {spread([u['sown_n'] for u in sown])} seeds each{f', {deep} mm deep' if deep else ''}{bare}. "
        )


def _measured(story, key):
    """Plants that were tagged and traits that were measured, by whom and how."""
    mine = {u["unit_id"] for u in story.rows("units", trial_id=key)}
    plants = story.facts["plants"]
    plants = plants[plants["unit_id"].isin(mine)]
    if len(plants):
        fates = plants["fate"].dropna().value_counts()
        told = listed(f"{n} {inside(schema.word('fate', fate)['title'])}" for fate, n in sorted(fates.items()))
        yield f"{counted(len(plants), 'plant')} in {counted(plants['unit_id'].nunique(), 'unit')} were tagged ({told}). "
    rows = story.facts["measurements"]
    rows = rows[rows["unit_id"].isin(mine) | rows["plant_id"].isin(set(plants["plant_id"]))]
    for (trait, method), some in rows.groupby(["trait", "method"], sort=False, dropna=False):
        who = listed(dict.fromkeys(story.person(p) for p in some["measured_by"].dropna().unique()))
        how = f": {method.rstrip('.')}" if isinstance(method, str) else ""
        many = counted(some["value"].notna().sum(), "measurement")
        yield f"{capital(inside(schema.word('trait', trait)['title']))}{how} ({many}{f', by {who}' if who else ''}). "


def _in_blocks(many):
    return f" in {several(many, 'block')}" if many else ""
