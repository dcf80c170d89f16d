"""Effects as a picture: one part a species and environment, its groups to the left, its contrasts to the right."""

from dataclasses import dataclass

import altair as alt

from palea.calc.results import Effects
from palea.figures import differences, dishes, in_words, rows, theme
from palea.figures.chart import hconcat, vconcat
from palea.words import contrast, effects, naming, prose, values

LEFT = (
    "Left: small hollow points are {units}, a lane a batch; short bars are batch means; the filled mark is the estimate,"
    " its thick line the 95 % interval; the dashed line is the control of most contrasts."
)
RIGHT = (
    "Right: thick line, 95 % interval; thin ticks, ends of the 90 % interval; band, the margin; small diamond, the same"
    " contrast of sown units, which counts empties."
)


@dataclass(frozen=True)
class Sheet:
    """What all parts of a figure share.

    measure : (quantity, denominator) that is drawn.  found : its dishes.
    axis : title of the left axis.  left, right : domains of the axes.
    """

    result: Effects
    found: dict
    names: dict
    marks: dict
    measure: tuple[str, str]
    axis: str
    left: tuple[float, float]
    right: tuple[float, float]

    def groups(self, here):
        """Groups of one species and environment."""
        return [g for g in contrast.main_groups(self.result, *here) if _measure(g) == self.measure]

    def effects(self, here):
        """Contrasts of one species and environment, the primary ones first."""
        return [e for e in contrast.main_effects(self.result, *here) if _measure(e) == self.measure]


def draw(result, sentences, names, measure=None):
    """A chart of one quantity; what else the result holds is named at the foot.

    sentences : what `words` said; those of the primary contrasts become subtitles.  names : {id: readable label}.
    measure : (quantity, denominator); that of the primary contrasts unless given.
    """
    sheet = _sheet(result, names, measure or main_measure(result))
    headlines = effects.headlines(result, names)
    parts = [
        _part(sheet, here, [s for s in headlines.get(here[0], ()) if s in sentences])
        for here in contrast.settings(result) if sheet.groups(here) or sheet.effects(here)
    ]
    title = alt.Title(prose.capital(naming.subject(*sheet.measure)), fontSize=theme.TITLE_PX + 2)
    foot = theme.notes([LEFT.format(units=naming.behind(sheet.measure[0])[0][1]), RIGHT, *_also(sheet)], rows.LABEL_PX)
    chart = vconcat(*parts, foot, title=title, spacing=26)
    return theme.finished(chart, in_words.alternative(result, names))


def main_measure(result):
    """(quantity, denominator) of the first primary contrast, else of the first contrast, else of the first group."""
    first = [e for here in contrast.settings(result) for e in contrast.main_effects(result, *here)]
    return _measure(next((e for e in first if e.primary), (first or result.estimates)[0]))


def _measure(estimate):
    return estimate.quantity, estimate.denominator


def _sheet(result, names, measure):
    shown = [g for g in result.groups if _measure(g) == measure]
    main = [e for here in contrast.settings(result) for e in contrast.main_effects(result, *here)]
    asked = [e for e in main if _measure(e) == measure]
    marks = theme.marks([g.of.get("treatment", "") for g in result.groups], names)
    axis = naming.axis(*measure, next((g.unit for g in shown), ""))
    found = dishes.of_groups(shown, result.units)
    left = rows.domain_of(shown, found, share=bool(measure[1]))
    return Sheet(result, found, names, marks, measure, axis, left, differences.domain_of(asked))


def _part(sheet, here, sentences):
    """One species in one environment, under its name and its primary sentences."""
    groups, asked = sheet.groups(here), sheet.effects(here)
    control = rows.most_asked(asked, groups)
    panels = []
    if groups:
        panels.append(rows.panel(groups, sheet.found, sheet.names, sheet.marks, sheet.axis, sheet.left, control))
    if asked:
        panels.append(differences.panel(asked, sheet.result, sheet.right))
    several = values.several_environments(sheet.result.estimates)
    where = naming.place(dict(zip(("taxon", "environment"), here, strict=True)), sheet.names, several)
    lines = [line for sentence in sentences for line in prose.wrapped(sentence, theme.WRAP)]
    title = alt.Title(where or "All", subtitle=lines, fontSize=theme.HEAD_PX + 1, offset=24)
    return hconcat(*panels, title=title, bounds="flush", spacing=rows.TEXT_PX + differences.LABEL_PX)


def _also(sheet):
    """What the result holds and this picture does not."""
    main = [e for here in contrast.settings(sheet.result) for e in contrast.main_groups(sheet.result, *here)]
    other = dict.fromkeys(naming.subject(*_measure(e)) for e in main if _measure(e) != sheet.measure)
    return [f"Also measured, told in the sentences: {prose.listed(other)}."] if other else []
