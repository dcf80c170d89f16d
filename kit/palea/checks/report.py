"""Findings as a page."""

from palea.checks import checklist
from palea.documents import files
from palea.documents.page import Code, Column, Grid, Page, Paragraph, Part, Row
from palea.findings import SEVERITIES, counted


def write(package, findings, path, *, replace=False, first=()):
    """Write what was found in a package as an .html or .md page; its path. first : parts that stand before it."""
    return files.save(page(package, findings, first), path, replace=replace)


def page(package, findings, first=()):
    """Findings by severity and table, then the checklist by stage, as a Page."""
    parts = [*first, *(_of_severity(s, [f for f in findings if f.severity == s]) for s in SEVERITIES)]
    told = Paragraph(counted(findings) if findings else "Nothing found.")
    return Page(package.title, (told, *filter(None, parts), _checklist(package)), "What the check found")


def _of_severity(severity, findings):
    if not findings:
        return None
    rows = tuple(
        Row((Code(f.table), _rows(f), f.field, f.value or "", f"{f.message} {f.remedy}", Code(f.rule)))
        for f in findings
    )
    heads = ("Table", Column("Row", "right"), "Column", "Value", "What is the matter, and what to do", "Rule")
    return Part(f"{severity.capitalize()}s", (Grid(f"{severity.capitalize()}s", heads, rows),), f"findings-{severity}")


def _rows(finding):
    if finding.count == 1:
        return str(finding.row or "")
    more = " ..." if finding.count > len(finding.rows) else ""
    return f"{finding.count}: {', '.join(map(str, finding.rows))}{more}"


def _checklist(package):
    counts = checklist.tally(checklist.evaluate(package))
    names = ("applicable", "reported", "withheld", "not_recorded", "missing")
    heads = ("Stage", "Weight", *(Column(name.replace("_", " ").capitalize(), "right") for name in names))
    rows = tuple(Row((c["stage"].capitalize(), c["weight"], *(str(c[name]) for name in names))) for c in counts)
    return Part(
        "Reporting checklist", (Grid("Items by stage; essential and recommended apart", heads, rows),), "checklist"
    )
