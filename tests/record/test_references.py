"""Published sources as a reader expects them."""

from types import MappingProxyType

from palea import schema
from palea.record import references

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
