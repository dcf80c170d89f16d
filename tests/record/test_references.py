"""Published sources as a reader expects them."""

import json
import re
from types import MappingProxyType

import pytest

from palea import schema
from palea.errors import PaleaError
from palea.record import methods, references

WELCH = MappingProxyType(
    {
        "id": "w",
        "author": ({"family": "Welch", "given": "B. L."},),
        "issued": {"date-parts": ((1947,),)},
        "title": "The generalization of ‘Student's’ problem",
        "container-title": "Biometrika",
        "volume": "34",
        "issue": "1-2",
        "page": "28-35",
        "DOI": "10.1093/biomet/34.1-2.28",
    }
)


def test_an_article_is_told_in_full():
    assert references.formatted(WELCH) == (
        "Welch B. L. (1947). The generalization of ‘Student's’ problem. Biometrika 34(1-2), 28-35. "
        "https://doi.org/10.1093/biomet/34.1-2.28"
    )


def test_every_reference_of_the_schema_can_be_told():
    for key, item in schema.references().items():
        line = references.formatted(item)
        assert line.startswith(references._people(item.get("author", ()))), key
        assert item["title"].rstrip(".") in line
        assert "None" not in line


def test_several_authors_are_joined():
    people = ({"family": "Breslow", "given": "N. E."}, {"family": "Clayton", "given": "D. G."})
    assert references._people(people) == "Breslow N. E. and Clayton D. G."


def test_sources_are_found_by_key_and_by_author_and_year():
    assert references.cited("see ghs-9, and nothing-1999.") == ["ghs-9"]
    assert references.cited("Breslow & Clayton 1993 (mixed model); Nobody 1950") == ["breslow-clayton-1993"]
    assert references.cited("Breslow 1994") == []


def test_only_what_is_cited_is_listed():
    key = next(iter(schema.references()))
    part = references.part([key, key, "nothing-1999"])
    assert len(part.children) == 1
    assert references.part([]) is None


def test_references_for_a_manager_hold_what_is_cited(tmp_path):
    keys = list(schema.references())
    items = json.loads(references.csl([*keys, keys[0], "nothing-1999"]))
    assert [item["id"] for item in items] == sorted(keys)
    assert all(item["type"] and item["title"] for item in items)  # both are what a reader of CSL-JSON needs
    text = references.bibtex(keys)
    assert re.findall(r"^@\w+\{([^,]+),$", text, re.MULTILINE) == sorted(keys)
    assert text.count("{") == text.count("}")
    path = references.save(keys, tmp_path / "r.bib")
    assert path.read_text(encoding="utf-8") == text
    with pytest.raises(PaleaError, match=r"\.bib or \.json"):
        references.save(keys, tmp_path / "r.ris")
    with pytest.raises(PaleaError, match="is there already"):
        references.save(keys, path)


def test_an_entry_is_one_that_bibtex_reads():
    """As the manual of BibTeX (Patashnik 1988) wants it: Last, First and Last, First; pages with two hyphens."""
    entry = references._entry({**WELCH, "id": "welch-1947", "type": "article-journal"})
    assert entry.startswith("@article{welch-1947,\n")
    assert "  author = {Welch, B. L.},\n" in entry
    assert "  pages = {28--35},\n" in entry
    assert "  number = {1-2},\n" in entry
    assert "  doi = {10.1093/biomet/34.1-2.28},\n" in entry
    odd = references._entry({"id": "x", "type": "book", "title": "Seeds & soil, 100 %", "author": ({"literal": "A Society & co"},)})
    assert r"title = {{Seeds \& soil, 100 \%}}" in odd
    assert r"author = {{A Society \& co}}" in odd
    assert "year" not in odd


def test_every_calculation_that_gave_a_kept_result_has_its_source_told(package):
    """The source of each recipe of a kept analysis is in the list, or says that there is none."""
    page = methods.assemble(package, figures=False)
    listed = next(part for part in page.children if getattr(part, "anchor", "") == "references")
    anchors = {p.anchor.removeprefix("references-") for p in listed.children}
    from palea.analyses import catalogue

    for row in package["analyses"].to_dict("records"):
        source = catalogue.find(row["recipe"]).source
        assert references.cited(source) or "no source" in source or "by hand" in source
        assert set(references.cited(source)) <= anchors
