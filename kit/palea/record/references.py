"""Published sources in full, from their CSL-JSON."""

import re

from palea import schema
from palea.documents.page import Paragraph, Part
from palea.record.story import anchor
from palea.words.prose import stop


def part(keys):
    """The Part that lists the cited sources by author and year, or None where none is cited."""
    known = schema.references()
    told = sorted(((formatted(known[key]), key) for key in set(keys) if key in known), key=lambda t: t[0].casefold())
    listed = tuple(Paragraph(line, anchor("references", key)) for line, key in told)
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
