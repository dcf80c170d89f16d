"""Tables and figures are called by number, and so do the sentences that lead to them."""

from palea.documents import html, markdown
from palea.documents.page import (
    Grid,
    Link,
    Page,
    Paragraph,
    Part,
    Photograph,
    Picture,
    numbered,
    reference,
    said,
    walk,
)

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" width="6" height="3"/>'


def table(name):
    return Grid("Runs", ("Run", "Mass"), (("R", "1"),), name)


def captions(page):
    return [said(thing.caption) for thing in walk(page.children) if getattr(thing, "caption", ())]


FIRST = (Paragraph(("see ", reference("b"), " and ", reference("x"))), table("a"), Picture(DRAWING, "alt", "Dishes", "f"))
INNER = (table("b"), Photograph(b"", "image/png", "alt", "A pellet", "g"), Grid("", ("A",), (("1",),)))
PAGE = Page("t", (Part("One", FIRST), Part("Appendix", (Part("Inner", INNER),), letter="A")))


def test_numbers_run_in_reading_order_and_begin_anew_under_a_letter():
    assert captions(numbered(PAGE)) == ["Table 1. Runs", "Figure 1. Dishes", "Table A1. Runs", "Figure A1. A pellet"]


def test_a_reference_says_the_number_and_leads_there():
    links = [thing for thing in walk(numbered(PAGE).children) if isinstance(thing, Link)]
    assert links == [Link("Table A1", "b"), Link("(not shown)", "x")]
    assert '<a href="#b">Table A1</a>' in html.write(numbered(PAGE))
    assert "[Table A1](#b)" in markdown.write(numbered(PAGE))


def test_a_table_can_be_reached_by_the_keyboard_and_is_named():
    text = html.write(numbered(PAGE))
    assert 'role="group" tabindex="0" aria-label="Table 1. Runs"' in text


def test_a_photograph_is_part_of_the_file():
    assert '<img src="data:image/png;base64," alt="alt">' in html.write(PAGE)
    assert "*In words: alt*" in markdown.write(PAGE)
