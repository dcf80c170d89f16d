"""A page as one HTML file: prints on A4, reads on screen and by ear, needs no network and runs nothing."""

import base64
import re
from functools import singledispatchmethod
from html import escape
from pathlib import Path

from palea import look
from palea.documents import drawing, page

CONTENTS_DEPTH = 2
UNBROKEN = ((4, 28), (6, 16), (99, 11))  # up to so many columns, a cell of so many characters is not broken over lines
_BRACKETS = re.compile(r"\([^()<>]{1,30}\)")
ROOMY = 7  # columns up to which there is room for unbroken ranges
DENSE = 7  # columns from which a table is set closer, and long words may be broken
CONTENTS_FROM = 4  # parts; a shorter page needs no list of them
# kind of note: mark, word, colour (each holds 4.5 : 1 on white)
NOTES = {
    "hazard": (look.MEANINGS["warning"][0], "Hazard", look.MEANINGS["error"][2]),
    "caution": (look.MEANINGS["warning"][0], "Caution", look.MEANINGS["warning"][2]),
    "remark": ("●", "Note", look.MEANINGS["gap"][2]),
}


def write(document):
    """One self-contained HTML document of a Page, ending in a newline. The same page gives the same bytes."""
    return _Writer(document).document()


def identifier(anchor):
    """An anchor as an id that every browser and every URL takes; two different anchors never fall together.

    >>> identifier("runs-R 1")
    'runs-R_20_1'
    """
    return re.sub(r"[^A-Za-z0-9.\-]", lambda odd: f"_{ord(odd[0]):x}_", anchor)


def _attribute(name, value):
    return f' {name}="{escape(value)}"' if value else ""


def _id(anchor):
    return _attribute("id", identifier(anchor))


class _Writer:
    """Walks a page once. `targets` are the anchors that exist, `pictures` counts drawings for their inner names."""

    def __init__(self, document):
        self.page = document
        self.targets = {identifier(name) for name in page.anchors(document)}
        self.pictures = 0
        self.level = 1

    def document(self):
        body = "\n".join(filter(None, (self.head(), self.contents(), *map(self.block, self.page.children))))
        return "\n".join((
            "<!DOCTYPE html>",
            f'<html{_attribute("lang", self.page.language)}>',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="generator" content="palea">',
            f"<title>{escape(self.page.title)}</title>",
            f"<style>\n{style()}</style>",
            "</head>",
            '<body class="compact">' if self.page.compact else "<body>",
            f"<main>\n{body}\n</main>",
            "</body>",
            "</html>",
            "",
        ))

    def head(self):
        subtitle = f'<p class="subtitle">{escape(self.page.subtitle)}</p>' if self.page.subtitle else ""
        facts = "".join(f"<div><dt>{escape(t)}</dt><dd>{self.runs(told)}</dd></div>" for t, told in self.page.facts)
        return f"<header>\n<h1>{escape(self.page.title)}</h1>\n{subtitle}\n" + (
            f'<dl class="facts">{facts}</dl>\n</header>' if facts else "</header>"
        )

    def contents(self):
        parts = [child for child in self.page.children if isinstance(child, page.Part)]
        if len(parts) < CONTENTS_FROM or not self.page.contents:
            return ""
        return f'<nav aria-label="Contents">\n<h2>Contents</h2>\n{self.entries(parts, 1)}\n</nav>'

    def entries(self, parts, depth):
        """Nested list of headings; a part without an anchor of its own is named but not linked."""
        if not parts or depth > CONTENTS_DEPTH:
            return ""
        return f"<ol>{''.join(self.entry(part, depth) for part in parts)}</ol>"

    def entry(self, part, depth):
        below = [child for child in part.children if isinstance(child, page.Part)]
        return f"<li>{self.leading(part.heading, part.anchor)}{self.entries(below, depth + 1)}</li>"

    def runs(self, given):
        return "".join(map(self.run, given))

    @singledispatchmethod
    def run(self, text):
        return escape(text)

    @run.register
    def _(self, strong: page.Strong):
        return f"<strong>{escape(strong.text)}</strong>"

    @run.register
    def _(self, emphasis: page.Emphasis):
        return f"<em>{escape(emphasis.text)}</em>"

    @run.register
    def _(self, code: page.Code):
        return f"<code>{escape(code.text)}</code>"

    @run.register
    def _(self, link: page.Link):
        return self.leading(link.text, link.anchor)

    @run.register
    def _(self, gap: page.Gap):
        return f'<mark class="gap">{self.leading(gap.text, gap.anchor)}</mark>'

    def leading(self, text, anchor):
        """Words that lead to an anchor, or the words alone where there is none."""
        target = identifier(anchor)
        return f'<a href="#{target}">{escape(text)}</a>' if target in self.targets else escape(text)

    @singledispatchmethod
    def block(self, thing):
        msg = f"A page cannot hold a {type(thing).__name__}."
        raise TypeError(msg)

    @block.register
    def _(self, part: page.Part):
        self.level += 1
        inner = "\n".join(map(self.block, part.children))
        level = min(self.level, 6)  # HTML knows no seventh
        self.level -= 1
        wide = ' class="wide"' if part.letter else ""
        return f"<section{_id(part.anchor)}{wide}>\n<h{level}>{escape(part.heading)}</h{level}>\n{inner}\n</section>"

    @block.register
    def _(self, paragraph: page.Paragraph):
        small = ' class="small"' if paragraph.small else ""
        return f"<p{_id(paragraph.anchor)}{small}>{self.runs(paragraph.runs)}</p>"

    @block.register
    def _(self, listing: page.Listing):
        kind = "ol" if listing.ordered else "ul"
        small = ' class="small"' if listing.small else ""
        return f"<{kind}{small}>\n" + "".join(f"<li>{self.runs(item)}</li>\n" for item in listing.items) + f"</{kind}>"

    @block.register
    def _(self, grid: page.Grid):
        dense = ' class="dense"' if len(grid.columns) >= DENSE else ""
        heads = "".join(f'<th scope="col"{_side(c)}>{escape(c.heading)}</th>' for c in grid.columns)
        rows = "\n".join(self.row(row, grid.columns) for row in grid.rows)
        caption = f"<caption>{self.runs(grid.caption)}</caption>\n" if grid.caption else ""
        # It scrolls where it is wider than the screen, so it has to be reached by the keyboard, too.
        named = _attribute("aria-label", page.said(grid.caption) or "Table")
        return (f'<div class="table" role="group" tabindex="0"{named}{_id(grid.anchor)}>\n<table{dense}>\n{caption}'
                f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>\n</div>")

    def row(self, row, columns):
        many = len(columns)
        first, *others = zip(row.cells, columns, strict=True)
        named = f'<th scope="row"{_side(first[1], first[0], many)}>{self.runs(first[0])}</th>'
        cells = "".join(
            f"<td{_side(column, cell, many)}>{self.cell(cell, column, many)}</td>" for cell, column in others
        )
        return f"<tr{_id(row.anchor)}>{named}{cells}</tr>"

    def cell(self, cell, column, many):
        """Text of a cell; beside a number, what stands in brackets (a range, a count) is kept on one line.

        In a table of many columns it is free to break, or the table would grow wider than the page.
        """
        text = self.runs(cell)
        if many > ROOMY or not (column.align == "right" or text[:1].isdigit()):
            return text
        return _BRACKETS.sub(lambda found: found[0].replace(" ", "&nbsp;"), text)

    @block.register
    def _(self, picture: page.Picture):
        self.pictures += 1
        shown = drawing.inline(picture.svg, f"picture{self.pictures}", picture.alternative)
        caption = f"\n<figcaption>{self.runs(picture.caption)}</figcaption>" if picture.caption else ""
        return f"<figure{_id(picture.anchor)}>\n{shown}{caption}\n</figure>"

    @block.register
    def _(self, photograph: page.Photograph):
        data = base64.b64encode(photograph.data).decode("ascii")
        source = f"data:{photograph.media_type};base64,{data}"
        caption = f"\n<figcaption>{self.runs(photograph.caption)}</figcaption>" if photograph.caption else ""
        return (f'<figure{_id(photograph.anchor)}>\n<img{_attribute("src", source)}{_attribute("alt", photograph.alternative)}>'
                f"{caption}\n</figure>")

    @block.register
    def _(self, note: page.Note):
        mark, word, _ = NOTES[note.kind]
        title = f"{word}: {note.title}" if note.title else word
        inner = "\n".join(map(self.block, note.children))
        return (f'<div role="note" class="note {note.kind}"{_id(note.anchor)}{_attribute("aria-label", title)}>\n'
                f'<p class="title"><span aria-hidden="true">{mark}</span> {escape(title)}</p>\n{inner}\n</div>')

    @block.register
    def _(self, anchor: page.Anchor):
        return f"<span{_id(anchor.name)}></span>"


def _side(column, cell=None, many=0):
    """Class of a cell in a table of `many` columns: where it stands, and that a short one is not broken over lines."""
    right = column.align == "right"
    most = next(length for columns, length in UNBROKEN if many <= columns)
    short = cell is not None and len(page.said(cell)) <= most
    names = [name for name, given in (("right", right), ("whole", short)) if given]
    return _attribute("class", " ".join(names))


def style():
    """The style sheet with the colours and the type of `look` filled in."""
    colours = {"ink": look.INK, "paper": look.PAPER, "quiet": look.QUIET, "line": look.LINE, "band": look.BAND,
               "link": look.ESTIMATE, "gap": look.MEANINGS["gap"][2], "font": look.FONT}
    colours |= {kind: colour for kind, (_, _, colour) in NOTES.items()}
    variables = "".join(f"  --{name}: {value};\n" for name, value in colours.items())
    return f":root {{\n{variables}}}\n" + Path(__file__).with_name("page.css").read_text(encoding="utf-8")
