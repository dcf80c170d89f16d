"""What MIAPPE asks about the seed that was studied, and about the conditions and factors of a study."""

import pandas as pd

from palea import schema
from palea.derived.factors import intended
from palea.derived.lineage import history, origins
from palea.derived.lookup import TEXT, stacked, texts
from palea.sharing.exports.fit import name_parts
from palea.sharing.exports.joined import labelled, together

STUDY = "Study unique ID"
TREATMENT = "Treatment"
NONE = "none"
NO_CONDITION = ("environment_id", "trial_id", "site_id", "chamber", "run_no", "notes", "why_blank")


def materials(facts):
    """One row a study and lot that was sown in it, with what was done to the seed before and where it came from."""
    units = facts["units"][["trial_id", "lot_id"]].dropna().drop_duplicates()
    lots = facts["lots"].drop_duplicates("lot_id")
    rows = units.merge(lots, on="lot_id", how="left").merge(
        facts["taxa"].drop_duplicates("taxon_id"), on="taxon_id", how="left"
    )
    parts = name_parts(rows["scientific_name"])
    source = _sources(facts)
    of = {name: texts(rows["lot_id"], source[name]) for name in source.columns}
    return pd.DataFrame(
        {
            STUDY: rows["trial_id"],
            "Biological material ID": rows["lot_id"],
            "Organism": rows["taxon_uri"].fillna(rows["scientific_name"]),
            "Genus": parts["genus"],
            "Species": parts["epithet"],
            "Infraspecific name": parts["rest"],
            "Biological material preprocessing": texts(rows["lot_id"], _done(facts)),
            "Material source ID (Holding institute/stock centre, accession)": of["lot_id"],
            "Material source latitude": of["latitude"],
            "Material source longitude": of["longitude"],
            "Material source coordinates uncertainty": of["coordinate_uncertainty_m"] + " m",
            "Material source description": of["told"],
        }
    )


def environment(facts):
    """One row a study and condition that was the same throughout it."""
    said = [(trial, name, values[0]) for trial, name, values in _conditions(facts) if len(values) == 1]
    return pd.DataFrame(said, columns=[STUDY, "Environment parameter", "Environment parameter value"], dtype=TEXT)


def factors(facts):
    """One row a study and factor with at least two values."""
    found = levels(facts)
    applied = facts["trial_factors"].assign(
        factor=lambda rows: labelled(rows["factor"], "asks_about").fillna(rows["factor"])
    )
    rung = applied.drop_duplicates(["trial_id", "factor"]).set_index(["trial_id", "factor"])["applied_to"]
    said = [
        (
            trial,
            factor,
            f"Applied to: {rung[trial, factor]}" if (trial, factor) in rung.index else None,
            together(rows["level"]),
        )
        for (trial, factor), rows in found.groupby(["trial_id", "factor"], sort=False)
    ]
    names = [STUDY, "Experimental Factor type", "Experimental Factor description", "Experimental Factor values"]
    return pd.DataFrame(said, columns=names, dtype=TEXT)


def levels(facts):
    """One row a unit and factor that has two or more levels in its trial: trial_id, unit_id, factor, level."""
    found = stacked([_treatments(facts), _parts(facts), _set_on_units(facts), _varied(facts)]).dropna().astype(TEXT)
    many = found.groupby(["trial_id", "factor"])["level"].transform("nunique")
    return found[many > 1].drop_duplicates(["unit_id", "factor"])


def _treatments(facts):
    units = facts["units"][["trial_id", "unit_id", "treatment_id"]]
    label = facts["treatments"].drop_duplicates("treatment_id").set_index("treatment_id")["label"]
    named = units["treatment_id"] + " (" + texts(units["treatment_id"], label) + ")"
    return units[["trial_id", "unit_id"]].assign(factor=TREATMENT, level=named.fillna(units["treatment_id"]))


def _parts(facts):
    """What a treatment consists of, for the factors that a trial is said to have."""
    wide = facts[intended].drop_duplicates("treatment").set_index("treatment")
    said = facts["treatments"].drop_duplicates("treatment_id").set_index("treatment_id").reindex(wide.index)
    both = wide.columns.intersection(said.columns)
    wide = wide.assign(**{name: said[name].fillna(wide[name]) for name in both})  # hand is a method too
    units = facts["units"][["trial_id", "unit_id", "treatment_id"]].dropna()
    declared = facts["trial_factors"][["trial_id", "factor"]]
    asked = declared[declared["factor"].isin(wide.columns)].merge(units, on="trial_id")
    level = [
        wide.loc[t, f] if t in wide.index else None for t, f in zip(asked["treatment_id"], asked["factor"], strict=True)
    ]
    return asked[["trial_id", "unit_id"]].assign(
        factor=labelled(asked["factor"], "asks_about"), level=pd.array([NONE if x == "" else x for x in level], TEXT)
    )


def _set_on_units(facts):
    """Factors that were set on units, on a main plot for all its parts."""
    own, units = facts["unit_levels"], facts["units"]
    trial = units.drop_duplicates("unit_id").set_index("unit_id")["trial_id"]
    parts = (
        units[["unit_id", "parent_unit_id"]].dropna().rename(columns={"unit_id": "part", "parent_unit_id": "unit_id"})
    )
    inherited = own.merge(parts, on="unit_id").drop(columns="unit_id").rename(columns={"part": "unit_id"})
    rows = stacked([own, inherited[list(own.columns)]])
    named = labelled(rows["factor"], "asks_about").fillna(rows["factor"])
    of = texts(rows["unit_id"], trial)
    return pd.DataFrame({"trial_id": of, "unit_id": rows["unit_id"], "factor": named, "level": rows["level"]})


def _varied(facts):
    """Conditions that differ within a trial, as each unit had them."""
    units, rooms = facts["units"], facts["environments"].drop_duplicates("environment_id").set_index("environment_id")
    made = []
    for trial, name, column in [(t, n, c) for t, n, values, c in _columns(facts) if len(values) > 1]:
        mine = units[units["trial_id"].eq(trial).fillna(value=False)]
        level = texts(mine["environment_id"], rooms[column].map(_said, na_action="ignore"))
        made.append(mine[["trial_id", "unit_id"]].assign(factor=name, level=level))
    return stacked(made) if made else pd.DataFrame(columns=["trial_id", "unit_id", "factor", "level"], dtype=TEXT)


def _conditions(facts):
    return [(trial, name, values) for trial, name, values, _ in _columns(facts)]


def _columns(facts):
    """(trial, label of a condition, its distinct values as text, its column) for all conditions that were recorded."""
    fields = schema.table("environments").fields
    for trial, rows in facts["environments"].groupby("trial_id", sort=False):
        for column, field in fields.items():
            values = list(dict.fromkeys(map(_said, rows[column].dropna()))) if column not in NO_CONDITION else []
            if values:
                yield trial, field.label, values, column


def _said(value):
    return f"{value:g}" if isinstance(value, float) else str(value)


def _sources(facts):
    """The received lots behind each lot, by lot: their ids, place, uncertainty, and what is told of them."""
    lots = facts["lots"].drop_duplicates("lot_id")
    kind = labelled(lots["source_kind"], "source_kind")
    parts = zip(kind, lots["place"], lots["country"], lots["collected_from"], strict=True)
    told = pd.Series(["; ".join(str(x) for x in row if not pd.isna(x)) for row in parts], lots.index, TEXT)
    found = facts[origins].merge(lots.assign(told=told), left_on="origin", right_on="lot_id")
    for column in ("latitude", "longitude", "coordinate_uncertainty_m"):
        found[column] = found[column].map("{:.10g}".format, na_action="ignore").astype(TEXT)
    columns = ["lot_id", "latitude", "longitude", "coordinate_uncertainty_m", "told"]
    return found.groupby("lot")[columns].agg(together).astype(TEXT)


def _done(facts):
    """What was done to the seed of each lot, first to last: earlier treatment as received, then each run behind it."""
    runs, lots = facts["runs"].drop_duplicates("run_id"), facts["lots"].drop_duplicates("lot_id")
    by = runs.assign(what=labelled(runs["kind"], "run_kind") + " " + runs["run_id"])
    protocol = (" by " + by["protocol_id"] + " " + by["version"].astype(TEXT)).fillna("")
    steps = facts[history].merge(by.assign(what=by["what"] + protocol), left_on="run", right_on="run_id")
    steps = steps.sort_values("steps", ascending=False, kind="stable")[["lot", "what"]]
    before = facts[origins].merge(lots[["lot_id", "prior_treatment_text"]], left_on="origin", right_on="lot_id")
    before = before.rename(columns={"prior_treatment_text": "what"})[["lot", "what"]]
    return stacked([before.dropna(), steps]).groupby("lot")["what"].agg(together)
