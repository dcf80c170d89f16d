"""What MIAPPE asks about the investigation, its studies, people, data files and events."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.lookup import TEXT, stacked, texts
from palea.sharing.exports.joined import labelled, together
from palea.sharing.metadata import about
from palea.sharing.redact import WITHHELD_NAME

VERSION = "1.1"
STUDY = "Study unique ID"


def investigation(package):
    """One row: the package."""
    told = about.of(package, "")
    return pd.DataFrame(
        {
            "Investigation unique ID": [package.descriptor.get("id")],
            "Investigation title": [package.title],
            "Investigation description": [package.descriptor.get("description")],
            "License": [told.licence or None],
            "MIAPPE version": [VERSION],
        },
        dtype=TEXT,
    )


def studies(facts):
    """One row a trial, with its place where it has one."""
    trials, when = facts["trials"], _moments(facts)
    sites = _sites(facts)
    keys = trials["trial_id"]
    by_site = {
        name: texts(keys, sites.groupby("trial_id")[name].agg(together)) for name in sites.columns if name != "trial_id"
    }
    design = labelled(trials["design"], "design")
    return pd.DataFrame(
        {
            STUDY: keys,
            "Study title": trials["title"],
            "Study description": trials["question"],
            "Start date of study": texts(keys, when.drop_duplicates("trial_id").set_index("trial_id")["at"]),
            "End date of study": texts(keys, when.drop_duplicates("trial_id", keep="last").set_index("trial_id")["at"]),
            "Contact institution": texts(keys, _institutions(facts)),
            "Geographic location (country)": by_site["country"],
            "Experimental site name": by_site["name"],
            "Geographic location (latitude)": by_site["latitude"],
            "Geographic location (longitude)": by_site["longitude"],
            "Geographic location (altitude)": by_site["altitude_m"] + " m",
            "Description of the experimental design": (design + "; " + trials["allocation_method"]).fillna(design),
            "Observation unit level hierarchy": texts(keys, _hierarchies(facts)),
            "Observation unit description": texts(keys, _descriptions(facts)),
            "Description of growth facility": texts(keys, _facilities(facts)),
            "Cultural practices": by_site["seedbed"],
        }
    )


def people(facts):
    """One row a person who agreed to be named."""
    rows = facts["people"]
    people = rows[rows["kind"].eq("person") & rows["name"].notna() & rows["name"].ne(WITHHELD_NAME)]
    return pd.DataFrame(
        {
            "Person name": people["name"],
            "Person ID": people["orcid"],
            "Person role": people["role"],
            "Person affiliation": people["organisation"],
        }
    )


def data_files(package):
    """The one file of observations that this export lays out."""
    return pd.DataFrame(
        {
            "Data file link": ["Observation"],
            "Data file description": [
                "One row a value: study, observation unit, variable, date, value, why there is none"
            ],
            "Data file version": [package.descriptor.get("version")],
        },
        dtype=TEXT,
    )


def events(facts):
    """When units of a study were placed, first wetted and thinned."""
    units, visits = facts["units"], facts["visits"]
    fields = schema.table("units")
    parts = []
    for column in ("placed_at", "first_wetted_at"):
        days = units[["trial_id", column]].drop_duplicates().rename(columns={column: "at"})
        parts.append(days.assign(what=fields[column].title, told=fields[column].description))
    thinned = visits[visits["thinning_rule"].notna()]
    days = thinned[["trial_id", "visited_at"]].rename(columns={"visited_at": "at"})
    parts.append(days.assign(what="Thinning", told=thinned["thinning_rule"]))
    found = stacked(parts).dropna(subset=["at"])
    found = found.groupby(["trial_id", "what", "told"], sort=False)["at"].agg(together).reset_index()
    return pd.DataFrame(
        {
            STUDY: found["trial_id"],
            "Event type": found["what"],
            "Event description": found["told"],
            "Event date": found["at"],
        }
    )


def _moments(facts):
    """When something was done in a trial, earliest first: trial_id, at (as written)."""
    units, visits = facts["units"], facts["visits"]
    parts = [units[["trial_id", c]].rename(columns={c: "at"}) for c in ("placed_at", "first_wetted_at")]
    parts.append(visits[["trial_id", "visited_at"]].rename(columns={"visited_at": "at"}))
    found = stacked(parts).dropna().drop_duplicates()
    return found.iloc[earliest(found["at"]).argsort(kind="stable")]


def _sites(facts):
    """Sites of each trial, all columns as text."""
    places = facts["environments"][["trial_id", "site_id"]].dropna().drop_duplicates()
    found = places.merge(facts["sites"], on="site_id")
    for column in ("latitude", "longitude", "altitude_m"):
        found[column] = found[column].map("{:.10g}".format, na_action="ignore").astype(TEXT)
    return found[["trial_id", "country", "name", "latitude", "longitude", "altitude_m", "soil", "habitat", "seedbed"]]


def _institutions(facts):
    """Organisations of those who made the visits, by trial."""
    people = facts["people"].drop_duplicates("person_id").set_index("person_id")["organisation"]
    visits = facts["visits"]
    return visits.assign(of=texts(visits["visited_by"], people)).groupby("trial_id")["of"].agg(together)


def _hierarchies(facts):
    """Levels of units from the largest to the smallest, by trial, as block>plot."""
    units = facts["units"]
    kind = units.drop_duplicates("unit_id").set_index("unit_id")["kind"]
    parts = units.assign(within=texts(units["parent_unit_id"], kind), is_part=units["parent_unit_id"].notna())
    parts = parts[parts["is_part"] | ~parts["unit_id"].isin(units["parent_unit_id"])]

    def levels(rows):
        block = ["block"] if rows["block"].notna().any() else []
        return ">".join([*block, *rows["within"].dropna().unique(), *rows["kind"].dropna().unique()])

    return pd.Series({trial: levels(rows) for trial, rows in parts.groupby("trial_id")}, dtype=TEXT)


def _descriptions(facts):
    """How many units of which kind a trial has, and how many seed units were put into each."""
    said = {}
    for (trial, kind), rows in facts["units"].groupby(["trial_id", "kind"], sort=False):
        sown = rows["sown_n"].dropna()
        span = f", {_range(sown)} seed units in each" if len(sown) else ""
        area = f", {_range(rows['area_m2'].dropna())} m2" if rows["area_m2"].notna().any() else ""
        said.setdefault(trial, []).append(f"{len(rows)} units, each a {kind}{area}{span}")
    return pd.Series({trial: "; ".join(parts) for trial, parts in said.items()}, dtype=TEXT)


def _range(numbers):
    low, high = numbers.min(), numbers.max()
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _facilities(facts):
    """Where units stood: the chamber with what lay in its dishes, or the habitat and soil of the site."""
    rooms = facts["environments"]
    kinds = facts["equipment"].drop_duplicates("equipment_id").set_index("equipment_id")["kind"]
    indoors = rooms.assign(of=labelled(texts(rooms["chamber"], kinds), "equipment_kind"))
    parts = [indoors[["trial_id", "of"]], rooms[["trial_id", "substrate"]].rename(columns={"substrate": "of"})]
    sites = _sites(facts)
    parts += [sites[["trial_id", column]].rename(columns={column: "of"}) for column in ("habitat", "soil")]
    return stacked([part.dropna() for part in parts]).groupby("trial_id")["of"].agg(together)
