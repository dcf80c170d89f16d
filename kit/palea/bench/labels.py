"""Labels for bags, dishes and plots on A4: the identifier as text and as a QR code, and what a hand needs beside it.

A label of a blind trial carries the code and the place, and nothing that tells the treatment. A QR code holds the
identifier alone, so that any reader hands over what the notebook understands.
"""

import html
from dataclasses import dataclass

import pandas as pd

from palea import look, schema
from palea.bench import sheets
from palea.calc.spans import latest
from palea.derived.facts import Facts
from palea.derived.ledger import stock
from palea.errors import PaleaError

ACROSS, DOWN = 3, 8  # labels of 70 mm by 37 mm on A4, as they are sold without a brand
WIDE_MM, HIGH_MM, CODE_MM = 70, 37, 27
LONGEST = 120  # characters of an identifier that a code of this size still shows to a plain reader


@dataclass(frozen=True)
class Label:
    """name : the identifier, as text and in the code.  lines : what stands beside it, the first in italics if `species`."""

    name: str
    lines: tuple
    species: bool = False


def lay_out(package, what, *, trial="", blind=None):
    """The Labels of all lots that hold seed, or of the units of a trial in walking order.

    what : "lots" or "units".  blind : None for codes alone where the trial was counted blind.
    Raises PaleaError for another word, a trial that is not there, and units without codes on blind labels.
    """
    if what == "lots":
        made = _lots(package)
    elif what == "units":
        made = _units(package, _one_trial(package, trial), blind)
    else:
        msg = f"Labels are made for lots or units, not for “{what}”."
        raise PaleaError(msg)
    if not made:
        msg = "There is nothing to label: no lot holds seed." if what == "lots" else f"Trial {trial} has no units in use."
        raise PaleaError(msg)
    long = next((label.name for label in made if len(label.name) > LONGEST), "")
    if long:
        msg = f"“{long[:40]}...” is too long for a label. Use shorter identifiers or codes."
        raise PaleaError(msg)
    return made


def _lots(package):
    facts = Facts(package)
    held = facts[stock].set_index("lot")
    names = facts["taxa"].drop_duplicates("taxon_id").set_index("taxon_id")["scientific_name"]
    moves = facts["movements"][["lot_id", "moved_at"]].dropna()
    moves = moves.assign(at=latest(moves["moved_at"])).sort_values("at", kind="stable")
    last = moves.drop_duplicates("lot_id", keep="last").set_index("lot_id")["moved_at"]
    return [label for row in facts["lots"].to_dict("records") if (label := _lot(row, held, names, last))]


def _lot(row, held, names, last):
    """The Label of a lot; None for one that is used up by the book."""
    lot = row["lot_id"]
    left = held["mass_g"].get(lot)
    if lot is None or lot != lot or (left is not None and left <= 0):
        return None
    known = schema.vocabulary("seed_unit").words
    unit = known[row["seed_unit"]]["title"] if row["seed_unit"] in known else ""
    mass = "mass not known" if left is None or pd.isna(left) else f"{left:.4g} g left"
    day = last.get(lot)
    taxon = "" if pd.isna(row["taxon_id"]) else row["taxon_id"]
    species = names.get(taxon)
    lines = [species if isinstance(species, str) else taxon, unit, mass, f"as of {str(day)[:10]}" if isinstance(day, str) else ""]
    return Label(str(lot), tuple(filter(None, lines)), species=True)


def _one_trial(package, trial):
    known = package["trials"]["trial_id"].dropna().tolist()
    if trial in known or (not trial and len(known) == 1):
        return trial or known[0]
    msg = f"{f'There is no trial “{trial}”' if trial else 'Say which trial'}: --trial, one of {', '.join(known) or 'none yet'}."
    raise PaleaError(msg)


def _units(package, trial, blind):
    visits = package["visits"]
    mine = visits[visits["trial_id"].eq(trial).fillna(value=False)]
    if blind is None:
        blind = bool(mine["blind"].fillna(value=False).any()) or (mine.empty and _all_coded(package, trial))
    units = sheets.walk(sheets.in_use(package, trial), blind=blind)
    if blind:
        sheets.refuse_without_codes(units, trial)
    return [_unit(row, trial, blind) for row in units.to_dict("records")]


def _all_coded(package, trial):
    """Whether every unit has a code, as where counting blind is meant and nobody has counted yet."""
    units = package["units"]
    mine = units[units["trial_id"].eq(trial).fillna(value=False) & units["lot_id"].notna()]
    return len(mine) > 0 and bool(mine["code"].notna().all())


def _unit(row, trial, blind):
    place = sheets.place_of(row)
    where = f"place {place}" if place else ""
    if blind:
        return Label(str(row["code"]), tuple(filter(None, (trial, where))))
    treatment = "" if pd.isna(row["treatment_id"]) else str(row["treatment_id"])
    return Label(str(row["unit_id"]), tuple(filter(None, (trial, treatment, where))))


def code(text, *, millimetres=CODE_MM):
    """A QR code as SVG with its quiet zone of four modules. Source: ISO/IEC 18004, 6.3.8 (quiet zone)."""
    import segno

    made = segno.make(text, error="m", micro=False, boost_error=False)
    return made.svg_inline(border=4, omitsize=True, dark="#000", light="#fff").replace(
        "<svg ",
        f'<svg role="img" aria-label="QR code of {html.escape(text)}" width="{millimetres}mm" height="{millimetres}mm" ', 1,
    )  # fmt: skip


def page(labels):
    """One HTML page of labels, 3 by 8 on each sheet of A4, for printing at 100 %. It needs no network and runs nothing."""
    each = ACROSS * DOWN
    parts = "\n".join(
        f'<section>\n{"".join(map(_label, labels[n : n + each]))}</section>' for n in range(0, len(labels), each)
    )
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<meta name="generator" content="palea">\n'
        f"<title>{len(labels)} labels</title>\n<style>\n{_style()}</style>\n</head>\n<body>\n{parts}\n</body>\n</html>\n"
    )


def _label(label):
    lines = [f"<em>{html.escape(t)}</em>" if label.species and n == 0 else html.escape(t) for n, t in enumerate(label.lines)]
    told = "".join(f"<p>{line}</p>" for line in lines)
    size = ' class="long"' if len(label.name) > 14 else ""
    return f"<article>{code(label.name)}<div><h2{size}>{html.escape(label.name)}</h2>{told}</div></article>\n"


def _style():
    return f"""@page {{ size: A4; margin: 0; }}
* {{ box-sizing: border-box; margin: 0; }}
body {{ font: 8.5pt/1.25 {look.FONT}; color: #000; background: {look.PAPER}; }}
section {{ width: 210mm; height: 296mm; display: grid; break-after: page; }}
section {{ grid-template-columns: repeat({ACROSS}, {WIDE_MM}mm); grid-auto-rows: {HIGH_MM}mm; }}
section:last-of-type {{ break-after: auto; }}
article {{ display: flex; align-items: center; gap: 2mm; padding: 3mm; overflow: hidden; outline: 0.2mm dotted {look.LINE}; }}
article svg {{ flex: none; }}
article div {{ min-width: 0; }}
h2 {{ font-size: 12pt; line-height: 1.15; overflow-wrap: anywhere; }}
h2.long {{ font-size: 9pt; }}
p {{ overflow-wrap: anywhere; }}
@media print {{ article {{ outline: none; }} }}
"""
