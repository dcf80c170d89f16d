"""A package: tables on disk, read when asked for, and as they would be with changes that are not yet saved."""

import hashlib
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from palea import schema
from palea.errors import PackageError
from palea.schema import travel
from palea.tables import conditions, editing, fingerprints, journal, paths, reading
from palea.tables import descriptor as descriptors
from palea.tables.sheet import blank


@dataclass(frozen=True, eq=False)
class Package:
    """One package. Frozen: `having` and `replacing` give another one, and only `saving.save` writes.

    folder : where its files lie.  source : the path that was opened.  descriptor : datapackage.json, frozen.
    read_only : True for a zip.  Frames are handed out as they are kept: never write into one, take a copy.
    """

    folder: Path
    source: Path
    descriptor: MappingProxyType
    read_only: bool = False
    keeper: object = field(default=None, repr=False)  # holds an unpacked zip on disk as long as a package reads from it
    edited: MappingProxyType = field(default_factory=lambda: MappingProxyType({}), repr=False)  # {table: Sheet}
    described: MappingProxyType = field(default_factory=lambda: MappingProxyType({}), repr=False)  # by `describing`
    _read: dict = field(default_factory=dict, repr=False)  # {table: Sheet}, shared by all states of one opening
    _looks: dict = field(default_factory=dict, repr=False)  # {table: what its file looked like when it was read}, shared too

    @property
    def title(self):
        """The package's title, or its name, or its folder's."""
        return str(self.descriptor.get("title") or self.descriptor.get("name") or self.folder.name)

    @property
    def schema_version(self):
        """Version of the schema that it follows; "" where it does not say."""
        return str(self.descriptor.get("schemaVersion", ""))

    @cached_property
    def resources(self):
        """The resources by name; of a repeated name the first."""
        return MappingProxyType({r["name"]: r for r in reversed(self.descriptor["resources"])})

    @property
    def names(self):
        """Tables of the schema that are present, in the schema's order; the journal apart."""
        return tuple(n for n in schema.tables() if n != "journal" and (n in self.resources or n in self.edited))

    @property
    def extra_names(self):
        """Resources that are no tables of the schema; they are kept as they are."""
        return tuple(name for name in self.resources if name not in schema.tables())

    def __getitem__(self, table):
        """The typed frame of a table; empty and typed where the package has none. SchemaError for an unknown name."""
        if table == "journal":
            return journal.frame(self.folder)
        return self.sheet(table).frame

    def sheet(self, table):
        """All that is known of a table: frame, further columns, unreadable cells, findings."""
        return self.edited.get(table) or self.stored(table)

    def stored(self, table):
        """The Sheet of a table as it is on disk, whatever was changed since."""
        if table not in self._read:
            self._looks[table] = self._look(table)  # before reading: what changes meanwhile is then noticed
            self._read[table] = self._load(schema.table(table))
        return self._read[table]

    def stale(self):
        """Names of the tables that were read and whose file is another by now: frames of them are older than the disk.

        Cheap enough to ask before each answer: a file is read again, for its hash, only where its time or size changed.
        """
        return tuple(name for name in self._read if self._is_stale(name))

    def misfits(self, table):
        """Findings about the table's file and the cells that could not be read, as a tuple."""
        return self.sheet(table).findings

    def extra_columns(self, table):
        """Columns that the schema does not know, as a frame of text."""
        return self.sheet(table).extra

    def having(self, table, rows):
        """The package as it would be with these rows added, or put in place of those with the same primary key.

        rows : frame, or list of mappings. A column that is not named keeps its value in a row that is there
            already, and
        is missing in a new one. Text in a number column is read as in a file; what cannot be read is missing and a
        Finding.
        A column that neither schema nor package knows raises SchemaError. Nothing is written.
        """
        return self._with(table, editing.having(self.sheet(table), rows))

    def replacing(self, table, frame):
        """The package with `frame` as all rows of that table, in the order given. Nothing is written."""
        return self._with(table, editing.replacing(self.sheet(table), frame))

    def describing(self, **facts):
        """The package with these facts (title, licenses, keywords ...) in its descriptor; None takes one out."""
        raw = descriptors.thaw(self.descriptor) | facts
        fixed = {"resources", "palea", *travel.package_properties()} & set(facts)
        if fixed:
            msg = f"“{', '.join(sorted(fixed))}” is written by palea itself. Change the tables instead."
            raise PackageError(msg)
        frozen = descriptors.freeze({k: v for k, v in raw.items() if v is not None})
        return replace(self, descriptor=frozen, described=MappingProxyType({**self.described, **facts}))

    @property
    def changed(self):
        """{table: frame} of what is not on disk yet."""
        return MappingProxyType({name: sheet.frame for name, sheet in self.edited.items()})

    def file_hash(self, name):
        """Hash of the one file of a resource as it is on disk, "sha256:..."; "" where it has no single file."""
        if name in self._read:
            return f"sha256:{self._read[name].sha256}" if self._read[name].sha256 else ""
        path = self.resources.get(name, {}).get("path")
        path = self.file(path) if isinstance(path, str) else None
        if path is None or not path.is_file():
            return ""
        with path.open("rb") as source:
            return f"sha256:{hashlib.file_digest(source, 'sha256').hexdigest()}"

    def file(self, relative):
        """The path of a file of the package; UnsafePackage where the path leaves it or is a link. It need not exist."""
        return paths.inside(self.folder, relative)

    def journal(self):
        """The lines of the journal as a list of dicts, oldest first; lines that cannot be read are left out."""
        return journal.read(self.folder)

    def fingerprint(self, reads):
        """Hash over columns {table: [column, ...]}: "sha256:..." that does not depend on the order of rows or of
        columns.
        """
        return fingerprints.of({name: (schema.table(name), self[name], columns) for name, columns in reads.items()})

    def table_path(self, table):
        """Where the file of a table lies, relative to the package."""
        return self.resources[table]["path"] if table in self.resources else f"data/{table}.csv"

    def schema_path(self, table):
        """Where the travelling schema of a table lies, relative to the package."""
        named = self.resources.get(table, {}).get("schema")
        return named if isinstance(named, str) else f"schema/{table}.json"

    def unchanged(self):
        """The package as it is on disk."""
        return replace(self, edited=MappingProxyType({}))

    def own_schema(self, name):
        """The table schema that the package itself holds for a resource, as a dict; {} where it has none that can
        be read.
        """
        named = self.resources.get(name, {}).get("schema")
        if isinstance(named, MappingProxyType):
            return descriptors.thaw(named)
        path = paths.inside(self.folder, named) if isinstance(named, str) else None
        try:
            return descriptors.parse(path.read_bytes(), path) if path and path.is_file() else {}
        except PackageError:
            return {}

    def own_fields(self, table):
        """Fields that the package adds to a table of the schema, as dicts."""
        known = schema.table(table).fields
        fields = self.own_schema(table).get("fields")
        named = (
            [f for f in fields if isinstance(f, dict) and isinstance(f.get("name"), str)]
            if isinstance(fields, list)
            else []
        )
        return [f for f in named if f["name"] not in known]

    def _load(self, table):
        path = paths.inside(self.folder, self.table_path(table.name))
        if table.name not in self.resources or not path.is_file():
            return blank(table)
        if table.name == "conditions" and path.stat().st_size > conditions.LARGE:
            with suppress(ValueError):  # a header that is not the schema's is told by the usual reader
                return conditions.sheet(path, self._known_to(table))
        data = paths.read(path)
        return reading.read(data, table, [f["name"] for f in self.own_fields(table.name)])

    def _look(self, table):
        """What tells a file from the one that was there before without reading it; None where there is none."""
        with suppress(OSError):
            found = (self.folder / self.table_path(table)).stat()
            return found.st_mtime_ns, found.st_size, found.st_ino
        return None

    def _is_stale(self, table):
        look = self._look(table)
        if table not in self._looks or look == self._looks[table]:
            return False
        found = ""
        with suppress(OSError), (self.folder / self.table_path(table)).open("rb") as source:
            found = hashlib.file_digest(source, "sha256").hexdigest()
        if found == self._read[table].sha256:  # written again with the same bytes
            self._looks[table] = look
        return found != self._read[table].sha256

    def _known_to(self, table):
        """{column: ids that it may name} of the links of a table."""
        links = [key for key in table.foreign_keys if len(key.fields) == 1]
        return {key.fields[0]: self[key.table][key.to[0]].dropna().unique().tolist() for key in links}

    def _with(self, table, sheet):
        if table == "journal":
            msg = "The journal is written by saving alone. Save with a reason and words, and it says them."
            raise PackageError(msg)
        return replace(self, edited=MappingProxyType({**self.edited, table: sheet}))
