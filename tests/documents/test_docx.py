"""A page as a word processor's document: what it says, by what it is found, and the same bytes every time."""

import io
import re
import zipfile
from xml.etree import ElementTree as ET

import docx as office
import pytest
from PIL import Image

from palea.documents import docx, files
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
    Photograph,
    Picture,
    Row,
    Strong,
    numbered,
    reference,
)
from palea.errors import PaleaError

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" width="640" height="300"><rect width="90" height="9"/></svg>'
W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
# Order of the children of pPr and rPr as ECMA-376, part 1, 17.3.1.26 and 17.3.2.28 have it, as far as we use them.
P_ORDER = ["pStyle", "keepNext", "pBdr", "spacing", "ind", "jc"]
R_ORDER = ["rFonts", "b", "i", "color", "u"]


def pixels():
    made = io.BytesIO()
    Image.new("RGB", (30, 10)).save(made, "PNG")
    return made.getvalue()


@pytest.fixture(scope="module")
def page():
    return numbered(Page(
        "Record of a small trial", subtitle="Invented", facts=(("Written by", "A. Fennel"),), children=(
            Part("What was done", anchor="done", children=(
                Paragraph(("Seed of ", Emphasis("Armeria maritima"), " in ", Strong("four"), " batches (", Link("R-1", "runs-R 1"),
                           ") of ", reference("t"), Gap("pan speed", "runs-R 1"), Code("a b"), "\x00\x0b."), anchor="p"),
                Part("Steps", (Listing(("wet", "dust"), ordered=True), Listing(("one",)),
                               Note("hazard", (Paragraph("H314 Causes severe skin burns and eye damage."),), "Acid"))),
                Picture(DRAWING, "Two groups of dishes.", "Dishes", "figure-1"),
                Photograph(pixels(), "image/png", "A pellet cut open.", "A pellet"),
            )),
            Part("Appendix", letter="A", children=(
                Grid("Runs", ("Run", Column("Mass, g", "right")), (Row(("R 1", "40.0"), "runs-R 1"), ("R 2", "")), "t"),
                Anchor("end"),
            )),
        ),
    ))  # fmt: skip


@pytest.fixture(scope="module")
def written(page):
    return docx.write(page)


@pytest.fixture(scope="module")
def read(written):
    return office.Document(io.BytesIO(written))


@pytest.fixture(scope="module")
def body(written):
    with zipfile.ZipFile(io.BytesIO(written)) as file:
        return ET.fromstring(file.read("word/document.xml"))


def test_two_runs_give_the_same_bytes(page, written):
    assert docx.write(page) == written


def test_nothing_says_when_it_was_made(written):
    with zipfile.ZipFile(io.BytesIO(written)) as file:
        assert {entry.date_time for entry in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert file.namelist() == sorted(file.namelist())
        core = file.read("docProps/core.xml").decode()
    assert set(re.findall(r">(\d{4}-\d\d-\d\dT[^<]*)<", core)) == {"2000-01-01T00:00:00Z"}
    assert "python-docx" not in core


def test_headings_text_and_lists_are_there_in_order(read):
    told = [(p.style.name, p.text) for p in read.paragraphs if p.text]
    assert told[:3] == [("Title", "Record of a small trial"), ("Subtitle", "Invented"), ("Normal", "Written by: A. Fennel")]
    assert ("Heading 1", "What was done") in told
    assert ("Heading 2", "Steps") in told
    assert ("List Bullet", "one") in told
    assert [text for style, text in told if style == "List Continue"] == ["1. wet", "2. dust"]
    (words,) = [text for _, text in told if text.startswith("Seed of")]
    assert words == "Seed of Armeria maritima in four batches (R-1) of Table A1○ [not recorded: pan speed]a b."


def test_the_table_has_a_head_that_is_repeated_and_cells_that_stand_right(read, body):
    (table,) = read.tables
    assert [[c.text for c in row.cells] for row in table.rows] == [["Run", "Mass, g"], ["R 1", "40.0"], ["R 2", ""]]
    heads = [row.find(f"{W}trPr/{W}tblHeader") is not None for row in body.iter(f"{W}tr")]
    assert heads == [True, False, False]
    assert [cell.find(f".//{W}jc") is not None for cell in next(body.iter(f"{W}tr"))if cell.tag == f"{W}tc"] == [False, True]


def test_links_lead_to_bookmarks_that_exist_and_are_unique(body):
    marks = [mark.get(f"{W}name") for mark in body.iter(f"{W}bookmarkStart")]
    links = {link.get(f"{W}anchor") for link in body.iter(f"{W}hyperlink")}
    assert links == {docx.bookmark("runs-R 1"), docx.bookmark("t")}
    assert links <= set(marks)
    assert len(marks) == len(set(marks)) == 6


@pytest.mark.parametrize("anchor", ["runs-R 1", "1", "é" * 60, "cell!runs!3,4!room_c", "_x"])
def test_a_bookmark_has_a_name_that_word_processors_take(anchor):
    assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,39}", docx.bookmark(anchor))


def test_different_anchors_never_share_a_bookmark():
    names = ["a-b", "a_b", "a b", "x" * 60, "x" * 61]
    assert len({docx.bookmark(name) for name in names}) == len(names)


def test_pictures_carry_their_words(written):
    with zipfile.ZipFile(io.BytesIO(written)) as file:
        text = file.read("word/document.xml").decode()
        images = [name for name in file.namelist() if name.startswith("word/media/")]
    assert re.findall(r'descr="([^"]*)"', text) == ["Two groups of dishes.", "A pellet cut open."]
    assert len(images) == 2


def test_properties_stand_in_the_order_of_the_standard(body):
    for name, order in (("pPr", P_ORDER), ("rPr", R_ORDER)):
        for told in body.iter(f"{W}{name}"):
            inner = [child.tag.removeprefix(W) for child in told]
            if "sectPr" not in inner:
                assert inner == sorted(inner, key=order.index), inner


def test_the_language_is_said(written, page):
    with zipfile.ZipFile(io.BytesIO(written)) as file:
        styles = file.read("word/styles.xml").decode()
    assert f'w:lang w:val="{page.language}"' in styles


def test_a_file_of_another_kind_names_those_that_there_are(page, tmp_path):
    assert files.save(page, tmp_path / "a.docx").read_bytes()[:2] == b"PK"
    with pytest.raises(PaleaError, match=r"\.html, \.md or \.docx"):
        files.save(page, tmp_path / "a.odt")
    with pytest.raises(PaleaError, match=r"can be written as \.html\."):
        files.save(page, tmp_path / "a.md", endings=(".html",))
