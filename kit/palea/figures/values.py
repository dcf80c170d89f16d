"""Values as a picture: one part a species and environment; several quantities side by side, each on its own axis."""

import math
from dataclasses import replace

import altair as alt

from palea.figures import dishes, in_words, rows, theme
from palea.figures.chart import hconcat, vconcat
from palea.words import contrast, naming, prose
from palea.words import values as told

KEY = "The filled mark is the estimate, its thick line the 95 % interval."
OF_UNITS = "Small hollow points are {units}, a lane a batch; short bars are batch means."
ACROSS = 4  # panels side by side, where there are several quantities; more are named at the foot
SMALL_PX, GAP_PX = 225, 24
TITLE_CHARACTERS = 100


def draw(result, sentences, names):
    """A chart of the first quantities of the result.

    sentences : what `words` said; one of a single group becomes its subtitle.  names : {id: readable label}.
    """
    estimates = result.estimates
    marks = theme.marks([e.of.get("treatment", "") for e in estimates], names)
    measures = list(dict.fromkeys((e.quantity, e.denominator) for e in estimates))
    measures, more = measures[:ACROSS], measures[ACROSS:]
    part = _alone if len(measures) == 1 else _beside
    found = dishes.of_groups(estimates, result.units)
    axes = {measure: _axis(result, measure, found) for measure in measures}
    settings = list(dict.fromkeys(map(contrast.setting, estimates)))
    parts = [part(result, found, names, marks, axes, here) for here in settings]
    shown = prose.capital(prose.listed(naming.subject(*measure) for measure in measures))
    subtitle = prose.wrapped(sentences[0], theme.WRAP) if len(sentences) == 1 else []
    title = alt.Title(prose.wrapped(shown, TITLE_CHARACTERS), subtitle=subtitle, fontSize=theme.TITLE_PX + 2)
    also = [f"Also measured, told in the sentences: {prose.listed(naming.subject(*m) for m in more)}."] if more else []
    units = prose.listed(dict.fromkeys(naming.behind(quantity)[0][1] for quantity, _ in measures))
    key = (OF_UNITS.format(units=units), KEY) if len(result.units) else (KEY,)
    chart = vconcat(*parts, theme.notes([" ".join(key), *also], rows.LABEL_PX), title=title, spacing=26)
    return theme.finished(chart, in_words.alternative(result, names))


def _of(result, measure, here=None):
    """Estimates of one quantity and denominator, in one species and environment."""
    fits = (e for e in result.estimates if (e.quantity, e.denominator) == measure)
    return [e for e in fits if here in (None, contrast.setting(e))]


def _axis(result, measure, found):
    everywhere = _of(result, measure)
    unit = next(iter(everywhere)).unit
    return naming.axis(*measure, unit), rows.domain_of(everywhere, found, share=bool(measure[1]))


def _heading(result, names, here):
    """The title of a part, where it has one."""
    several = told.several_environments(result.estimates)
    where = naming.place(dict(zip(("taxon", "environment"), here, strict=True)), names, several)
    return {"title": alt.Title(where, fontSize=theme.HEAD_PX + 1)} if where else {}


def _alone(result, found, names, marks, axes, here):
    ((measure, axis),) = axes.items()
    panel = rows.panel(_of(result, measure, here), found, names, marks, *axis)
    return panel.properties(**_heading(result, names, here))


def _filled(groups, everyone, measure):
    """The groups in the rows of everyone, so that a row is of one thing across all panels; who has no value stays empty."""
    mine = {_key(g): g for g in groups}
    absent = {"quantity": measure[0], "denominator": measure[1], "value": math.nan, "lower": math.nan, "upper": math.nan}
    several = len(mine) < len(groups)  # one thing at several times: its rows have no counterpart beside
    return groups if several else [mine.get(key, replace(g, **absent)) for key, g in {_key(g): g for g in everyone}.items()]


def _key(group):
    return tuple(sorted((k, str(v)) for k, v in group.of.items()))


def _beside(result, found, names, marks, axes, here):
    everyone = [g for measure in axes for g in _of(result, measure, here)]
    panels = [
        rows.small_panel(
            _filled(_of(result, measure, here), everyone, measure), found, names, marks, *axis, SMALL_PX, named=i == 0)
        for i, (measure, axis) in enumerate(axes.items())
    ]
    return hconcat(*panels, **_heading(result, names, here), spacing=GAP_PX, bounds="flush")
