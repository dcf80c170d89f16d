"""Linked data: a Dataset in the words of schema.org, and a RO-Crate 1.1 whose analyses are runs of a process (0.5)."""

import json

from palea.derived.facts import plain
from palea.sharing.metadata.about import LICENCE_URL

CRATE = "https://w3id.org/ro/crate/1.1"
PROCESS = "https://w3id.org/ro/wfrun/process/0.5"


def dataset(about):
    """The package as a schema.org Dataset."""
    return {
        "@context": "https://schema.org/", "@type": "Dataset", "name": about.title, "description": about.description,
        "dateModified": about.date, "keywords": list(about.keywords), "creator": [_creator(c) for c in about.creators],
        **({"license": LICENCE_URL.format(about.licence)} if about.licence else {}),
        **({"version": about.version} if about.version else {}),
    }  # fmt: skip


def crate(package, about, files):
    """ro-crate-metadata.json as plain data. files : relative paths of the files that the archive holds.

    Every kept analysis is a CreateAction: its instrument is the recipe with its version, its objects are the tables it read,
    its results the files that it kept, or the table of results.
    """
    names = sorted(name for name in files if name != "ro-crate-metadata.json")
    held = set(names)
    people = [{"@id": c.orcid or f"#person-{n}", **_creator(c)} for n, c in enumerate(about.creators, 1)]
    actions, tools = _actions(package, held)
    root = {
        "@id": "./", "@type": "Dataset", "name": about.title, "description": about.description, "datePublished": about.date,
        "license": {"@id": LICENCE_URL.format(about.licence)} if about.licence else "not stated",
        "conformsTo": {"@id": PROCESS}, "keywords": ", ".join(about.keywords), "author": [{"@id": p["@id"]} for p in people],
        "hasPart": [{"@id": name} for name in names], "mentions": [{"@id": a["@id"]} for a in actions],
    }  # fmt: skip
    licence = [{"@id": LICENCE_URL.format(about.licence), "@type": "CreativeWork", "name": about.licence}] if about.licence else []
    return {"@context": f"{CRATE}/context", "@graph": [
        {"@id": "ro-crate-metadata.json", "@type": "CreativeWork", "conformsTo": {"@id": CRATE}, "about": {"@id": "./"}},
        root, {"@id": PROCESS, "@type": "CreativeWork", "name": "Process Run Crate", "version": "0.5"},
        *licence, *people, *tools, *actions, *(_file(package, name) for name in names),
    ]}  # fmt: skip


def _creator(creator):
    kind = "Person" if creator.is_person else "Organization"
    return {"@type": kind, "name": creator.name} | ({"sameAs": creator.orcid} if creator.orcid else {})


def _actions(package, held):
    """(CreateActions of kept analyses, the recipes that they ran) in the order of the table."""
    actions, tools = [], {}
    for row in plain(package["analyses"]).to_dict("records"):
        version, trial = str(row["version"]), row["trial_id"] if isinstance(row["trial_id"], str) else ""
        tool = f"#{row['recipe']}-{version}"
        tools[tool] = {"@id": tool, "@type": "SoftwareApplication", "name": row["recipe"], "softwareVersion": version}
        read = json.loads(row["reads"]) if isinstance(row["reads"], str) else {}
        objects = [path for table in read if (path := package.table_path(table)) in held]
        own = f"analyses/{row['analysis_id']}/"
        kept = [n for n in sorted(held) if n.startswith(own)] or [package.table_path("results")]
        actions.append({
            "@id": f"#analysis-{row['analysis_id']}", "@type": "CreateAction", "name": f"{row['recipe']} {trial}".strip(),
            "instrument": {"@id": tool}, "object": [{"@id": path} for path in objects],
            "result": [{"@id": path} for path in kept if path in held],
            **({"endTime": row["ran_at"]} if isinstance(row["ran_at"], str) else {}),
        })  # fmt: skip
    return actions, list(tools.values())


def _file(package, name):
    table = next((n for n in package.names if package.table_path(n) == name), "")
    kinds = {"csv": "text/csv", "json": "application/json", "html": "text/html", "md": "text/markdown", "svg": "image/svg+xml",
             "txt": "text/plain"}  # fmt: skip
    kind = kinds.get(name.rpartition(".")[2])
    return {"@id": name, "@type": "File", "name": f"Table {table}" if table else name} | ({"encodingFormat": kind} if kind else {})
