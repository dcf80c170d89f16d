"""The day sheet as a page to print: what is to be done, with a box to tick."""

from palea.documents import files
from palea.documents.page import Column, Grid, Page, Paragraph, Part, Row
from palea.words.prose import counted

PARTS = (("today", "Today", "Nothing is planned for today."), ("missed", "Missed before", "Nothing was missed."),
         ("soon", "In the next seven days", "Nothing is planned for the next seven days."))  # fmt: skip
HEADINGS = (Column("Done"), Column("Do"), Column("Of"), Column("What"), Column("Planned for"))
BOX = "\N{BALLOT BOX}"
ENDINGS = (".html", ".docx", ".md")


def assemble(found, title):
    """The Page of a Day. title : of the package."""
    parts = tuple(Part(heading, (_jobs(getattr(found, name), none),), name) for name, heading, none in PARTS)
    unknown = tuple(Paragraph(sentence, small=True) for sentence in found.unknown)
    return Page(f"Day sheet, {found.on}", (*parts, *unknown), title, contents=False, compact=True)


def _jobs(jobs, none):
    if not jobs:
        return Paragraph(none)
    rows = tuple(Row((BOX, job.do, job.about, job.what, job.on)) for job in jobs)
    return Grid(counted(len(rows), "job", "jobs"), HEADINGS, rows)


def write(found, title, path, *, replace=False):
    """Write the day sheet (.html, .docx or .md); its path."""
    return files.save(assemble(found, title), path, replace=replace, endings=ENDINGS)
