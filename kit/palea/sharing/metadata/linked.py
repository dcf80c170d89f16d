"""Linked data: a Dataset in the words of schema.org, and a RO-Crate 1.1 whose analyses are runs of a process (0.5)."""

import json
import mimetypes

from palea import schema
from palea.derived.facts import plain
from palea.sharing.metadata import about as people
from palea.sharing.metadata import bench_runs
from palea.sharing.metadata.about import LICENCE_URL

CRATE = "https://w3id.org/ro/crate/1.1"
PROCESS = "https://w3id.org/ro/wfrun/process/0.5"
KINDS = {
    "csv": "text/csv", "json": "application/json", "jsonl": "application/jsonl", "jsonld": "application/ld+json",
    "html": "text/html", "md": "text/markdown", "svg": "image/svg+xml", "txt": "text/plain", "cff": "application/yaml",
}  # fmt: skip - those that machines do not all know, or know under several names
OTHER = "application/octet-stream"


def dataset(package, about):
    """The package as a schema.org Dataset."""
    return {
        "@context": "https://schema.org/", "@type": "Dataset", "name": about.title, "description": about.description,
        "dateModified": about.date, "keywords": list(about.keywords), "creator": [_creator(c) for c in about.creators],
        **({"license": LICENCE_URL.format(about.licence)} if about.licence else {}),
        **({"version": about.version} if about.version else {}),
        "variableMeasured": _variables(package),
    }  # fmt: skip


def crate(package, about, files):
    """ro-crate-metadata.json as plain data. files : relative paths of the files that the archive holds.

    Every kept analysis is a CreateAction: its instrument is the recipe with its version, its objects are the tables it read,
    its results the files that it kept, or the table of results. Runs at the bench are beside them (`bench_runs`).
    """
    names = sorted(name for name in files if name != "ro-crate-metadata.json")
    persons, of_person = _people(package, about)
    authors = [{"@id": of_person[creator]} for creator in about.creators]
    actions, tools = _actions(package, set(names))
    runs, things = bench_runs.of(package, {key: of_person[who] for key, who in people.agreed(package).items()})
    firms = [ref for ref, creator in zip(authors, about.creators, strict=True) if not creator.is_person]
    root = {
        "@id": "./", "@type": "Dataset", "name": about.title, "description": about.description, "datePublished": about.date,
        "license": {"@id": LICENCE_URL.format(about.licence)} if about.licence else "not stated",
        "conformsTo": {"@id": PROCESS}, "keywords": ", ".join(about.keywords),
        **({"author": one(authors)} if authors else {}), **({"publisher": firms[0]} if firms else {}),
        "hasPart": [{"@id": name} for name in names],
        **({"mentions": one([{"@id": a["@id"]} for a in (*actions, *runs)])} if actions or runs else {}),
    }  # fmt: skip
    licence = [{"@id": LICENCE_URL.format(about.licence), "@type": "CreativeWork", "name": about.licence}] if about.licence else []
    return {"@context": f"{CRATE}/context", "@graph": [
        {"@id": "ro-crate-metadata.json", "@type": "CreativeWork", "conformsTo": {"@id": CRATE}, "about": {"@id": "./"}},
        root, {"@id": PROCESS, "@type": "CreativeWork", "name": "Process Run Crate", "version": "0.5"},
        *licence, *persons, *tools, *actions, *runs, *things, *(_file(package, name) for name in names),
    ]}  # fmt: skip


def one(values):
    """A single value by itself and not in a list, as RO-Crate 1.1 asks for it."""
    return values[0] if len(values) == 1 else values


def _creator(creator):
    told = {"@type": "Person" if creator.is_person else "Organization", "name": creator.name}
    given, family = creator.parts
    told |= {"givenName": given, "familyName": family} if creator.is_person and given else {}
    told |= {"affiliation": {"@type": "Organization", "name": creator.organisation}} if creator.organisation else {}
    return told | ({"sameAs": creator.orcid or creator.ror} if creator.orcid or creator.ror else {})


def _people(package, about):
    """(entities of all who may be named and of what they work for, {Creator: its id})."""
    everybody = dict.fromkeys([*about.creators, *people.agreed(package).values()])
    firms = {c.name: c.ror or f"#organisation-{n}" for n, c in enumerate((c for c in everybody if not c.is_person), 1)}
    for creator in everybody:
        if creator.organisation:
            firms.setdefault(creator.organisation, f"#organisation-{len(firms) + 1}")
    ids = {c: (firms[c.name] if not c.is_person else c.orcid or f"#person-{n}") for n, c in enumerate(everybody, 1)}
    persons = []
    for creator in everybody:
        if creator.is_person:
            told = _creator(creator) | ({"affiliation": {"@id": firms[creator.organisation]}} if creator.organisation else {})
            persons.append({"@id": ids[creator], **told})
    told = [{"@id": key, "@type": "Organization", "name": name} for name, key in firms.items()]
    return [*persons, *(t if t["@id"][0] == "#" else t | {"url": t["@id"]} for t in told)], ids


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
        subject = f"trial {trial}" if trial else "the package"
        actions.append({
            "@id": f"#analysis-{row['analysis_id']}", "@type": "CreateAction", "name": f"{row['recipe']} {trial}".strip(),
            "description": f"Version {version} of the calculation {row['recipe']} on {subject}.",
            "instrument": {"@id": tool}, "object": one([{"@id": path} for path in objects]),
            "result": one([{"@id": path} for path in kept if path in held]),
            **({"endTime": row["ran_at"].replace("Z", "+00:00")} if isinstance(row["ran_at"], str) else {}),
        })  # fmt: skip
    return actions, list(tools.values())


def _variables(package):
    """What was counted and measured, with the unit, as PropertyValues."""
    counted = [schema.word("outcome", w) | {"unit": ""} for w in plain(package["counts"])["outcome"].dropna().unique()]
    rows = plain(package["measurements"]).drop_duplicates(["trait", "unit"])
    measured = [
        schema.word("trait", trait) | {"unit": unit if isinstance(unit, str) else ""}
        for trait, unit in zip(rows["trait"], rows["unit"], strict=True)
    ]
    return [
        {"@type": "PropertyValue", "name": w["title"], "description": w["definition"]}
        | ({"unitText": w["unit"]} if w["unit"] else {})
        for w in (*counted, *measured)
    ]


def _file(package, name):
    table = next((n for n in package.names if package.table_path(n) == name), "")
    kind = KINDS.get(name.rpartition(".")[2].lower()) or mimetypes.guess_type(name)[0] or OTHER
    return {"@id": name, "@type": "File", "name": f"Table {table}" if table else name, "encodingFormat": kind}
