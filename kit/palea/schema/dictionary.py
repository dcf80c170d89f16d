"""The schema in words: every table, column and allowed word, as Markdown or as data.

`python -m palea.schema.dictionary` writes schema/DICTIONARY.md.
"""

from palea.schema.read import table as one_table
from palea.schema.read import tables, version, vocabularies, vocabulary
from palea.schema.travel import table_schema, thaw
from palea.shipped import folder

TOP = """# What the tables mean

Schema {version}. Generated from the JSON beside this page: change that, then run `python -m palea.schema.dictionary`.

A package holds one CSV file a table. It may leave out tables without rows; people, taxa and lots are always there.
A star marks what must be filled in. Blank is not zero: a blank that matters has a reason.

## Tables

{contents}

{tables}

## Word lists

{words}
"""
BEFORE_SHARING = {
    "blur": "made coarse before sharing", "consent": "shared only with consent", "ask": "asked about before sharing",
}
LIMITS = {
    "minimum": "{} or more", "maximum": "{} or less", "exclusiveMinimum": "above {}", "exclusiveMaximum": "below {}",
}
SELF_EXPLAINING = ("name", "title", "definition", "source", "see")


def dictionary(table=None):
    """The meaning of one table, or of all, as Markdown; with the word lists that its columns use.

    table : name of a table, or None.  Raises SchemaError, with the nearest name, for a table that does not exist.
    """
    if table is not None:
        return f"{_table(one_table(table))}\n\n{_lists(_used([one_table(table)]))}".rstrip() + "\n"
    contents = "\n".join(f"- [{t.name}](#{t.name}): {t.title}" for t in tables().values())
    parts = "\n\n".join(map(_table, tables().values()))
    return TOP.format(version=version(), contents=contents, tables=parts, words=_lists(vocabularies())).rstrip() + "\n"


def as_json(table=None):
    """The same as data: `schemaVersion`, `tables` (Table Schemas, allowed words written out), `vocabularies`."""
    chosen = list(tables().values()) if table is None else [one_table(table)]
    lists = vocabularies() if table is None else _used(chosen)
    return {
        "schemaVersion": version(),
        "tables": [table_schema(t.name) for t in chosen],
        "vocabularies": [_as_data(vocabulary(name)) for name in lists],
    }


def write():
    """Write DICTIONARY.md beside the schema; returns its path."""
    path = folder("schema") / "DICTIONARY.md"
    path.write_text(dictionary(), encoding="utf-8")
    return path


def _used(chosen):
    """Names of the word lists that these tables use, in the order of their columns."""
    fields = [field for t in chosen for field in t.fields.values()]
    return dict.fromkeys(name for f in fields for name in (f.vocabulary, f.list_of, f.suggested) if name)


def _as_data(found):
    words = [thaw(word) for word in found.words.values()]
    return {"name": found.name, "title": found.title, "description": found.description, "words": words}


def _table(table):
    keys = [f"`{'`, `'.join(k.fields)}` names a row of [{k.table}](#{k.table})." for k in table.foreign_keys]
    links = "\n".join(f"- {key}" for key in keys)
    rows = [_row(field) for field in table.fields.values()]
    grid = _grid(("Column", "Title", "Meaning", "Written as", "Example", "Term"), rows)
    key = f"One row for each `{'`, `'.join(table.primary_key)}`."
    parts = (f"### {table.name}", f"{table.title}. {table.description}", key, links, grid)
    return "\n\n".join(part for part in parts if part)


def _row(field):
    star = "\\*" if field.required else ""
    terms = ", ".join(_term(key, term) for key, term in field.terms.items())
    example = str(field.example).lower() if isinstance(field.example, bool) else field.example
    return f"`{field.name}`{star}", field.title, field.description, _written(field), example, terms


def _written(field):
    """How the column is written: type or format, unit, limits, word list, and what happens to it before publication."""
    kind = field.parse or {"string": "text"}.get(field.type, field.type)
    unit = f"[{field.unit}]" if field.unit else ""
    lists = [("one of", field.vocabulary), ("of", field.list_of), ("for instance one of", field.suggested)]
    words = [f"{how} [{name}](#list-{name.replace('_', '-')})" for how, name in lists if name]
    parts = [f"{kind} {unit}".strip(), *words, *_limits(field.constraints), BEFORE_SHARING.get(field.sharing, "")]
    return "; ".join(part for part in parts if part)


def _limits(constraints):
    return [text.format(constraints[name]) for name, text in LIMITS.items() if name in constraints]


def _term(key, term):
    if key == "miappe":
        return f"MIAPPE {term}"
    return f"{key.split(':')[1]} [{term.rsplit('/', 1)[1].replace('_', ':')}]({term})"


def _lists(names):
    return "\n\n".join(_list(vocabulary(name)) for name in names)


def _list(found):
    rows = [(f"`{w['name']}`", w["title"], w["definition"], _logic(w), _source(w)) for w in found.words.values()]
    grid = _grid(("Word", "Title", "Meaning", "Counts as", "Source"), rows)
    return f"### List {found.name.replace('_', ' ')}\n\n{found.title}. {found.description}\n\n{grid}"


def _logic(word):
    return "; ".join(f"{key}: {_plain(value)}" for key, value in word.items() if key not in SELF_EXPLAINING)


def _source(word):
    return ", compare ".join([word["source"], *word.get("see", ())])


def _plain(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return "none"
    return ", ".join(map(str, value)) if isinstance(value, tuple) else str(value)


def _grid(head, rows):
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell).replace("|", "\\|") for cell in line) + " |" for line in lines)


if __name__ == "__main__":
    write()
