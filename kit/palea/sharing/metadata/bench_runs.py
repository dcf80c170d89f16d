"""Runs at the bench in a RO-Crate: lot to cleaned lot to coated lot, with who did it and on which machines.

A run is an Action with equipment as its instrument (RO-Crate 1.1, Detailing provenance). It is no CreateAction: the profile
of process runs keeps that word for software that makes files.
"""

from palea import schema
from palea.derived.facts import plain


def of(package, people):
    """(Actions of the runs, the lots and machines that they name) as entities. people : {person id: id of its entity}."""
    runs, steps, moves = (plain(package[name]) for name in ("runs", "run_steps", "movements"))
    drawn = _by_run(moves[moves["kind"].isin(schema.words("movement_kind", sign=-1))], "lot_id")
    made = _by_run(moves[moves["kind"].isin(schema.words("movement_kind", sign=1))], "lot_id")
    used = _by_run(steps, "equipment_id")
    actions, named = [], ({}, {})
    for row in runs.to_dict("records"):
        run = row["run_id"]
        lots, machines = (drawn.get(run, []), made.get(run, [])), used.get(run, [])
        for key in (*lots[0], *lots[1]):
            named[0][key] = None
        for key in machines:
            named[1][key] = None
        actions.append(_action(row, lots, machines, people))
    return actions, [*_lots(package, named[0]), *_machines(package, named[1])]


def _action(row, lots, machines, people):
    kind, protocol = schema.word("run_kind", row["kind"]), row["protocol_id"]
    told = {
        "@id": f"#run-{row['run_id']}", "@type": "Action", "name": f"{kind['title']} {row['run_id']}",
        "description": kind["definition"] + (f" By protocol {protocol}." if isinstance(protocol, str) else ""),
        "object": _refs("lot", lots[0]), "result": _refs("lot", lots[1]), "instrument": _refs("equipment", machines),
        "agent": {"@id": people[row["done_by"]]} if row["done_by"] in people else None,
        "startTime": row["started_at"], "endTime": row["ended_at"],
    }  # fmt: skip
    return {key: value for key, value in told.items() if isinstance(value, str | dict) or (isinstance(value, list) and value)}


def _refs(kind, keys):
    refs = [{"@id": f"#{kind}-{key}"} for key in keys]
    return refs[0] if len(refs) == 1 else refs


def _by_run(rows, column):
    """{run: distinct values of a column in the order of the rows}."""
    there = rows.dropna(subset=["run_id", column])
    return {run: list(dict.fromkeys(values)) for run, values in there.groupby("run_id", sort=False)[column]}


def _lots(package, keys):
    """Lots as entities, with what lies in the bag."""
    rows = plain(package["lots"]).drop_duplicates("lot_id").set_index("lot_id")
    names = plain(package["taxa"]).drop_duplicates("taxon_id").set_index("taxon_id")["scientific_name"]
    for key in keys:
        told = {"@id": f"#lot-{key}", "@type": "Product", "name": f"Seed lot {key}"}
        if key in rows.index:
            species = names.get(rows.loc[key, "taxon_id"])
            told["category"] = rows.loc[key, "seed_unit"]
            told |= {"description": species} if isinstance(species, str) else {}
        yield told


def _machines(package, keys):
    """Equipment as entities."""
    rows = plain(package["equipment"]).drop_duplicates("equipment_id").set_index("equipment_id")
    for key in keys:
        told = {"@id": f"#equipment-{key}", "@type": "IndividualProduct", "name": key}
        if key in rows.index:
            row = rows.loc[key]
            more = {"category": row["kind"], "model": row["model"], "serialNumber": row["serial"], "identifier": row["pid"]}
            told |= {name: value for name, value in more.items() if isinstance(value, str)}
        yield told
