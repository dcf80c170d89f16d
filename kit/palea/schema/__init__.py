"""The standard as Python objects: tables, fields, word lists, hazards, checklist. Code uses names; it defines none."""

from palea.schema.read import (
    Field,
    ForeignKey,
    Table,
    Vocabulary,
    checklist,
    hazards,
    references,
    table,
    tables,
    upgrades,
    version,
    vocabularies,
    vocabulary,
    word,
    words,
)

__all__ = [
    "Field", "ForeignKey", "Table", "Vocabulary", "checklist", "hazards", "references", "table", "tables", "upgrades", "version",
    "vocabularies", "vocabulary", "word", "words",
]
