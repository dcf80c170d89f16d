"""A rerun as a page: both numbers side by side, drawn against each other, and the reason where they differ."""

from pathlib import Path

from palea.documents import files
from palea.documents.page import Code, Column, Grid, Listing, Note, Page, Paragraph, Part, Picture, Row, Strong
from palea.sharing.compare import AGREE, VERDICTS
from palea.sharing.reasons import within_tolerance

ORDER = {v: n for n, v in enumerate(("differs", "missing", "extra", "within tolerance", "identical"))}
MANIFEST = {
    "ok": "Every file is the one that was shared: its hash is that of the manifest.",
    "altered": "Files are not those that were shared:",
    "absent": "There is no manifest, so nothing shows whether files were altered.",
}

ANEW = "Whoever makes data, results and manifest anew leaves no trace in them: compare its own hash, "


def write(rerun, path, *, replace=False):
    """Write the comparison as an .html, .md or .docx page; its path."""
    return files.save(page(rerun), path, replace=replace)


def page(rerun, stamp=None):
    """What came out and what did not, the chart, the reasons, then every number, as a Page. stamp : who reran it, and when."""
    facts = (("Rerun by", stamp.who), ("When", stamp.when)) if stamp else ()
    rows = numbered(rerun)
    parts = (_apart(rows), _picture(rows), _reasons(rerun), _every(rows), _environment(rerun))
    return Page("Published and rerun", (*_lead(rerun), *filter(None, parts)), f"{rerun.title} ({Path(rerun.package).name})", facts)


def numbered(rerun):
    """The results in the order of the page; `no` numbers those that did not come out, from 1, and is 0 for the others."""
    rows = rerun.results.assign(order=rerun.results["verdict"].map(ORDER)).sort_values("order", kind="stable")
    apart = ~rows["verdict"].isin(AGREE)
    return rows.assign(no=apart.cumsum().where(apart, 0).astype(int)).reset_index(drop=True)


def chart(rerun):
    """Published numbers against those of the rerun as an altair chart; None where there are no two to compare."""
    from palea.figures import published

    return published.draw(numbered(rerun))


def _lead(rerun):
    counts = ", ".join(f"{rerun.count(v)} {v}" for v in VERDICTS)
    says = "Every number came out again" if rerun.agrees else "Not everything came out again"
    yield Paragraph((Strong(f"{says}. "), f"Results: {counts}."))
    if rerun.count("within tolerance"):
        yield Paragraph(f"Of those within tolerance: {within_tolerance(rerun.was, rerun.now).told}")
    if rerun.altered_files:
        altered = Listing(tuple((Code(f),) for f in rerun.altered_files))
        yield Note("caution", (Paragraph(MANIFEST["altered"]), altered), "altered since it was shared")
    elif rerun.manifest_hash:
        yield Paragraph((f"{MANIFEST[rerun.manifest]} {ANEW}", Code(rerun.manifest_hash), ", with the one that its authors tell."))
    else:
        yield Paragraph(MANIFEST[rerun.manifest])
    if rerun.upgraded:
        yield Paragraph("The package follows an earlier schema, so it was read in a temporary copy:")
        yield Listing(tuple((told,) for told in rerun.upgraded))


def _apart(rows):
    heads = (Column("No.", "right"), "Analysis", "Quantity", "Of what", Column("Published", "right"), Column("Rerun", "right"),
             "What differs", "Why")  # fmt: skip
    told = tuple(
        Row((str(r["no"]), Code(r["analysis_id"]), r["quantity"], r["group"], _number(r["was"]), _number(r["now"]),
             r["apart"] or r["verdict"], r["reason"]))
        for r in rows[rows["no"].gt(0)].to_dict("records")
    )  # fmt: skip
    grid = Grid("Numbers that did not come out", heads, told)
    return Part("What did not come out", (grid,), "apart") if told else None


def _picture(rows):
    from palea.figures import published, theme

    drawn = published.draw(rows)
    if drawn is None:
        return None
    caption = ("Published numbers against those of the rerun. On the line they are the same.",)
    return Part("Published against rerun", (Picture(theme.to_svg(drawn), drawn.description, caption, "published"),), "chart")


def _reasons(rerun):
    told = tuple(Row((Code(a), why)) for given in (rerun.reasons, rerun.later) for a, why in given.items())
    return Part("Why", (Grid("Reasons, analysis by analysis", ("Analysis", "What shows it"), told),), "why") if told else None


def _every(rows):
    heads = ("Analysis", "Quantity", "Of what", Column("Published", "right"), Column("Rerun", "right"), "Verdict")
    told = tuple(
        Row((Code(r["analysis_id"]), r["quantity"], r["group"], _number(r["was"]), _number(r["now"]), r["verdict"]))
        for r in rows.to_dict("records")
    )
    return Part("Every number", (Grid("Published and recomputed", heads, told),), "numbers")


def _environment(rerun):
    names = list(dict.fromkeys([*rerun.was, *rerun.now]))
    rows = tuple(Row((name, str(rerun.was.get(name, "not told")), str(rerun.now.get(name, "none")))) for name in names)
    return Part("Environments", (Grid("Software then and now", ("Software", "Then", "Now"), rows),), "environments")


def _number(value):
    return "" if value is None or value != value else f"{value:.6g}"
