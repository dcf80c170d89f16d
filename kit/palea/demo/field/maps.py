"""Maps of the field trials, drawn as they lie: a line a block or main plot, a box a plot or row."""

from palea.demo.field.layout import spots, treatment_id
from palea.demo.field.truth import field_setting, field_truth

WIDE, HIGH, LEFT, TOP = 74, 34, 96, 34


def mapped(book, trial, seed):
    """Put the map of a trial into the package: all its plots, whichever species are written."""
    plan = field_setting("trials")[trial]
    book.attach(f"{trial}-map", f"files/{trial.lower()}-map.svg", drawn(trial, seed).encode(), media_type="image/svg+xml",
                taken_at=plan["locked_at"], taken_by="sorrel", about_table="trials", about_id=trial,
                licence="CC0-1.0", may_share=True, shows=f"{plan['title']}: where each plot lies, its peg and its treatment",
                notes="Invented. Drawn from the locked layout; those who counted had a map with the numbers of the pegs alone.")


def drawn(trial, seed):
    """The map as SVG."""
    here, letter = spots(trial, seed), field_setting("units")[trial]["letter"]
    lines = {spot.grid_row: spot for spot in here}
    size = LEFT + WIDE * max(s.grid_column for s in here), TOP + HIGH * len(lines)
    parts = [_text(6, 20, field_setting("trials")[trial]["title"], 14)]
    parts += [_text(6, _y(row) + 20, _line(spot), 11) for row, spot in lines.items()]
    parts += [part for spot in here for part in _box(spot, letter)]
    opening = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[0] + 6} {size[1] + 6}" font-family="sans-serif">'
    return "\n".join([opening, '<rect width="100%" height="100%" fill="white"/>', *parts, "</svg>", ""])


def _line(spot):
    """What stands before a line."""
    return f"block {spot.block}" + (f", {spot.level}" if spot.level else "")


def _box(spot, letter):
    x, y = LEFT + WIDE * (spot.grid_column - 1), _y(spot.grid_row)
    species = [*field_truth()["species"], ""]
    shade = ("#dfeaf4", "#f6ead2", "#e3f0dc", "#ffffff")[species.index(spot.taxon)]
    yield f'<rect x="{x}" y="{y}" width="{WIDE - 4}" height="{HIGH - 4}" fill="{shade}" stroke="#444"/>'
    yield _text(x + 5, y + 13, f"{letter}{spot.number:03d}", 11)
    yield _text(x + 5, y + 26, treatment_id(spot), 11)


def _y(row):
    return TOP + HIGH * (row - 1)


def _text(x, y, words, size):
    return f'<text x="{x}" y="{y}" font-size="{size}" fill="#111">{words}</text>'
