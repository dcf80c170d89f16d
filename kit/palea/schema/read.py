"""The schema's JSON as frozen objects. Nothing else in palea reads those files."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from types import MappingProxyType

from palea.errors import SchemaError
from palea.shipped import folder

NONE = MappingProxyType({})
PLAIN = ("parse", "unit", "vocabulary", "sharing", "list_of", "suggested")  # handed over as they stand
TYPED = {"string": str, "integer": int, "number": float, "boolean": "true".__eq__}  # a descriptor's example is text
NOT_PLAIN = re.compile(r"[.^$*+?{}()\[\]\\|]")  # what a pattern must escape


@dataclass(frozen=True)
class Field:
    """One column: what it means, how it is written, what is allowed.

    type : a Table Schema type.  parse : how its text is read ("partial date", "orcid" ...), "" where the type says it.
    unit : UCUM code, "" where the column has none.  vocabulary : name of its list of allowed words, "" else.
    constraints : as in Table Schema, with `enum` filled in from the vocabulary, `pattern` from `parse` and `list_of`.
    terms : ontology and Darwin Core terms by property (skos:exactMatch, dcterms:isVersionOf ...).
    sharing : what happens to it before publication ("blur", "consent", "ask"), "" else.
    list_of : word list that each entry of a list comes from, "" else.  suggested : word list that a form offers, while
    other words are allowed too, "" else.
    """

    name: str
    title: str
    description: str
    type: str
    parse: str = ""
    unit: str = ""
    vocabulary: str = ""
    example: object = None
    constraints: Mapping = field(default_factory=lambda: NONE)
    terms: Mapping = field(default_factory=lambda: NONE)
    sharing: str = ""
    list_of: str = ""
    suggested: str = ""

    @property
    def required(self):
        """Whether it must be filled in."""
        return bool(self.constraints.get("required"))

    @property
    def label(self):
        """Title with unit, as a form shows it."""
        return f"{self.title}, {self.symbol}" if self.symbol else self.title

    @property
    def symbol(self):
        """Its unit as it is printed; "" where the column has none, or counts."""
        return word("unit", self.unit)["symbol"] if self.unit else ""


@dataclass(frozen=True)
class ForeignKey:
    """Columns here that name a row there."""

    fields: tuple[str, ...]
    table: str
    to: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """One table. `label_fields` are the columns by which a person recognises a row in a list of choices."""

    name: str
    title: str
    description: str
    fields: Mapping[str, Field]
    primary_key: tuple[str, ...]
    foreign_keys: tuple[ForeignKey, ...]
    label_fields: tuple[str, ...]
    stage: str
    raw: Mapping = field(repr=False, default_factory=lambda: NONE)

    def __getitem__(self, name):
        """The field of that name; SchemaError with the nearest name else."""
        return _pick(self.fields, name, f"field of {self.name}")

    def link(self, name):
        """The foreign key that starts at this one column, or None."""
        return next((k for k in self.foreign_keys if k.fields == (name,)), None)


@dataclass(frozen=True)
class Vocabulary:
    """A list of allowed words. A word is a mapping with name, title, definition, source and the logic it carries."""

    name: str
    title: str
    description: str
    words: Mapping[str, Mapping]

    def __getitem__(self, name):
        """The word of that name; SchemaError with the nearest word else."""
        return _pick(self.words, name, f"word of the list {self.name}")


@cache
def version():
    """Version of the schema."""
    return (folder("schema") / "VERSION").read_text(encoding="utf-8").strip()


@cache
def tables():
    """All tables by name, in the order of work."""
    order = _json("tables.json")["order"]
    return MappingProxyType({name: _table(_json(f"tables/{name}.json")) for name in order})


def table(name):
    """The table of that name; SchemaError with the nearest name else."""
    return _pick(tables(), name, "table")


@cache
def vocabularies():
    """All word lists by name."""
    paths = sorted((folder("schema") / "vocabularies").glob("*.json"))
    return MappingProxyType({path.stem: _vocabulary(_json(f"vocabularies/{path.name}")) for path in paths})


def vocabulary(name):
    """The word list of that name; SchemaError with the nearest name else."""
    return _pick(vocabularies(), name, "word list")


def word(vocabulary_name, name):
    """One word of a list, with all it says."""
    return vocabulary(vocabulary_name)[name]


def words(vocabulary_name, **having):
    """Names of the words of a list, in order, kept where each given property has the given value.

    >>> words("movement_kind", sign=1)[0]
    'received'
    """
    found = vocabulary(vocabulary_name).words.values()
    return [w["name"] for w in found if all(w.get(k) == v for k, v in having.items())]


@cache
def checklist():
    """The items of the reporting checklist, in order. How one is evaluated is said in the file, under `how`.

    Each also carries `subject`: the table that its `each` stands for, "" for the package.
    """
    raw = _json("checklist.json")
    return tuple(_freeze({**item, "subject": raw["subjects"][item["each"]]}) for item in raw["items"])


@cache
def hazards():
    """GHS statements by code, and the edition they are taken from."""
    return _freeze(_json("hazards.json"))


@cache
def references():
    """Published sources by key, each as CSL-JSON."""
    return MappingProxyType({item["id"]: _freeze(item) for item in _json("references.json")})


@cache
def upgrades():
    """What later versions of the schema call otherwise, oldest step first: to, columns, words, and tables that were new."""
    return _freeze(_json("upgrades.json")["steps"])


def _json(path):
    return json.loads((folder("schema") / path).read_text(encoding="utf-8"))


def _freeze(value):
    if isinstance(value, dict):
        return MappingProxyType({k: _freeze(v) for k, v in value.items()})
    return tuple(map(_freeze, value)) if isinstance(value, list) else value


def _pick(mapping, name, what):
    try:
        return mapping[name]
    except KeyError:
        near = get_close_matches(str(name), mapping, 1)
        hint = f"The nearest is “{near[0]}”." if near else f"There are: {', '.join(mapping)}."
        msg = f"There is no {what} called “{name}”. {hint}"
        raise SchemaError(msg) from None


def _constraints(raw):
    found = dict(raw.get("constraints", {}))
    if "vocabulary" in raw:
        found["enum"] = list(vocabulary(raw["vocabulary"]).words)
    if "list_of" in raw:
        found["pattern"] = _list_pattern(raw["parse"], vocabulary(raw["list_of"]).words)
    elif "parse" in raw:
        found |= {k: v for k, v in word("text_format", raw["parse"]).items() if k == "pattern"}
    return found


def _list_pattern(parse, allowed):
    """Whole-cell pattern of a list of allowed words; a reason for a blank stands after its column's name."""
    one = "(" + "|".join(NOT_PLAIN.sub(r"\\\g<0>", name) for name in allowed) + ")"
    entry = f"[a-z][a-z0-9_]*: {one}" if parse == "why blank" else one
    return f"{entry}({word('text_format', parse)['separator']}{entry})*"


def _field(raw):
    constraints = _constraints(raw)
    terms = {k: v for k, v in raw.items() if ":" in k or k == "miappe"}
    plain = {k: raw[k] for k in PLAIN if k in raw}
    example = TYPED[raw["type"]](raw["example"]) if "example" in raw else None
    return Field(raw["name"], raw["title"], raw["description"], raw["type"], **plain, example=example,
                 constraints=_freeze(constraints), terms=_freeze(terms))


def _table(raw):
    keys = tuple(
        ForeignKey(tuple(k["fields"]), k["reference"].get("resource") or raw["name"], tuple(k["reference"]["fields"]))
        for k in raw.get("foreignKeys", ())
    )
    fields = MappingProxyType({f["name"]: _field(f) for f in raw["fields"]})
    return Table(raw["name"], raw["title"], raw["description"], fields, tuple(raw["primaryKey"]), keys,
                 tuple(raw.get("label_fields", raw["primaryKey"])), raw["stage"], _freeze(raw))


def _vocabulary(raw):
    return Vocabulary(raw["name"], raw["title"], raw["description"],
                      MappingProxyType({w["name"]: _freeze(w) for w in raw["words"]}))
