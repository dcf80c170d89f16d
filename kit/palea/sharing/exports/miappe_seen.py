"""What MIAPPE asks about observation units and variables, and the observations themselves, one row a value."""

import re

import pandas as pd

from palea import schema
from palea.derived.lookup import TEXT, stacked, texts
from palea.sharing.exports.joined import labelled, together
from palea.sharing.exports.miappe_material import levels

STUDY = "Study unique ID"
UNIT = "Observation unit ID"
PLANT = "plant"  # the standard's own word
ONTOLOGY = re.compile(r"http://purl\.obolibrary\.org/obo/([A-Z]+)_(\d+)")
STATE = "State, where not in use (ours)"


def units(facts):
    """One row a unit or tagged plant, with its lot, its place in the design and its levels of the factors."""
    rows = facts["units"]
    kinds = {w: schema.word("unit_kind", w).get("miappe", w) for w in schema.words("unit_kind")}
    level = levels(facts).assign(said=lambda x: x["factor"] + ":" + x["level"]).groupby("unit_id")["said"].agg(together)
    used = rows["status"].isna() | rows["status"].isin(schema.words("unit_status")[:1])
    state = (rows["status"] + ": " + rows["reason"]).fillna(rows["status"])
    own = pd.DataFrame(
        {
            STUDY: rows["trial_id"],
            "Biological material ID": rows["lot_id"],
            UNIT: rows["unit_id"],
            "Observation unit type": texts(rows["kind"], kinds),
            "Spatial distribution": _places(rows),
            "Observation Unit factor value": texts(rows["unit_id"], level),
            STATE: state.mask(used),
        }
    )
    return stacked([own, _plants(facts, own)]).reset_index(drop=True)


def variables(facts):
    """One row an outcome that was counted, and one a trait that was measured in one way and unit."""
    return stacked([_counted(facts), _measured(facts)]).reset_index(drop=True)


def observations(facts):
    """One row a count or measurement: study, unit, variable, date, value, how it was counted, organism, why there is none."""
    counts, measured = facts["counts"], facts["measurements"]
    visits = facts["visits"].drop_duplicates("visit_id").set_index("visit_id")
    plants = facts["plants"].drop_duplicates("plant_id").set_index("plant_id")
    of_unit = facts["units"].drop_duplicates("unit_id").set_index("unit_id")["trial_id"]
    names = facts["taxa"].drop_duplicates("taxon_id").set_index("taxon_id")["scientific_name"]
    unit = measured["unit_id"].fillna(texts(measured["plant_id"], plants["unit_id"]))
    how = labelled(texts(counts["visit_id"], visits["counting"]), "counting")
    parts = (
        (counts, counts["unit_id"], counts["unit_id"], "count: " + counts["outcome"], counts["count"], how, counts["taxon_id"]),
        (measured, unit, measured["plant_id"].fillna(measured["unit_id"]), _variable(measured), measured["value"],
         pd.Series(pd.NA, measured.index, TEXT), texts(measured["plant_id"], plants["taxon_id"])),
    )  # fmt: skip
    return stacked(
        [
            pd.DataFrame(
                {
                    STUDY: texts(within, of_unit),
                    UNIT: seen,
                    "Variable ID": variable,
                    "Observation date": texts(rows["visit_id"], visits["visited_at"]),
                    "Value": value,
                    "Counting": counting,
                    "Organism": texts(taxon, names),
                    "Reason for no value": rows["missing"],
                }
            )
            for rows, within, seen, variable, value, counting, taxon in parts
        ]
    )


def _places(rows):
    """Block, row, column and the larger unit, as key:value pairs."""
    keys = {"block": "block", "row": "grid_row", "column": "grid_column", "within": "parent_unit_id"}
    there = rows[list(keys.values())].set_axis(list(keys), axis="columns").to_dict("records")
    said = ["; ".join(_pair(key, value) for key, value in row.items() if not pd.isna(value)) for row in there]
    return pd.Series(said, rows.index, TEXT).replace("", pd.NA)


def _pair(key, value):
    return f"{key}:{value:g}" if isinstance(value, float) else f"{key}:{value}"


def _plants(facts, own):
    """Tagged plants as units within units, of the lot and levels of theirs."""
    plants = facts["plants"]
    around = own.set_index(UNIT)
    of = {name: texts(plants["unit_id"], around[name]) for name in own.columns if name != UNIT}
    at = ("within:" + plants["unit_id"].astype(TEXT)).where(plants["unit_id"].notna())
    for key, column in (("Xmm", "x_mm"), ("Ymm", "y_mm")):
        at = (at + "; " + plants[column].map(f"{key}:{{:g}}".format, na_action="ignore").astype(TEXT)).fillna(at)
    kind = pd.Series(PLANT, plants.index, TEXT)
    laid = {**of, UNIT: plants["plant_id"], "Observation unit type": kind, "Spatial distribution": at}
    return pd.DataFrame({name: laid[name] for name in own.columns})


def _counted(facts):
    counts = facts["counts"]
    how = (
        counts.assign(how=labelled(counts["method"], "count_method"))
        .groupby("outcome", sort=False)["how"]
        .agg(together)
    )
    used = [w for w in schema.words("outcome") if w in how.index]
    words = [schema.word("outcome", w) for w in used]
    return _table(
        [f"count: {w}" for w in used], words, [f"Count: {how[w]}" if not pd.isna(how[w]) else "Count" for w in used],
        [w["definition"] for w in words], ["number"] * len(used),
    )  # fmt: skip


def _measured(facts):
    rows = facts["measurements"]
    ways = rows.assign(variable=_variable(rows)).drop_duplicates("variable")
    words = [schema.word("trait", w) for w in ways["trait"]]
    return _table(
        ways["variable"].tolist(), words, ways["method"].fillna("not recorded").tolist(), [w["definition"] for w in words],
        ways["unit"].tolist(),
    )  # fmt: skip


def _table(ids, words, methods, described, scales):
    made = {
        "Variable ID": ids,
        "Variable name": [w["title"] for w in words],
        "Trait": [w["title"] for w in words],
        "Trait accession number": [_accession(w) for w in words],
        "Method": methods,
        "Method description": described,
        "Scale": scales,
        "Time scale": ["Date/Time"] * len(ids),
    }
    return pd.DataFrame(made, dtype=TEXT)


def _variable(rows):
    """The variable of each measurement: its trait, with unit and method told apart where there are several."""
    ways = rows[["trait", "unit", "method"]].fillna("")
    once = ways.drop_duplicates(["trait", "unit", "method"])
    number = once.groupby("trait").cumcount() + 1
    found = {key: (t if n == 1 else f"{t} {n}") for key, t, n in zip(_key(once), once["trait"], number, strict=True)}
    return texts(_key(rows[["trait", "unit", "method"]].fillna("")), found)


def _key(rows):
    return rows["trait"].astype(TEXT) + "|" + rows["unit"].astype(TEXT) + "|" + rows["method"].astype(TEXT)


def _accession(word):
    """The term that the schema says is the same as a word, as PREFIX:number; none for one that is only near."""
    found = ONTOLOGY.fullmatch(str(word.get("skos:exactMatch", "")))
    return f"{found[1]}:{found[2]}" if found else None
