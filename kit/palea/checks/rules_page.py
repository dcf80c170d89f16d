"""All rules as a page: what each says, what to do, and where it points.

`python -m palea.checks.rules_page` writes schema/RULES.md.
"""

from palea import schema
from palea.checks.run import RULES
from palea.documents import markdown
from palea.documents.page import Code, Grid, Page, Paragraph, Part, Row
from palea.shipped import folder

NAME = "RULES.md"
MEANING = {
    "error": "wrong: it cannot be shared, and no verdict rests on it",
    "warning": "doubtful: look at it",
    "gap": "not reported: it counts against the record's completeness",
}


def text():
    """The page as Markdown."""
    return markdown.write(page())


def write():
    """Write schema/RULES.md; its path."""
    path = folder("schema") / NAME
    path.write_text(text(), encoding="utf-8")
    return path


def page():
    """Every rule by stage, as a Page."""
    stages = dict.fromkeys(rule.id.partition(".")[0] for rule in RULES)
    parts = [_stage(s, [r for r in RULES if r.id.startswith(f"{s}.")]) for s in stages]
    return Page("What the check looks for", (*_lead(), *parts), f"Schema {schema.version()}")


def _lead():
    of = {s: sum(r.severity == s for r in RULES) for s in MEANING}
    counted = "; ".join(f"{s} ({of[s]}): {said}" for s, said in MEANING.items())
    return (
        Paragraph(
            f"{len(RULES)} rules that no single cell or key can state. Generated from the rules themselves: change "
            f"those, then run "
            "`python -m palea.checks.rules_page`."
        ),
        Paragraph(f"{counted[:1].upper()}{counted[1:]}."),
        Paragraph(
            "Cells that do not fit their column, missing and doubled keys, references that lead nowhere, files that "
            "are not what the "
            "descriptor says, a journal whose chain is broken, results older than their data and attached files that "
            "were changed "
            "are found as well. Names in braces are filled in with what was found."
        ),
    )


def _stage(stage, rules):
    rows = tuple(Row((Code(r.id), r.severity, Code(r.at), r.says, r.remedy)) for r in rules)
    heads = ("Rule", "Severity", "Points at", "What it says", "What to do")
    return Part(stage.capitalize(), (Grid(f"Rules of {stage}", heads, rows),), f"rules-{stage}")


if __name__ == "__main__":
    write()
