"""A rerun as a page: both numbers side by side, and the reason where they differ."""

from palea.documents import files
from palea.documents.page import Code, Column, Grid, Listing, Page, Paragraph, Part, Row
from palea.sharing.compare import VERDICTS


def write(rerun, path, *, replace=False):
    """Write the comparison as an .html or .md page; its path."""
    return files.save(page(rerun), path, replace=replace)


def page(rerun):
    """What was compared, what differs and why, then every number, as a Page."""
    counts = ", ".join(f"{rerun.count(v)} {v}" for v in VERDICTS)
    lead = [Paragraph(f"Manifest: {rerun.manifest}. Results: {counts}.")]
    if rerun.altered_files:
        lead.append(Listing(tuple((Code(f),) for f in rerun.altered_files)))
    if rerun.reasons:
        lead.append(Listing(tuple((Code(a), f": {why}") for a, why in rerun.reasons.items())))
    return Page("Rerun", (*lead, _numbers(rerun), _environment(rerun)), rerun.package)


def _numbers(rerun):
    heads = ("Analysis", "Quantity", "Of what", Column("Was", "right"), Column("Now", "right"), "Verdict")
    order = {v: n for n, v in enumerate(("differs", "missing", "extra", "within tolerance", "identical"))}
    rows = sorted(rerun.results.to_dict("records"), key=lambda r: order[r["verdict"]])
    told = tuple(
        Row((Code(r["analysis_id"]), r["quantity"], r["group"], _number(r["was"]), _number(r["now"]), r["verdict"]))
        for r in rows
    )
    return Part("Every number", (Grid("Published and recomputed", heads, told),), "numbers")


def _environment(rerun):
    names = list(dict.fromkeys([*rerun.was, *rerun.now]))
    rows = tuple(Row((name, str(rerun.was.get(name, "not told")), str(rerun.now.get(name, "none")))) for name in names)
    return Part("Environments", (Grid("Software then and now", ("Software", "Then", "Now"), rows),), "environments")


def _number(value):
    return "" if value is None or value != value else f"{value:.6g}"
