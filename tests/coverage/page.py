"""README.md of this folder: what was simulated and what came out, made from results/ and from nothing else."""

from math import sqrt
from pathlib import Path

import journeys
import stored
from study import COVERS, NOMINAL, SAYS, verdict

PAGE = Path(__file__).with_name("README.md")
OPENING = """# How often the intervals are right

Data are simulated whose truth is known, palea calculates its intervals and tests from them, and it is counted how often
they are right. Nothing here is measured; nothing is tuned to one data set. `python tests/coverage [NAME ...]` repeats
the studies, `python tests/coverage/journeys.py [N]` the journeys, `python tests/coverage --page` writes this page.

A nominal 95 % interval should hold the true value in 93 to 97 of 100 data sets; a two-sided test at 5 % should show a
difference where there is none in 3 to 7 of 100; equivalence may be claimed in at most 5 of 100 where the difference is
as large as the margin. Two Monte Carlo errors are allowed for. **Short**: too seldom right, each with its limit stated
below. **Wide**: more careful than it says, which costs power but tells nothing wrong; it is what score intervals and
counts do where few seeds lie near 0 or 100 %, and where a dispersion is not taken below 1.
"""


JOURNEYS = (
    "inside: true value in the 95 % interval. verdict: the one that the demo should come out with; chance: in how many "
    "journeys it did; foreseen: the chance that was worked out when the demo was planned, with another program and simpler "
    "models. off: mean of the estimates less the mean of the true values. Where several batches stand behind both arms the "
    "truth is that of the recipe; with one batch an arm it is that of the batches that were made. Treatments of one active "
    "share a Dunnett quantile, and arms made from the same brush runs vary together, so that their intervals are wider than "
    "they would have to be."
)


def page(studies, folder=stored.RESULTS):
    """The whole page as text."""
    results = {study: stored.read(study.name, folder) for study in studies}
    done = {study: result for study, result in results.items() if result}
    parts = [OPENING, _summary(done), *(_study(*each) for each in done.items()), _journeys(stored.read(journeys.NAME, folder))]
    return "\n".join(part for part in parts if part)


def _summary(done):
    lines = ["## In short", "", "| study | measure | cells | sets a cell | lowest | highest | short | wide |",
             "|---|---|---|---|---|---|---|---|"]
    for study, result in done.items():
        for measure in dict.fromkeys(row["measure"] for row in result["rows"]):
            rows = [r for r in result["rows"] if r["measure"] == measure and r["share"] is not None]
            shares = [r["share"] for r in rows]
            told = [verdict(r) for r in rows]
            lines.append(
                f"| {study.name} | {measure} | {len(rows)} | {rows[0]['sets']} | {_pct(min(shares))} | "
                f"{_pct(max(shares))} | {told.count('short')} | {told.count('wide')} |"
            )
    errors = {r["sets"] for result in done.values() for r in result["rows"]}
    told = ", ".join(f"{100 * sqrt(NOMINAL * (1 - NOMINAL) / n):.1f} points with {n} sets" for n in sorted(errors))
    measures = "; ".join(f"{name}: {says}" for name, says in SAYS.items())
    return "\n".join([*lines, "", f"In %. {measures}. Monte Carlo error of a share of 95 %: {told}.", ""])


def _study(study, result):
    settings = list(dict.fromkeys(name for row in result["rows"] for name in row["cell"]))
    measures = list(dict.fromkeys(row["measure"] for row in result["rows"]))
    lines = [f"## {study.title}", "", f"`{study.name}`, {result['date']}, palea {result['versions']['palea']}. {study.about}", ""]
    for limit in study.limits:
        concerned = [r for r in result["rows"] if limit.of(r) and verdict(r) == "short"]
        lines += [f"**Limit** ({len(concerned)} of the shares below): {limit.says}", ""]
        if limit.printed:
            lines += [f"Printed with results from such data: “{limit.printed}”", ""]
    if study.careful:
        wide = sum(verdict(r) == "wide" and r["measure"].startswith(COVERS) for r in result["rows"])
        lines += [f"**Wide** ({wide} of the shares below), and printed with results: “{study.careful}”", ""]
    lines += [f"| {' | '.join([*settings, *measures])} |", "|" + "---|" * (len(settings) + len(measures))]
    cells = {}
    for row in result["rows"]:
        cells.setdefault(tuple(row["cell"].items()), {})[row["measure"]] = row
    for cell, by in cells.items():
        values = dict(cell)
        shown = [str(values.get(name, "")) for name in settings] + [_shown(by.get(name)) for name in measures]
        lines.append(f"| {' | '.join(shown)} |")
    return "\n".join([*lines, ""])


def _shown(row):
    if row is None:
        return ""
    if row["share"] is None:
        return "no answer"
    of = "" if row["answered"] == row["sets"] else f" (of {row['answered']})"
    return f"{_pct(row['share'])} {verdict(row)}{of}".replace("  ", " ").strip()


def _pct(share):
    return f"{100 * share:.1f}"


def _journeys(result):
    if not result:
        return ""
    n, first = result["journeys"], result["first_seed"]
    short_of = f" ({result['wanted']} were wanted)" if n < result["wanted"] else ""
    about = (
        f"`journeys`, {result['date']}, palea {result['versions']['palea']}. {n} journeys, seeds {first} to {first + n - 1}"
        f"{short_of}. {JOURNEYS}"
    )
    lines = ["## The invented journey, drawn anew", "", about, "",
             "| contrast | true | off | inside | verdict | chance | foreseen |", "|---|---|---|---|---|---|---|"]
    wanted, total, judged = journeys.expected(), 0, 0
    for contrast, found in result["contrasts"].items():
        many = found["judged"]
        total, judged = total + found["inside"], judged + many
        numbers = (
            f"{found['true_sum'] / many:.2f} | {found['off_sum'] / many:+.2f} | {_pct(found['inside'] / many)}" if many > 0
            else " | | "
        )
        chance, foreseen = found["verdicts"].get(wanted[contrast], 0) / n, journeys.FORESEEN.get(contrast)
        lines.append(f"| {contrast} | {numbers} | {wanted[contrast]} | {chance:.2f} | "
                     f"{'' if foreseen is None else f'{foreseen:.2f}'} |")
    error = 100 * sqrt(NOMINAL * (1 - NOMINAL) / n)
    together = (f"All together: {_pct(total / judged)} % of {judged} intervals hold the true value. Monte Carlo error of "
                f"one line: {error:.1f} points.")
    return "\n".join([*lines, "", together, ""])
