"""A page as Markdown (CommonMark with pipe tables). One file: a picture is told by its text alternative."""

import re
from functools import singledispatchmethod

from palea.documents import page
from palea.documents.html import NOTES, identifier

_SPECIAL = re.compile(r"([\\`*_\[\]{}<>#|~$&])")
_LINE_START = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|$)")


def write(document):
    """Markdown text of a Page, ending in a newline. The same page gives the same bytes."""
    return _Writer(document).document()


def _plain(text):
    """Text that stays text: what Markdown or HTML would read as marking is escaped, line breaks become spaces."""
    return _SPECIAL.sub(r"\\\1", " ".join(text.split("\n")))


def _anchor(name):
    return f'<a id="{identifier(name)}"></a>' if name else ""


class _Writer:
    """Walks a page once; `targets` are the anchors that exist."""

    def __init__(self, document):
        self.page = document
        self.targets = {identifier(name) for name in page.anchors(document)}
        self.level = 1

    def document(self):
        facts = "\n".join(f"- {_plain(term)}: {self.runs(told)}" for term, told in self.page.facts)
        subtitle = f"*{_plain(self.page.subtitle)}*" if self.page.subtitle else ""
        blocks = [f"# {_plain(self.page.title)}", subtitle, facts, *map(self.block, self.page.children)]
        return "\n\n".join(filter(None, blocks)) + "\n"

    def runs(self, given):
        return "".join(map(self.run, given))

    @singledispatchmethod
    def run(self, text):
        return _plain(text)

    @run.register
    def _(self, strong: page.Strong):
        return f"**{_plain(strong.text)}**"

    @run.register
    def _(self, emphasis: page.Emphasis):
        return f"*{_plain(emphasis.text)}*"

    @run.register
    def _(self, code: page.Code):
        text = " ".join(code.text.split())
        fence = "`" * (1 + max(map(len, re.findall("`+", text)), default=0))
        text = text.replace("|", r"\|")  # a table cell ends at a bare bar, also inside code
        return f"{fence} {text} {fence}" if "`" in text else f"{fence}{text}{fence}"

    @run.register
    def _(self, link: page.Link):
        return self.leading(_plain(link.text), link.anchor)

    @run.register
    def _(self, gap: page.Gap):
        return f"**{self.leading(_plain(gap.text), gap.anchor)}**"

    def leading(self, words, anchor):
        target = identifier(anchor)
        return f"[{words}](#{target})" if target in self.targets else words

    @singledispatchmethod
    def block(self, thing):
        msg = f"A page cannot hold a {type(thing).__name__}."
        raise TypeError(msg)

    @block.register
    def _(self, part: page.Part):
        self.level += 1
        heading = f"{'#' * min(self.level, 6)} {_anchor(part.anchor)}{_plain(part.heading)}"
        inner = [self.block(child) for child in part.children]
        self.level -= 1
        return "\n\n".join(filter(None, [heading, *inner]))

    @block.register
    def _(self, paragraph: page.Paragraph):
        return _anchor(paragraph.anchor) + _LINE_START.sub(_escape_start, self.runs(paragraph.runs))

    @block.register
    def _(self, listing: page.Listing):
        marks = (f"{n}." if listing.ordered else "-" for n in range(1, len(listing.items) + 1))
        return "\n".join(f"{mark} {self.runs(item)}" for mark, item in zip(marks, listing.items, strict=True))

    @block.register
    def _(self, grid: page.Grid):
        caption = _anchor(grid.anchor) + self.runs(grid.caption)
        rule = [("---:" if c.align == "right" else "---") for c in grid.columns]
        lines = [[_plain(c.heading) for c in grid.columns], rule, *map(self.row, grid.rows)]
        table = "\n".join("| " + " | ".join(cells) + " |" for cells in lines)
        return f"{caption}\n\n{table}" if caption else table

    def row(self, row):
        first, *others = (self.runs(cell) for cell in row.cells)
        return [_anchor(row.anchor) + first, *others]

    @block.register
    def _(self, picture: page.Picture):
        caption = f"{self.runs(picture.caption)} " if picture.caption else ""
        return f"{_anchor(picture.anchor)}{caption}*In words: {_plain(picture.alternative)}*"

    @block.register
    def _(self, photograph: page.Photograph):
        caption = f"{self.runs(photograph.caption)} " if photograph.caption else ""
        return f"{_anchor(photograph.anchor)}{caption}*In words: {_plain(photograph.alternative)}*"

    @block.register
    def _(self, note: page.Note):
        mark, word, _ = NOTES[note.kind]
        title = f"**{mark} {word}{': ' + _plain(note.title) if note.title else ''}**"
        inner = "\n\n".join([_anchor(note.anchor) + title, *map(self.block, note.children)])
        return "\n".join(f"> {line}".rstrip() for line in inner.split("\n"))

    @block.register
    def _(self, anchor: page.Anchor):
        return _anchor(anchor.name)


def _escape_start(found):
    """A paragraph that begins like a list item is none: the mark that would make it one is escaped."""
    space, mark = found.groups()
    return f"{space}{mark[:-1]}\\{mark[-1]}"
