"""A page as a word processor's document (Office Open XML), for journals that ask for one: the same parts, in their order.

Headings, tables with repeated heads, alternative texts and the language are marked as such, so that it can be read by
ear; anchors are bookmarks. Nothing in it says when or on which machine it was written: the same page gives the same bytes.
"""

import hashlib
import io
import re
import zipfile
from datetime import datetime
from functools import singledispatchmethod

from palea.documents import drawing, page
from palea.documents.html import NOTES, identifier
from palea.documents.office import cell_of, element, fields, paragraph_of, style_sheet, text_run

WIDTH_MM = 170  # of the text on A4 with margins of 2 cm
HIGHEST_MM = 215
FIXED = datetime(2000, 1, 1)  # noqa: DTZ001 - a document says a moment without a zone; this one means nothing
ZIPPED = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip can say
LONGEST_NAME = 40  # of a bookmark
SHARP = 2  # pixels of a drawing for one of its own
DEEPEST = 9  # level of heading
TWIPS_A_MM = 1440 / 25.4
MARGINS, A_LETTER = 230, 86  # twips of a cell beside its text, and of a wide letter at the size of tables
WIDEST_WORDS = 60  # characters of a cell beyond which a column gets no wider


def write(document):
    """Bytes of a .docx of a Page. The same page gives the same bytes."""
    return _Writer(document).document()


def bookmark(anchor):
    """An anchor as the name of a bookmark: letters, digits and low lines, at most 40; different ones never fall together.

    >>> bookmark("runs-R 1")
    'runs_R_20_1_c97d279c'
    """
    plain = re.sub(r"[^A-Za-z0-9_]", "_", identifier(anchor))
    mark = hashlib.sha256(anchor.encode()).hexdigest()[:8]
    name = plain if plain[:1].isalpha() else f"a{plain}"
    return f"{name[: LONGEST_NAME - 9]}_{mark}"


def _widths(grid):
    """Widths of the columns in twips, by what they hold: a word processor that is told none makes all alike."""
    said = [[column.heading, *(page.said(row.cells[i]) for row in grid.rows)] for i, column in enumerate(grid.columns)]
    whole = round(WIDTH_MM * TWIPS_A_MM)
    least = [MARGINS + A_LETTER * max((len(word) for text in texts for word in text.split()), default=1) for texts in said]
    usual = [sum(min(len(text), WIDEST_WORDS) for text in texts) / len(texts) for texts in said]
    if sum(least) >= whole:
        return [round(whole * part / sum(least)) for part in least]
    left = (whole - sum(least)) / max(sum(usual), 1)
    return [round(floor + left * part) for floor, part in zip(least, usual, strict=True)]


class _Writer:
    """Walks a page once and appends to the body of a document."""

    def __init__(self, document):
        import docx

        self.page = document
        self.file = docx.Document()
        self.body = self.file.element.body
        self.targets = set(page.anchors(document))
        self.marks = 0
        self.level = 0

    def document(self):
        style_sheet(self.file, self.page.language)
        self.properties()
        self.file.add_paragraph(self.page.title, style="Title")
        if self.page.subtitle:
            self.file.add_paragraph(self.page.subtitle, style="Subtitle")
        for term, told in self.page.facts:
            self.add(paragraph_of("Normal", [text_run(f"{term}: ", bold=True), *self.runs(told)]))
        for child in self.page.children:
            self.block(child)
        made = io.BytesIO()
        self.file.save(made)
        return _settled(made.getvalue())

    def properties(self):
        told = self.file.core_properties
        told.title, told.subject, told.language = self.page.title, self.page.subtitle, self.page.language
        told.author, told.last_modified_by, told.comments, told.keywords = "palea", "palea", "", ""
        told.created = told.modified = FIXED

    def add(self, made):
        """An element at the end of the body, before the properties of its section."""
        self.body.insert(len(self.body) - 1, made)

    def marked(self, anchor):
        """The two ends of a bookmark, or nothing for no anchor."""
        if not anchor:
            return []
        self.marks += 1
        ident = str(self.marks)
        return [element("bookmarkStart", id=ident, name=bookmark(anchor)), element("bookmarkEnd", id=ident)]

    def runs(self, given, **style):
        return [made for run in given for made in self.run(run, **style)]

    @singledispatchmethod
    def run(self, text, **style):
        return [text_run(text, **style)]

    @run.register
    def _(self, strong: page.Strong, **style):
        return [text_run(strong.text, **style | {"bold": True})]

    @run.register
    def _(self, emphasis: page.Emphasis, **style):
        return [text_run(emphasis.text, **style | {"italic": True})]

    @run.register
    def _(self, code: page.Code, **style):
        return [text_run(code.text, **style | {"mono": True})]

    @run.register
    def _(self, link: page.Link, **style):
        return self.leading([text_run(link.text, **style)], link.anchor)

    @run.register
    def _(self, gap: page.Gap, **style):
        return self.leading([text_run(f"○ {gap.text}", **style | {"underline": "dotted"})], gap.anchor)

    def leading(self, inner, anchor):
        return [element("hyperlink", *inner, anchor=bookmark(anchor))] if anchor in self.targets else inner

    @singledispatchmethod
    def block(self, thing):
        msg = f"A page cannot hold a {type(thing).__name__}."
        raise TypeError(msg)

    @block.register
    def _(self, part: page.Part):
        self.level += 1
        self.add(
            paragraph_of(f"Heading {min(self.level, DEEPEST)}", [*self.marked(part.anchor), text_run(part.heading)])
        )
        for child in part.children:
            self.block(child)
        self.level -= 1

    @block.register
    def _(self, paragraph: page.Paragraph):
        style = "Small" if paragraph.small else "Normal"
        self.add(paragraph_of(style, [*self.marked(paragraph.anchor), *self.runs(paragraph.runs)]))

    @block.register
    def _(self, listing: page.Listing):
        for number, item in enumerate(listing.items, 1):
            lead = [text_run(f"{number}. ")] if listing.ordered else []
            style = "List Continue" if listing.ordered else "List Bullet"
            self.add(paragraph_of(style, [*lead, *self.runs(item)]))

    @block.register
    def _(self, grid: page.Grid):
        if grid.caption:
            self.add(paragraph_of("Caption", [*self.marked(grid.anchor), *self.runs(grid.caption)], keep=True))
        head = self.table_row([((column.heading,), column, True) for column in grid.columns], head=True)
        rows = [
            self.table_row(
                [(cell, c, not i) for i, (cell, c) in enumerate(zip(row.cells, grid.columns, strict=True))],
                anchor=row.anchor,
            )
            for row in grid.rows
        ]
        columns = element("tblGrid", *(element("gridCol", w=str(width)) for width in _widths(grid)))
        look_of = element(
            "tblPr",
            element("tblStyle", val="PaleaTable"),
            element("tblW", type="pct", w="5000"),
            element("tblLook", firstRow="1", firstColumn="1", val="00A0"),
        )
        self.add(element("tbl", look_of, columns, head, *rows))
        self.add(paragraph_of("Small", []))

    def table_row(self, cells, *, head=False, anchor=""):
        """A row that is not broken over pages; the head is repeated on each. cells : (runs, column, bold)."""
        told = [element("cantSplit"), *([element("tblHeader")] if head else [])]
        made = [
            cell_of([*(self.marked(anchor) if not i else []), *self.runs(cell, bold=bold and head)], column.align)
            for i, (cell, column, bold) in enumerate(cells)
        ]
        return element("tr", element("trPr", *told), *made)

    @block.register
    def _(self, picture: page.Picture):
        import vl_convert

        shown = drawing.inline(picture.svg, "picture", picture.alternative)
        self.picture(vl_convert.svg_to_png(shown, scale=SHARP), picture)

    @block.register
    def _(self, photograph: page.Photograph):
        self.picture(photograph.data, photograph)

    def picture(self, data, thing):
        """A picture as wide as the text or as high as a page allows, with its text alternative and caption."""
        from docx.shared import Mm

        shown = self.file.add_picture(io.BytesIO(data))
        scale = min(Mm(WIDTH_MM) / shown.width, Mm(HIGHEST_MM) / shown.height)
        shown.width, shown.height = int(shown.width * scale), int(shown.height * scale)
        told = shown._inline.docPr  # noqa: SLF001 - the library offers no other way to an alternative text
        told.set("descr", thing.alternative)
        told.set("name", f"Picture {told.get('id')}")
        self.add(paragraph_of("Caption", [*self.marked(thing.anchor), *self.runs(thing.caption)]))

    @block.register
    def _(self, note: page.Note):
        mark, word, colour = NOTES[note.kind]
        title = f"{mark} {word}: {note.title}" if note.title else f"{mark} {word}"
        start = len(self.body) - 1
        self.add(
            paragraph_of("Normal", [*self.marked(note.anchor), text_run(title, bold=True, colour=colour)], keep=True)
        )
        for child in note.children:
            self.block(child)
        for made in self.body[start : len(self.body) - 1]:
            if made.tag.endswith("}p"):
                fields(made).append(
                    element("pBdr", element("left", val="single", sz="24", space="8", color=colour[1:]))
                )
                fields(made).append(element("ind", left="227"))

    @block.register
    def _(self, anchor: page.Anchor):
        self.add(paragraph_of("Small", self.marked(anchor.name)))


def _settled(data):
    """The same file with its entries sorted and without the moment at which it was zipped."""
    given, made = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as settled:
        for name in sorted(given.namelist()):
            entry = zipfile.ZipInfo(name, ZIPPED)
            entry.compress_type, entry.external_attr, entry.create_system = zipfile.ZIP_DEFLATED, 0o600 << 16, 3
            settled.writestr(entry, given.read(name))
    return made.getvalue()
