"""The methods record of a package, as a Page and as a file: one model, written as HTML, Markdown or a word processor's file."""

from dataclasses import replace

from palea.documents import files
from palea.documents.page import Page, Part, numbered
from palea.record import (
    appendix,
    cleaning,
    coating,
    kept,
    lots,
    materials,
    missing,
    opening,
    planned_done,
    precautions,
    references,
    results,
    rows,
    software,
    trials,
)
from palea.record.story import Story


def assemble(package, stamp=None, figures=True, findings=None):
    """The methods record as a Page. The same package, stamp and findings give the same page.

    stamp : who writes it and when; left out of the record where None.  figures : whether figures are shown.
    findings : what `palea.check` found, where its numbers belong into the record.
    """
    story = Story(package)
    body = [
        opening.part(story),
        _part(
            "Materials and methods",
            "methods",
            lots.part(story),
            materials.part(story),
            precautions.part(story),
            cleaning.part(story),
            coating.part(story),
            trials.part(story),
        ),
        results.part(story, figures=figures),
        planned_done.part(story),
        missing.part(story, findings),
        opening.citation(story),
        software.part(story),
        references.part(_cited(story)),
        appendix.part(story),
    ]
    page = Page(
        package.title,
        (*opening.invented(story), *(part for part in body if part)),
        "Methods record",
        opening.facts(story, stamp),
    )
    return numbered(_with_open_cells(page))


def _with_open_cells(page):
    """The page with the list of its gaps at the end of the appendix, where it has any."""
    cells = rows.open_list(page)
    if not cells:
        return page
    *body, last = page.children
    if not last.letter:
        return replace(page, children=(*page.children, Part("Appendix", (cells,), "appendix", appendix.LETTER)))
    return replace(page, children=(*body, replace(last, children=(*last.children, cells))))


def _part(heading, anchor, *inner):
    there = tuple(part for part in inner if part)
    return Part(heading, there, anchor) if there else None


def _cited(story):
    """Keys of the published sources that the record rests on."""
    texts = [*kept.sources(story), *precautions.sources(story), *coating.sources(story)]
    return [key for text in texts for key in references.cited(text)]


def write(package, path, replace=False, stamp=None, findings=None):
    """Write the methods record to an .html, .md or .docx file. Returns the path.

    Raises PaleaError for another ending, for a file that is there unless `replace`, or one that cannot be written.
    """
    return files.save(assemble(package, stamp, findings=findings), path, replace=replace)


def write_references(package, path, replace=False):
    """Write the published sources that the record cites to a .bib or .json (CSL-JSON) file. Returns the path."""
    return references.save(_cited(Story(package)), path, replace=replace)
