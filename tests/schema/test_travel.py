"""The schema that travels: a package made of it is valid for a reader that knows nothing of palea.

Truth from outside: frictionless, the reference reader of data packages, and the official profiles.
"""

import csv
import hashlib
import json

import jsonschema
import pytest
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT7

from palea import schema
from palea.schema import travel
from palea.shipped import folder

TABLES = [name for name in schema.tables() if name != "journal"]


def a_row(name):
    """One row of a table, with what must be filled in, and every key leading to the row of the other table."""
    table = schema.table(name)
    row = {n: f.example for n, f in table.fields.items() if f.required}
    for key in table.foreign_keys:
        row |= dict(zip(key.fields, (schema.table(key.table)[to].example for to in key.to), strict=True))
    return row


class Tiny:
    """A package folder of one row a table, written by hand from the travelling schema."""

    def __init__(self, path, names=TABLES):
        self.path, self.names = path, names
        self.rows = {name: a_row(name) for name in names}
        self.descriptor = {**travel.package_properties(), "name": "tiny", "resources": [
            {**travel.resource(name, f"data/{name}.csv")} for name in names]}

    def write(self, **options):
        for part in ("data", "schema"):
            (self.path / part).mkdir(exist_ok=True)
        for name, row in self.rows.items():
            self._table(name, row, options.get("extra", ()) if name == "lots" else ())
        self._json(travel.PROFILE_PATH, travel.profile())
        self._json("datapackage.json", self.descriptor)

    def _table(self, name, row, extra):
        with (self.path / f"data/{name}.csv").open("w", newline="", encoding="utf-8") as file:
            out = csv.DictWriter(file, [*schema.table(name).fields, *extra], lineterminator="\n")
            out.writeheader()
            out.writerow(row)
        self._json(f"schema/{name}.json", travel.table_schema(name, present=self.names, extra=extra))

    def _json(self, relative, value):
        (self.path / relative).write_text(json.dumps(value), encoding="utf-8")

    def errors(self, **options):
        """(kind of error, table, message) for all that frictionless finds."""
        import frictionless

        self.write(**options)
        report = frictionless.validate(str(self.path / "datapackage.json"))
        in_rows = [(e.type, task.name, e.message) for task in report.tasks for e in task.errors]
        return [(e.type, "", e.message) for e in report.errors] + in_rows


@pytest.fixture
def tiny(tmp_path):
    return Tiny(tmp_path)


def test_one_row_of_every_table_is_valid(tiny):
    assert tiny.errors() == []


def test_the_least_package_is_valid(tmp_path):
    """People, taxa and lots alone: keys to tables that are not there are left out."""
    assert Tiny(tmp_path, ["people", "taxa", "lots"]).errors() == []


def test_no_key_leads_to_a_table_that_is_not_there():
    """frictionless passes over such a key; the standard does not allow it, and other readers refuse it."""
    few = travel.table_schema("movements", present=["people", "taxa", "lots"])["foreignKeys"]
    assert {key["reference"]["resource"] for key in few} == {"people", "lots"}
    every = travel.table_schema("movements")["foreignKeys"]
    assert {key["reference"]["resource"] for key in every} > {"people", "lots"}
    own = travel.table_schema("units", present=[])["foreignKeys"]
    assert [key["fields"] for key in own] == [["parent_unit_id"]], "a key to the table itself stays"


@pytest.mark.parametrize(("table", "column", "value", "kind"), [
    ("lots", "taxon_id", "nobody", "foreign-key"),
    ("units", "parent_unit_id", "nowhere", "foreign-key"),
    ("contrasts", "outcome", "t10", "foreign-key"),
    ("counts", "observer", "nobody", "foreign-key"),
    ("lots", "seed_unit", "pod", "constraint-error"),
    ("lots", "latitude", "91", "constraint-error"),
    ("lots", "collected_from", "07/08/2023", "constraint-error"),
    ("visits", "looked_for", "normal, abnormal", "constraint-error"),
    ("movements", "moisture_pct", "100", "constraint-error"),
    ("units", "sown_n", "ca. 40", "type-error"),
    ("people", "kind", "", "constraint-error"),
    ("lots", "lot_id", "=A1", "constraint-error"),
])
def test_a_planted_fault_is_found_by_a_foreign_reader(tiny, table, column, value, kind):
    tiny.rows[table][column] = value
    assert (kind, table) in {(k, t) for k, t, _ in tiny.errors()}


def test_a_column_of_ones_own_travels_with_the_table(tiny):
    tiny.rows["lots"]["shelf"] = "B 3"
    assert tiny.errors(extra=("shelf",)) == []
    listed = travel.table_schema("lots", extra=("shelf",))["fields"]
    assert listed[-1] == {"name": "shelf", "type": "string", "custom": True}


def test_what_travels_says_all_that_the_schema_says():
    field = next(f for f in travel.table_schema("movements")["fields"] if f["name"] == "mass_g")
    assert field["unit"] == "g"
    assert field["skos:closeMatch"] == "http://purl.obolibrary.org/obo/PATO_0000125"
    kinds = next(f for f in travel.table_schema("movements")["fields"] if f["name"] == "kind")
    assert kinds["constraints"]["enum"] == list(schema.vocabulary("movement_kind").words)
    assert [m["value"] for m in travel.table_schema("movements")["missingValues"]] == [""]


def faults(descriptor, whole=True):
    """What our profile has to say, with nothing fetched: all of it, or only the part that travels."""
    registry = Registry().with_resources((a, Resource(p, DRAFT7)) for a, p in travel.official().items())
    profile = next(p for a, p in travel.official().items() if a.startswith("urn:palea")) if whole else travel.profile()
    return [e.message for e in jsonschema.Draft7Validator(profile, registry=registry).iter_errors(descriptor)]


@pytest.mark.parametrize("whole", [True, False], ids=["with the official profile", "as it travels"])
class TestProfile:
    def test_takes_the_least_package(self, tmp_path, whole):
        assert faults(Tiny(tmp_path, ["people", "taxa", "lots"]).descriptor, whole) == []

    def test_takes_resources_of_other_names(self, tiny, whole):
        tiny.descriptor["resources"].append({"name": "photographs", "path": "photographs.zip"})
        assert faults(tiny.descriptor, whole) == []

    @pytest.mark.parametrize("missing", ["people", "taxa", "lots"])
    def test_wants_the_least_tables(self, tiny, whole, missing):
        tiny.descriptor["resources"] = [r for r in tiny.descriptor["resources"] if r["name"] != missing]
        assert faults(tiny.descriptor, whole)

    @pytest.mark.parametrize(("key", "value"), [
        ("encoding", "latin-1"), ("path", "lots.csv"), ("path", "data/../lots.csv"), ("type", "file"),
        ("schema", {"fields": []}),
    ])
    def test_our_names_have_rules(self, tiny, whole, key, value):
        lots = next(r for r in tiny.descriptor["resources"] if r["name"] == "lots")
        lots[key] = value
        assert faults(tiny.descriptor, whole)

    def test_wants_the_version_of_the_schema(self, tiny, whole):
        del tiny.descriptor["schemaVersion"]
        assert faults(tiny.descriptor, whole)


def test_the_official_profile_is_part_of_ours(tiny):
    """Something that only the official profile forbids: an empty list of licences."""
    tiny.descriptor["licenses"] = []
    assert faults(tiny.descriptor)
    assert not faults(tiny.descriptor, whole=False)


def test_our_profile_knows_every_table_by_name():
    ours = json.dumps(travel.profile())
    assert not [name for name in TABLES if f'"{name}"' not in ours]


@pytest.mark.parametrize(("name", "characters", "starts"), [
    ("datapackage", 158692, "a9ef0fc1"), ("dataresource", 130721, "a9d17768"), ("tabledialect", 3926, "54e884a8"),
    ("tableschema", 112440, "591d2b6e"),
])
def test_the_official_profiles_are_unchanged(name, characters, starts):
    """Lengths as stored from the repository frictionlessdata/datapackage, version 2.0; hashes as first bundled."""
    data = (folder("schema") / f"official/{name}.json").read_bytes()
    assert len(data.decode()) == characters
    assert hashlib.sha256(data).hexdigest().startswith(starts)
