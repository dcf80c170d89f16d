"""A contractor's coat, recorded truthfully: the part of the invented journey that is about it, as a package of its own.

What the yard did not tell stays blank with its reason; what can be known without the recipe is there. It scores low in
the checklist, and that is the truth.
"""

from palea import schema
from palea.demo.setting import setting
from palea.demo.truth import truth
from palea.demo.write import entered
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

TAXON, COATED, BARE, TRIAL = "CC", "CC-T09", "CC-T03", "G1"
TITLE = "A contractor's pellet, recorded truthfully (invented demo)"
ABOUT = (
    "Invented data. Seed of grey hair-grass was sent to a coating yard, came back as pellets, and the yard kept its "
    "recipe. Recorded is "
    "what was sent, what came back, what can be known of the product without the recipe, and how it germinated beside "
    "the bare seed."
)


def write(folder):
    """Write the package into a new folder and open it."""
    about = setting("package")
    stamp = Stamp(**about["stamp"])
    package = new_package(
        folder,
        TITLE,
        stamp,
        licence=about["licence"],
        description=ABOUT,
        keywords=["invented", "demo", "outsourced coat"],
        invented=True,
    )
    book = entered((TAXON,), truth()["seed"]["value"])
    rows = narrowed(book.rows)
    for table in schema.tables():
        if rows.get(table):
            package = package.having(table, rows[table])
    package = package.describing(contributors=about["contributors"])
    files = {row["path"]: book.files[row["path"]] for row in rows.get("attachments", ())}
    return saving.save(package, stamp, about["reason"], words=about["words"], files=files)


def narrowed(rows):
    """The rows of the journey that are about the coated seed, the bare seed beside it, and all behind them."""
    kept = {"treatments": _those(rows["treatments"], "treatment_id", {COATED, BARE})}
    kept["units"] = [u for u in _those(rows["units"], "trial_id", {TRIAL}) if u.get("treatment_id") in (COATED, BARE)]
    lots = _behind(rows, {u["lot_id"] for u in kept["units"]})
    kept["lots"] = [
        x for x in rows["lots"] if x["lot_id"] in lots or (x.get("keep_of") in lots and "T09" in x["lot_id"])
    ]
    lots |= {x["lot_id"] for x in kept["lots"]}
    kept["movements"] = _moved(rows["movements"], lots)
    runs = {m["run_id"] for m in kept["movements"] if m.get("run_id")}
    kept["runs"], kept["run_steps"] = (_those(rows[t], "run_id", runs) for t in ("runs", "run_steps"))
    kept["tests"] = _those(rows["tests"], "lot_id", lots)
    kept["readings"] = _those(rows["readings"], "test_id", {t["test_id"] for t in kept["tests"]})
    kept["storage"] = _those(rows["storage"], "lot_id", lots)
    return kept | _trial(rows, kept) | _means(rows, kept)


def _those(rows, column, ids):
    return [row for row in rows if row.get(column) in ids]


def _behind(rows, lots):
    """These lots and all that they were made from."""
    drawn, found = {}, set(lots)
    for m in rows["movements"]:
        if m["kind"] == "drawn for run":
            drawn.setdefault(m["run_id"], set()).add(m["lot_id"])
    more = set(lots)
    while more:
        made = {m["run_id"] for m in rows["movements"] if m["kind"] == "made" and m["lot_id"] in more}
        moved = {m["lot_id"] for m in rows["movements"] if m.get("counterpart_lot_id") in more}
        more = set().union(moved, *(drawn.get(run, set()) for run in made)) - found
        found |= more
    return found


def _moved(movements, lots):
    """What came into and went out of the lots; seed that left for elsewhere is told as sent out, so that the book holds."""
    kept = []
    for m in _those(movements, "lot_id", lots):
        other_run = m["kind"] == "drawn for run" and not any(
            x["kind"] == "made" and x["run_id"] == m["run_id"] and x["lot_id"] in lots for x in movements
        )
        elsewhere = (
            other_run or m.get("trial_id", TRIAL) != TRIAL or (m.get("counterpart_lot_id") or m["lot_id"]) not in lots
        )
        gone = {
            "kind": "sent out",
            "run_id": None,
            "trial_id": None,
            "counterpart_lot_id": None,
            "counterpart_person": "hollowdale",
            "notes": "For other work of the workshop.",
        }
        kept.append(m | gone if elsewhere and m["kind"] != "made" else m)
    return kept


def _trial(rows, kept):
    """The trial in which the two were sown, and the one contrast between them."""
    contrasts = [c for c in _those(rows["contrasts"], "trial_id", {TRIAL}) if {c["a"], c["b"]} == {COATED, BARE}]
    units = {u["unit_id"] for u in kept["units"]}
    told = {t: _those(rows[t], "trial_id", {TRIAL}) for t in ("trials", "trial_outcomes", "environments", "visits")}
    factors = [f for f in _those(rows["trial_factors"], "trial_id", {TRIAL}) if f["factor"] == "product"]
    return told | {
        "trial_factors": factors,
        "contrasts": [c | {"primary": True} for c in contrasts],
        "counts": _those(rows["counts"], "unit_id", units),
    }  # fmt: skip


def _means(rows, kept):
    """People, materials, instruments and procedures that the kept rows name, and what is attached to them."""
    materials = {s["material_id"] for s in kept["run_steps"] if s.get("material_id")}
    for _ in rows["material_parts"]:
        materials |= {p["part_material_id"] for p in rows["material_parts"] if p["material_id"] in materials}
    used = {r.get("equipment_id") for t in ("movements", "run_steps", "tests") for r in kept[t]}
    used |= {e.get("chamber") for e in _those(rows["environments"], "trial_id", {TRIAL})}
    followed = {(r["protocol_id"], r["version"]) for r in kept["runs"] if r.get("protocol_id")}
    protocols = {
        t: [p for p in rows[t] if (p["protocol_id"], p["version"]) in followed] for t in ("protocols", "protocol_steps")
    }
    materials |= {s["material_id"] for s in protocols["protocol_steps"] if s.get("material_id")}
    about = {x["lot_id"] for x in kept["lots"]} | {x["test_id"] for x in kept["tests"]}
    return protocols | {
        "people": rows["people"], "taxa": _those(rows["taxa"], "taxon_id", {TAXON}),
        "materials": _those(rows["materials"], "material_id", materials),
        "material_parts": _those(rows["material_parts"], "material_id", materials),
        "equipment": _those(rows["equipment"], "equipment_id", used),
        "calibrations": _those(rows["calibrations"], "equipment_id", used),
        "attachments": _those(rows["attachments"], "about_id", about),
    }  # fmt: skip
