"""A package of an earlier schema, brought to the present one in a copy. The package itself stays as it is."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from palea import schema
from palea.errors import PackageError
from palea.schema import travel
from palea.tables import contents, descriptor, journal, kept, manifest, outside, reading, transaction, versions, writing
from palea.tables.beginning import new_folder
from palea.tables.carried import OWN, carried, free
from palea.tables.opening import open_package
from palea.tables.package import Package
from palea.tables.unpacking import Unpacked

REASON = "upgrade"
TOO_LONG = "is too long to be looked at whole and stays as it is"
OUTSIDE = "{} had been changed outside palea since it was last saved; it was taken as it is."
STAYS = "cannot be carried over and stays as it is: {}"


@dataclass(frozen=True)
class Upgraded:
    """package : the copy, opened.  was, now : versions of the schema.  told : {table or file: sentences}, in order."""

    package: Package
    was: str
    now: str
    told: dict

    @property
    def sentences(self):
        """Every change as one sentence a line, with the table it is about."""
        lines = [f"{name}: {sentence}" for name, said in self.told.items() for sentence in said]
        return [f"From schema {self.was} to {self.now}.", *(lines or ["No table had to be changed."])]

    def as_json(self):
        """The shape that `palea upgrade --json` prints."""
        return {"package": str(self.package.folder), "was": self.was, "now": self.now, "changes": self.told}


def upgrade(package, folder, stamp, words=""):
    """Copy a package of an earlier schema into `folder` and bring the copy to the present schema -> Upgraded.

    folder : a new or empty one, not inside the package.  stamp : Stamp, who and when.  words : why, for the journal.
    Columns and words that are called otherwise now are renamed, new columns are added blank, and what fits nowhere is kept as
    a column of the package's own; tables and columns of its own stay. The journal goes on, with a line a changed table.
    Raises PackageError for a package that is not older, a journal that was altered, or a folder that is taken.
    """
    if versions.age(package) != versions.OLDER:
        raise PackageError(_not_older(package))
    broken = journal.verify(package.folder)
    if broken:
        msg = f"{descriptor.JOURNAL}: {broken[0].message} {broken[0].remedy} Nothing was written."
        raise PackageError(msg)
    return _into(package, _made(package, Path(folder).expanduser()), stamp, words)


def in_passing(package):
    """(package as the present schema has it, sentences): one that is older is brought there in a temporary copy.

    The copy is read only and goes away with the package; its journal stays as it was. PackageError for a later schema.
    """
    if versions.age(package) == versions.SAME:
        return package, []
    if versions.age(package) != versions.OLDER:
        raise PackageError(_not_older(package))
    place = Unpacked()
    done = _into(package, place.folder, None, "")
    copy = Package(done.package.folder, package.source, done.package.descriptor, read_only=True, keeper=place)
    return copy, done.sentences


def _not_older(package):
    if versions.age(package) == versions.SAME:
        return f"The package follows schema {schema.version()} already, so there is nothing to upgrade. Nothing was written."
    return " ".join((*versions.sentences(package), "Nothing was written."))


def _made(package, folder):
    """The folder for the copy; PackageError where it is taken."""
    if folder.resolve().is_relative_to(package.folder):
        msg = f"{folder} lies inside the package. Name a folder beside it, so that the package stays as it is."
        raise PackageError(msg)
    new_folder(folder, "Name a new folder for the upgraded copy.")
    return folder.resolve()


def _into(package, folder, stamp, words):
    """Everything that is copied, then everything that is written anew, in one commit."""
    told = {}
    for relative in manifest.files(package.folder):
        target = folder / relative
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(package.file(relative), target)
    if (package.folder / manifest.NAME).is_file():
        told[manifest.NAME] = ["It belongs to the package as it was shared, and was left there."]
    for name in package.resources:
        if outside.is_foreign(package, name) and name != "journal":
            told[name] = [OUTSIDE.format(package.resources[name]["path"])]
    steps = [s for s in schema.upgrades() if versions.ordered(s["to"]) > versions.ordered(package.schema_version)]
    files, resources, gone = _tables(package, steps, told)
    lines = [*_entries(package, resources, told, stamp, words)] if stamp else []
    _commit(package, folder, files, resources, lines, gone)
    return Upgraded(open_package(folder), package.schema_version, schema.version(), told)


def _tables(package, steps, told):
    """({path: bytes}, {name: resource}, paths that are no longer there) of what the copy has otherwise."""
    since = {name for step in steps for name in step["tables"]}
    own = [name for name in package.names if name in since and name in package.resources and not _is_ours(package, name)]
    present = [name for name in package.names if name not in own]
    files, resources, gone = {travel.PROFILE_PATH: contents.profile_file()}, {}, []
    for name in present:
        data, fields, said = _table(package, name, steps)
        whole = travel.table_schema(name, present)
        whole["fields"] = [*whole["fields"], *fields]
        files[package.schema_path(name)] = contents.as_json(whole)
        if data is not None:
            files[package.table_path(name)] = data
            resources[name] = descriptor.table_resource(schema.table(name), data, package.resources[name])
        if said:
            told[name] = [*told.get(name, ()), *said]
    for name in own:
        more, resource, left = _moved(package, name, free(f"{name}{OWN}".replace("_", "-"), package.resources))
        files, gone = files | more, gone + left
        resources[name] = resource
        told[name] = [f"The package's own table {name} is called {resource['name']} now: the schema has a table {name} since."]
    return files, resources, gone


def _is_ours(package, name):
    """Whether a table was written by a palea that knew it: its own schema then says the stage that it belongs to."""
    return "stage" in package.own_schema(name)


def _table(package, name, steps):
    """(bytes or None where the file stays as it is, fields of the package's own, sentences) of one table."""
    table, path = schema.table(name), package.file(package.table_path(name))
    fields = package.own_schema(name).get("fields")
    fields = [f for f in fields if isinstance(f, dict) and isinstance(f.get("name"), str)] if isinstance(fields, list) else []
    own = [f for f in fields if f["name"] not in table.fields]
    if not path.is_file():
        return None, own, ()
    if path.stat().st_size > kept.LARGEST:
        return None, own, (f"{package.table_path(name)} {TOO_LONG}.",)
    labels, columns, found = reading.texts(path.read_bytes(), table)
    if labels is None or found.broken or len(set(labels)) != len(labels) or "" in labels:
        why = found.findings[0].message if found.findings else "its first line does not name each column once."
        return None, own, (f"{package.table_path(name)} {STAYS.format(why)}",)
    done = carried(table, columns, fields, steps, package.schema_version)
    return writing.csv_bytes(done.columns) if done.told else path.read_bytes(), done.own, done.told


def _moved(package, name, called):
    """A table of the package's own, out of the way of the one that the schema has now."""
    resource = descriptor.thaw(package.resources[name]) | {"name": called}
    files, left = {}, []
    for key, folder, ending in (("path", "data", "csv"), ("schema", "schema", "json")):
        path = resource.get(key)
        if path == f"{folder}/{name}.{ending}" and package.file(path).is_file():
            resource[key] = f"{folder}/{called}.{ending}"
            files[resource[key]] = package.file(path).read_bytes()
            left.append(path)
    return files, resource, left


def _entries(package, resources, told, stamp, words):
    """A line for the upgrade as a whole, and one for each table that holds other bytes than were stated of it."""
    same = {"when": stamp.when, "who": stamp.who, "kind": "changed", "row": "[]", "reason": REASON}
    was, now = (f"schema {version}" for version in (package.schema_version, schema.version()))
    whole = f"Brought from {was} to {now} in a copy. {words}".strip()
    yield {**same, "table": "lots", "old": was, "new": now, "words": whole}
    for name, resource in resources.items():
        stated = package.resources[name].get("hash")
        if stated != resource.get("hash"):
            yield {**same, "table": name, "old": stated, "new": resource.get("hash"), "words": " ".join(told.get(name, ()))}


def _commit(package, folder, files, resources, entries, gone):
    """The descriptor of the present schema over the copied files, and all that changed, in one transaction."""
    raw = descriptor.thaw(package.descriptor) | travel.package_properties()
    raw["resources"] = [resources.pop(r["name"], r) for r in raw["resources"]]
    lines, facts = journal.appended(folder, entries)
    more = {"journal": descriptor.journal_resource(lines)} if lines or "journal" in package.resources else {}
    described = descriptor.with_resources(raw, more, **facts)
    files = {**files, **({descriptor.JOURNAL: lines} if more else {}), descriptor.NAME: descriptor.text(described)}
    with transaction.locked(folder):
        transaction.commit(folder, files, gone)
    named = {r["path"] for r in described["resources"] if isinstance(r.get("path"), str)}
    kept.keep(folder, {path: data for path, data in files.items() if path in named and path != descriptor.JOURNAL})

