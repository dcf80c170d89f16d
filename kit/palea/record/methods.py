"""The methods record of a package, as a Page and as a file."""

from dataclasses import replace

from palea.documents import files
from palea.documents.page import Page, Part
from palea.record import (
    cleaning,
    coating,
    germination,
    lots,
    materials,
    missing,
    opening,
    precautions,
    references,
    results,
    rows,
    software,
)
from palea.record.story import Story


def assemble(package, stamp=None, figures=True):
    """The methods record as a Page. The same package and stamp give the same page.

    stamp : who writes it and when; left out of the record where None.  figures : whether kept figures are shown.
    """
    story = Story(package)
    body = [
        opening.part(story),
        _part("Material", "material", lots.part(story), materials.part(story)),
        _part("What was done", "done", precautions.part(story), cleaning.part(story), coating.part(story)),
        *germination.parts(story),
        results.part(story, figures=figures),
        missing.part(story),
        opening.citation(story),
        software.part(story),
        references.part(_cited(story)),
        rows.runs(story),
    ]
    page = Page(
        package.title,
        (*opening.invented(story), *(part for part in body if part)),
        "Methods record",
        opening.facts(story, stamp),
    )
    cells = rows.open_list(page)
    return replace(page, children=(*page.children, cells)) if cells else page


def _part(heading, anchor, *inner):
    there = tuple(part for part in inner if part)
    return Part(heading, there, anchor) if there else None


def _cited(story):
    """Keys of the published sources that the record rests on."""
    texts = [*results.sources(story), *precautions.sources(story), *coating.sources(story)]
    return [key for text in texts for key in references.cited(text)]


def write(package, path, replace=False, stamp=None):
    """Write the methods record to an .html or .md file. Returns the path.

    Raises PaleaError for another ending, for a file that is there unless `replace`, or one that cannot be written.
    """
    return files.save(assemble(package, stamp), path, replace=replace)
