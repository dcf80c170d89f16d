"""A page written as HTML and as Markdown: well-formed, self-contained, read by ear, and safe with hostile text."""

import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from palea import look
from palea.documents import drawing, html, markdown
from palea.documents.page import (
    Anchor,
    Code,
    Column,
    Emphasis,
    Gap,
    Grid,
    Link,
    Listing,
    Note,
    Page,
    Paragraph,
    Part,
    Picture,
    Row,
    Strong,
    anchors,
    gaps,
    runs,
    said,
)
from palea.errors import PaleaError

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" width="640" height="300"><rect id="a" width="9" height="9"/></svg>'
HOSTILE = '<script>alert("x")</script> & "quoted" | *star* [link](http://example.org) <img src=x onerror=y>'
VOID = {"meta", "br", "hr", "img", "input", "link"}


@pytest.fixture
def full():
    """A page with one of everything."""
    return Page(
        title="Record of a small trial",
        subtitle="Invented",
        facts=(("Written by", "A. Fennel"),),
        children=(
            Part(
                "What was done",
                anchor="done",
                children=(
                    Paragraph(
                        (
                            "Seed of ",
                            Emphasis("Armeria maritima"),
                            " was coated in ",
                            Strong("four"),
                            " batches (",
                            Link("R-1", "runs-R 1"),
                            "), at ",
                            Gap("pan speed, batch 3", "runs-R 1"),
                            ".",
                        )
                    ),
                    Part(
                        "Steps",
                        anchor="steps",
                        children=(
                            Listing(("wet", ("dust with ", Code("M-1"))), ordered=True),
                            Note("hazard", (Paragraph("H314 Causes severe skin burns and eye damage."),), title="Acid"),
                        ),
                    ),
                ),
            ),
            Part("Seed", (Paragraph("A lot."), Anchor("lots-1")), anchor="seed"),
            Part(
                "Results",
                anchor="r",
                children=(Picture(DRAWING, "Two groups of dishes.", "Dishes by treatment", "figure-1"),),
            ),
            Part(
                "Rows",
                anchor="rows",
                children=(
                    Grid(
                        "Runs",
                        ("Run", Column("Mass, g", "right")),
                        (Row(("R 1", "40.0"), "runs-R 1"), (("R 2"), Gap("mass, R 2"))),
                    ),
                ),
            ),
        ),
    )


class Tree(HTMLParser):
    """Collects elements with attributes and checks that they nest."""

    def __init__(self, text):
        super().__init__()
        self.open, self.found = [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.found.append((tag, dict(attributes), tuple(self.open)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.found.append((tag, dict(attributes), tuple(self.open)))

    def handle_endtag(self, tag):
        assert self.open, tag
        assert self.open.pop() == tag

    def of(self, *tags):
        return [attributes for tag, attributes, _ in self.found if tag in tags]


def test_html_nests_and_says_its_language(full):
    tree = Tree(html.write(full))
    assert tree.of("html") == [{"lang": "en"}]
    assert len(tree.of("h1")) == 1


def test_headings_never_skip_a_level(full):
    levels = [int(tag[1]) for tag, _, _ in Tree(html.write(full)).found if re.fullmatch("h[1-6]", tag)]
    assert max(levels) == 3
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_nothing_is_fetched_and_nothing_runs(full):
    text = html.write(full)
    tree = Tree(text)
    assert not tree.of("script", "link", "iframe", "object", "embed", "img")
    assert all(a["href"].startswith("#") for a in tree.of("a"))
    assert not any(name.startswith("on") or name == "src" for _, attributes, _ in tree.found for name in attributes)
    assert re.findall(r"(?:https?:)?//[a-z]", text.replace(drawing.SVG, "")) == []
    assert "@import" not in text
    assert "url(" not in text


def test_every_table_has_a_caption_and_scopes(full):
    tree = Tree(html.write(full))
    assert len(tree.of("caption")) == len(tree.of("table")) == 1
    assert {h.get("scope") for h in tree.of("th")} == {"col", "row"}


def test_a_picture_is_told_in_words(full):
    (shown,) = Tree(html.write(full)).of("svg")
    assert (shown["role"], shown["aria-label"]) == ("img", "Two groups of dishes.")
    assert "Two groups of dishes." in markdown.write(full)
    with pytest.raises(ValueError, match="needs a text alternative"):
        Picture(DRAWING, " ")


def test_links_lead_somewhere_and_ids_are_unique(full):
    tree = Tree(html.write(full))
    ids = [attributes["id"] for _, attributes, _ in tree.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {a["href"][1:] for a in tree.of("a")} <= set(ids)
    assert "#runs-R_20_1" in {a["href"] for a in tree.of("a")}


def test_a_link_without_its_anchor_is_plain_words():
    page = Page("p", (Paragraph((Link("R-1", "nowhere"), Gap("speed", "nowhere"))),))
    assert Tree(html.write(page)).of("a") == []
    assert "](#" not in markdown.write(page)


@pytest.mark.parametrize(("one", "other"), [("R 1", "R-1"), ("R_20_1", "R 1"), ("a_b", "a b"), ("ä", "_e4_")])
def test_two_anchors_never_become_one_id(one, other):
    assert html.identifier(one) != html.identifier(other)


@pytest.mark.parametrize(
    "build",
    [
        Paragraph,
        lambda t: Paragraph(Strong(t)),
        lambda t: Paragraph(Code(t)),
        lambda t: Paragraph(Gap(t)),
        lambda t: Part(t, ()),
        lambda t: Listing((t,)),
        lambda t: Grid(t, (t,), ((t,),)),
        lambda t: Note("remark", (), t),
        lambda t: Picture(DRAWING, t, t),
        lambda t: Paragraph("x", anchor=t),
        lambda t: Paragraph(Link(t, t)),
    ],
)
def test_hostile_text_stays_text(build):
    page = Page(HOSTILE, (build(HOSTILE),), subtitle=HOSTILE, facts=((HOSTILE, HOSTILE),))
    tree = Tree(html.write(page))
    assert not tree.of("script", "img")
    assert not any(name.startswith("on") for _, attributes, _ in tree.found for name in attributes)
    outside_code = re.sub(r"`[^`]*`", "", markdown.write(page))
    assert not re.search(r"(?<!\\)<(?!a id=|/a>)", outside_code)
    assert "](http" not in outside_code.replace("\\]", "")


def test_markdown_rows_keep_their_cells():
    page = Page("p", (Grid("t", ("a", "b"), (("x | y", "two\nlines"), (Code("p|q"), "z"))),))
    rows = [line for line in markdown.write(page).splitlines() if line.startswith("|")]
    assert [len(re.findall(r"(?<!\\)\|", row)) for row in rows] == [3, 3, 3, 3]


def test_markdown_says_the_same_words_as_html(full):
    def words(text):
        return re.sub(r"\W+", " ", text)

    shown = re.sub(r"<style>.*?</style>|<nav.*?</nav>|<title>.*?</title>", "", html.write(full), flags=re.DOTALL)
    marked = re.sub(r"\]\(#[^)]*\)", "]", markdown.write(full))
    told = words(re.sub(r"<[^>]*>", "", marked).replace("\\", ""))
    for line in re.sub(r"<[^>]*>", "", re.sub("(</dt>|</t[hd]>)", " ", shown)).splitlines():
        assert words(line).strip() in told


@pytest.mark.parametrize("start", ["- not a list", "1. not a list", "+ no", "# no heading", "> no quote"])
def test_markdown_paragraph_stays_a_paragraph(start):
    line = markdown.write(Page("p", (Paragraph(start),))).splitlines()[-1]
    assert not re.match(r"([-+*#>]|\d+[.)])\s", line)
    assert line.replace("\\", "") == start


def test_both_writers_give_the_same_bytes_again(full):
    assert html.write(full) == html.write(full)
    assert markdown.write(full) == markdown.write(full)


def test_gaps_are_found_wherever_they_stand(full):
    assert [gap.text for gap in gaps(full)] == ["[not recorded: pan speed, batch 3]", "[not recorded: mass, R 2]"]
    assert html.write(full).count('class="gap"') == 2


def test_anchors_are_places_and_not_links(full):
    assert anchors(full) == ["done", "steps", "seed", "lots-1", "r", "figure-1", "rows", "runs-R 1"]


def test_a_row_that_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="3 cells does not fit 2 columns"):
        Grid("t", ("a", "b"), (("1", "2", "3"),))


def test_runs_are_flattened_and_said():
    assert runs(["a", ("", (Strong("b"),)), Gap("c")]) == ("a", Strong("b"), Gap("c"))
    assert said(("a ", Emphasis("b"), " ", Gap("c", reason="withheld by K"))) == "a b [withheld by K: c]"


def test_what_no_page_holds_is_refused():
    with pytest.raises(TypeError, match="cannot hold a str"):
        html.write(Page("p", ("loose text",)))


def _luminance(colour):
    """Relative luminance. Source: WCAG 2.1, definition of relative luminance."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one, other):
    """Contrast ratio. Source: WCAG 2.1, success criterion 1.4.3."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_agrees_with_the_published_extremes():
    """Source: WCAG 2.1: ratios run from 1 to 21, black on white is 21."""
    assert _contrast("#000000", "#FFFFFF") == pytest.approx(21)


def test_every_text_colour_holds_its_contrast_on_paper_and_on_the_band():
    colours = dict(re.findall(r"--(\w+): (#\w+);", html.style()))
    text = {name: c for name, c in colours.items() if name not in {"paper", "line", "band"}}
    assert {"ink", "quiet", "gap", "link", "hazard", "caution", "remark"} == set(text)
    for colour in text.values():
        assert _contrast(colour, look.PAPER) >= 4.5
    for name in ("ink", "gap"):  # links on the band are set in ink: see page.css
        assert _contrast(text[name], look.BAND) >= 4.5


HOSTILE_DRAWINGS = [
    "<script>alert(1)</script>",
    '<image href="http://example.org/x.png"/>',
    '<a href="http://example.org"><text>t</text></a>',
    '<rect onload="x()" width="1"/>',
    "<style>@import url(http://example.org/x.css)</style>",
    "<foreignObject><p>x</p></foreignObject>",
    '<use href="http://example.org/x.svg#a"/>',
    '<rect fill="url(http://example.org/x.svg#a)"/>',
    '<rect style="fill:url(http://example.org)"/>',
    '<animate attributeName="x" onbegin="x()"/>',
    '<g xmlns:x="urn:x" x:href="http://example.org"/>',
]


@pytest.mark.parametrize("inner", HOSTILE_DRAWINGS)
def test_only_shapes_of_a_drawing_are_kept(inner):
    svg = f'<svg xmlns="{drawing.SVG}" width="10" height="10"><circle r="1"/>{inner}</svg>'
    kept = drawing.inline(svg, "p1", "A circle.")
    assert "<circle" in kept
    assert not re.search(r"script|example|on\w+=|style|foreign|animate|alert|use", kept)


@pytest.mark.parametrize(
    ("svg", "sentence"),
    [
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "declares a document type"),
        ("<svg><rect></svg>", "not well-formed"),
        ("<html/>", "outer element is “html”"),
    ],
)
def test_what_is_no_drawing_is_refused(svg, sentence):
    with pytest.raises(PaleaError, match=sentence):
        drawing.inline(svg, "p1", "x")


def test_two_drawings_do_not_share_their_inner_names():
    svg = (
        f'<svg xmlns="{drawing.SVG}" width="10" height="20px"><clipPath id="clip0"><rect/></clipPath>'
        '<g clip-path="url(#clip0)"/></svg>'
    )
    shown = html.write(Page("p", (Picture(svg, "one"), Picture(svg, "two"))))
    assert re.findall(r'id="(picture\d-clip0)"', shown) == ["picture1-clip0", "picture2-clip0"]
    assert re.findall(r"url\(#(.*?)\)", shown) == ["picture1-clip0", "picture2-clip0"]
    assert 'viewBox="0 0 10 20"' in shown
