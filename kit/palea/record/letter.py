"""A letter to a contractor or an author with what is still open, and a questionnaire that can be read back.

Each question has a place for the answer and two boxes: that it may be published, and that it is withheld. A withheld
answer is a proper answer: the record then says who keeps it back.
"""

import csv
import io
from pathlib import Path

from palea import schema
from palea.documents import files
from palea.documents.page import Column, Grid, Listing, Note, Page, Paragraph, Part, Row, Strong
from palea.record import asked
from palea.record.story import Story
from palea.words.prose import counted, inside, stop

# What the questionnaire is made of: heads of its columns, as `bench.letter_back` reads them.
HEADS = ("no", "item", "question", "table", "row", "column", "unit", "answer", "may be published")
ENDINGS = (".html", ".docx", ".md")
BOX, LINE = "☐", "_" * 24
WORDS = 12  # allowed words that are told


def assemble(package, about=None, questions=None):
    """The letter as a Page. about : id of a run, lot, material, trial or person; None for everything that is open."""
    story = Story(package)
    found = asked.questions(story, about) if questions is None else questions
    named = story.row("people", about) if about else None
    to = story.person(about) if named else "whom it concerns"
    blocks = [*_opening(story, found), *_parts(story, found), *_closing(found)]
    return Page(
        f"Questions on {package.title}",
        tuple(blocks),
        f"To {to}" + (f", about {about}" if about and not named else ""),
        contents=False,
    )


def _opening(story, found):
    if not found:
        yield Paragraph(
            "Nothing is open: every item of the reporting checklist that concerns you is answered. Thank you."
        )
        return
    essential = sum(q.weight == "essential" for q in found)
    yield Paragraph(
        (
            (f"We are writing up “{story.package.title}”. For others to repeat the work, {counted(len(found), 'question')}"
            f" {'is' if len(found) == 1 else 'are'} open that you may be able to answer; {essential} of them are essential. "),
            Strong("Please answer what you can, and tick one box for each: "),
            (f"“{BOX} may be published” where your answer may stand in an open record, or “{BOX} withheld” where it may not."
            " An answer that is withheld is respected: the record will say that you keep it, and nothing else."),
        )
    )
    yield Paragraph("You can write on this sheet, or fill in the table file that came with it and send that back.")


def _parts(story, found):
    """A Part a subject, so that each can go to the person at hand."""
    by_subject = {}
    for q in found:
        by_subject.setdefault(q.about, []).append(q)
    number = 0
    for subject, some in by_subject.items():
        yield Part(f"About {_called(story, subject)}", (_grid(some, number),))
        number += len(some)


def _called(story, subject):
    """What a subject is, in words, with its id."""
    for table, column in (("treatments", "label"), ("materials", "name"), ("trials", "title")):
        row = story.row(table, subject)
        if row is not None:
            return f"{inside(row[column].rstrip('.'))} ({subject})"
    run = story.row("runs", subject)
    kind = f"the run of {story.value('runs', run, 'kind')} " if run else ""
    return f"{kind}{subject}"


def _grid(questions, before):
    heads = (Column("No.", "right"), "What we ask", "Your answer", "May be published", "Withheld")
    rows = tuple(Row((str(number), _asked(q), LINE, BOX, BOX)) for number, q in enumerate(questions, before + 1))
    return Grid("", heads, rows)


def _asked(q):
    """The field in words, its unit and what may be written; then the question of the checklist that it helps to answer."""
    field = schema.table(q.table)[q.column]
    unit = f" in {field.symbol}" if field.symbol else ""
    allowed = schema.words(field.vocabulary) if field.vocabulary else ()
    words = f" One of: {', '.join(allowed)}." if 0 < len(allowed) <= WORDS else ""
    essential = "" if q.weight == "essential" else " (recommended)"
    step = "".join(f", {name} {value}" for name, value in q.row[1:]) if q.new else ""
    return (Strong(f"{field.title}{unit}{step}"), f"{essential}. {stop(q.words)}{words}")


def _closing(found):
    if found:
        yield Note(
            "remark", (Paragraph("If something cannot be known any more, write “not recorded”. Please do not guess."),)
        )
        yield Listing(
            ("Answered by: ____________________", "Date: ____________________", "Signature: ____________________")
        )


def questionnaire(found):
    """The questions as the text of a CSV file that a spreadsheet opens and `bench.letter_back` reads."""
    made = io.StringIO(newline="")
    writer = csv.writer(made, lineterminator="\r\n")
    writer.writerow(HEADS)
    for number, q in enumerate(found, 1):
        if not q.row:
            continue  # answered in words: it has no cell of its own
        field = schema.table(q.table)[q.column]
        words = f"{field.title}: {q.words}"
        writer.writerow((str(number), "; ".join(q.items), words, q.table, q.row_id, q.column, field.unit or "", "", ""))
    return "\ufeff" + made.getvalue()  # the mark by which spreadsheets know the encoding


def write(package, path, about=None, replace=False):
    """Write the letter (.html, .docx or .md) and, beside it, its questionnaire (.csv). Returns both paths.

    Raises PaleaError for another ending, an unknown id, or a file that is there unless `replace`.
    """
    found = asked.questions(Story(package), about)
    sheet = Path(path).with_suffix(".csv")
    letter = files.save(assemble(package, about, found), path, replace=replace, endings=ENDINGS)
    return letter, files.put(lambda: questionnaire(found), sheet, replace=replace)
