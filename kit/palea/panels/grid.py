"""A count sheet: one line a unit, one box a count, in the browser a real table that the keyboard walks through.

The widget shows and reports; it judges nothing. Every key stroke arrives as edits (line, column, text), is handed to
`on_edit`, and the marks which that returns stand beside their lines a moment later. Nothing is sent twice: lines go
out once an edition, after that only what an edit changed.
"""

from pathlib import Path

import anywidget
import traitlets

HERE = Path(__file__).parent


class CountSheet(anywidget.AnyWidget):
    """The sheet.

    columns : list of {"name", "title", "kind", "group"?, "label"?, "options"?}; kind is text, grey, number, sum or note,
        or a box: count for a number, entry for text, choice for one of "options", [[value, title, ...]]. The last column
        is the note, with "below": true where it has no room beside the line.
    names : what each line is called, for a screen reader and in a pasted block.
    lines : list of lists of text, aligned with columns ("" where a box or a mark stands).
    typed : {"line/column": text}.  shown : numbers of the lines in view.
    marks : {"line": {"sums": {column: text}, "bad": {column: sentence}, "said": text}}.
    on_edit : called with [(line, column, text), ...]; returns {line: mark}.
    """

    _esm = HERE / "grid.js"
    _css = HERE / "grid.css"
    caption = traitlets.Unicode("").tag(sync=True)
    columns = traitlets.List().tag(sync=True)
    names = traitlets.List().tag(sync=True)
    lines = traitlets.List().tag(sync=True)
    typed = traitlets.Dict().tag(sync=True)
    marks = traitlets.Dict().tag(sync=True)
    shown = traitlets.List().tag(sync=True)
    progress = traitlets.Unicode("").tag(sync=True)
    edition = traitlets.Int(0).tag(sync=True)

    def __init__(self, on_edit):
        super().__init__()
        self._on_edit = on_edit
        self.on_msg(self._heard)

    def lay_out(self, *, caption, columns, names, lines, typed, marks, shown):
        """Show another sheet, in one message."""
        with self.hold_sync():
            self.caption, self.columns, self.names, self.lines = caption, columns, names, lines
            self.typed, self.marks, self.shown = dict(typed), _by_text(marks), list(shown)
            self.edition += 1

    def edit(self, edits, at=0):
        """Take edits as the browser sends them: keep the text, ask what is to be said of it, say it."""
        # Changed in place: the browser has these values already, so only a page that is loaded anew must be sent them.
        self.typed.update({f"{line}/{column}": text for line, column, text in edits})
        marks = _by_text(self._on_edit([tuple(e) for e in edits]) or {})
        self.marks.update(marks)
        self.send({"marks": marks, "at": at})

    def _heard(self, _, content, buffers):  # noqa: ARG002 - ipywidgets hands over three arguments
        self.edit(content["edits"], content["at"])


def _by_text(marks):
    return {str(line): mark for line, mark in marks.items()}
