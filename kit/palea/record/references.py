"""Published sources in full, from their CSL-JSON: a list to print, and files for a reference manager."""

import json
import re
from pathlib import Path

from palea import schema
from palea.documents import files
from palea.documents.page import Paragraph, Part
from palea.errors import PaleaError
from palea.record.story import anchor
from palea.words.prose import stop

# Kinds of CSL 1.0.2 and the entry types of BibTeX that take their place; the rest is misc.
ENTRIES = {
    "article-journal": "article",
    "book": "book",
    "chapter": "incollection",
    "thesis": "phdthesis",
    "report": "techreport",
    "paper-conference": "inproceedings",
}
FIELDS = {
    "title": "title",
    "volume": "volume",
    "issue": "number",
    "page": "pages",
    "publisher": "publisher",
    "DOI": "doi",
    "URL": "url",
    "edition": "edition",
}
SPECIAL = re.compile(r"([&%$#_{}])")


def save(keys, path, *, replace=False):
    """Write the cited sources to a .bib or .json file; its path. PaleaError for another ending, or a file that is there."""
    writers = {".bib": bibtex, ".json": csl}
    writer = writers.get(Path(path).suffix.lower())
    if writer is None:
        msg = f"{path} ends in “{Path(path).suffix}”. References can be written as {' or '.join(writers)}."
        raise PaleaError(msg)
    return files.put(lambda: writer(keys), path, replace=replace)


def csl(keys):
    """The cited sources as CSL-JSON, by key, as text."""
    return (
        json.dumps(_plain([dict(item) for item in _items(keys)]), ensure_ascii=False, indent=1, sort_keys=True) + "\n"
    )


def _plain(value):
    """Frozen mappings and tuples as those that JSON knows."""
    if hasattr(value, "items"):
        return {k: _plain(v) for k, v in value.items()}
    return [_plain(v) for v in value] if isinstance(value, tuple | list) else value


def _items(keys):
    known = schema.references()
    return [{"id": key, **known[key]} for key in sorted(set(keys)) if key in known]


def bibtex(keys):
    """The cited sources as BibTeX, by key, as text (UTF-8)."""
    return "\n".join(map(_entry, _items(keys)))


def _entry(item):
    kind = ENTRIES.get(item.get("type"), "misc")
    fields = {
        "author": " and ".join(_bib_name(p) for p in item.get("author", ())),
        "year": _year(item).replace("no year", ""),
    }
    within = "booktitle" if kind in {"incollection", "inproceedings"} else "journal"
    fields |= {name: _bib(str(item[key])) for key, name in FIELDS.items() if item.get(key)}
    fields |= {
        within: _bib(item.get("container-title", "")),
        "pages": fields.get("pages", "").replace("-", "--").replace("----", "--"),
    }
    fields["title"] = f"{{{fields.get('title', '')}}}"  # capitals stay as they are
    for verbatim in ("doi", "url"):
        if item.get(verbatim.upper()):
            fields[verbatim] = item[verbatim.upper()]
    told = "".join(f"  {name} = {{{value}}},\n" for name, value in fields.items() if value)
    return f"@{kind}{{{item['id']},\n{told}}}\n"


def _bib_name(person):
    """A name as BibTeX splits it; a body is kept together."""
    if "literal" in person:
        return f"{{{_bib(person['literal'])}}}"
    return _bib(", ".join(filter(None, (person.get("family"), person.get("given")))))


def _bib(text):
    return SPECIAL.sub(r"\\\1", text)


def part(keys):
    """The Part that lists the cited sources by author and year, or None where none is cited."""
    known = schema.references()
    told = sorted(((formatted(known[key]), key) for key in set(keys) if key in known), key=lambda t: t[0].casefold())
    listed = tuple(Paragraph(line, anchor("references", key), small=True) for line, key in told)
    return Part("References", listed, "references") if told else None


def cited(text):
    """Keys of the references that a text names: by key, or by first author and year (“Newcombe 1998”)."""
    words = set(re.findall(r"[\w.-]+", text or "")) | set(re.findall(r"[\w-]+", text or ""))
    return [key for key, item in schema.references().items() if key in words or _by_author(item, text or "")]


def _by_author(item, text):
    people = item.get("author", ())
    family = people[0].get("family", "") if people else ""
    return bool(family) and re.search(rf"\b{re.escape(family)}\b[^;.]{{0,60}}\b{_year(item)}\b", text) is not None


def formatted(item):
    """One source as a line: authors, year, title, where it was published, and its address."""
    names = _people(item.get("author", ()))
    parts = [f"{names} ({_year(item)})", item.get("title", ""), _within(item), item.get("note-edition", "")]
    line = " ".join(stop(part) for part in parts if part)
    address = f"https://doi.org/{item['DOI']}" if item.get("DOI") else item.get("URL", "")
    return f"{line} {address}".strip()


def _people(people):
    names = [_name(person) for person in people]
    if len(names) > 6:
        return f"{names[0]} et al."
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1] if names else "Unsigned"


def _name(person):
    if "literal" in person:
        return person["literal"]
    initials = " ".join(f"{part[0]}." for part in person.get("given", "").replace("-", " ").split() if part)
    return f"{person.get('family', '')} {initials}".strip()


def _year(item):
    dates = item.get("issued", {}).get("date-parts", ())
    return str(dates[0][0]) if dates else "no year"


def _within(item):
    """Journal with volume and pages, or publisher."""
    volume = f" {item['volume']}" if item.get("volume") else ""
    issue = f"({item['issue']})" if item.get("issue") else ""
    pages = f", {str(item['page']).replace('--', '-')}" if item.get("page") else ""
    journal = item.get("container-title", "")
    return f"{journal}{volume}{issue}{pages}" if journal else item.get("publisher", "")
