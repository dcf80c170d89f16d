"""Where seed is lost: of 100 sown units how many reach each stage, as bars one inside the other, a row a treatment."""

import altair as alt
import pandas as pd

from palea import look
from palea.calc.results import Effects
from palea.figures import rows, theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import contrast, naming, numbers, prose, values

WHOLE_FROM = 10  # of 100 units: fewer are told with a decimal
FEWEST = 3  # stages that make a chain
SHADES = ("#E8EEF4", "#C3D4E3", "#93B4D0", "#5E91BA", "#2C6A9E", "#0B4675", "#062A47")
PLOT_PX, STEP_PX, TEXT_PX = 560, 44, 300
KEY = (
    "Of 100 sown units (whole frame), bars one inside the other, pale to dark and broad to thin: {}. The line on the last is its"
    " 95 % interval. Shares rest on dishes and plots of their own, so a later stage can seem larger than an earlier one."
)


def fits(result):
    """Whether a result is a chain of losses: groups of which each has several stages, all of sown units.

    Its steps are compared as ratios; a result with one quantity of sown units is no chain.
    """
    if not isinstance(result, Effects) or not result.groups:
        return False
    stages = {g.quantity for g in result.groups}
    return len(stages) >= FEWEST and len({g.denominator for g in result.groups}) == 1 and all(
        e.scale == "ratio" for e in result.effects) and {"filled", "viable"} <= stages  # fmt: skip


def draw(result, sentences, names):  # noqa: ARG001  a sentence a step is too many for a subtitle
    """A chart of one part a species and place. names : {id: readable label}."""
    several = values.several_environments(result.groups)
    parts = []
    for here in dict.fromkeys(map(contrast.setting, result.groups)):
        part = _part([g for g in result.groups if contrast.setting(g) == here], names)
        where = naming.place(dict(zip(("taxon", "environment"), here, strict=True)), names, several)
        parts.append(part.properties(title=alt.Title(where or "All", fontSize=theme.HEAD_PX + 1)))
    stages = prose.listed(dict.fromkeys(naming.title(g.quantity) for g in result.groups))
    title = alt.Title("Where seed is lost", fontSize=theme.TITLE_PX + 2)
    chart = vconcat(*parts, theme.notes([KEY.format(stages)], rows.LABEL_PX), title=title, spacing=26)
    told = [f"{naming.called(names, t)}{where}: {way}" for t, where, way in _chains(result.groups, names)]
    return theme.finished(chart, prose.together(f"Bars of 100 sown units one inside the other: {stages}", *told))


def _chains(groups, names):
    """(treatment, place, its chain in words) of every treatment."""
    found = {}
    for g in groups:
        found.setdefault((g.of.get("treatment", ""), g.of.get("environment", "")), []).append(g)
    for (treatment, environment), stages in found.items():
        where = f" in {names.get(environment, environment)}" if environment else ""
        yield treatment, where, prose.listed(f"{naming.title(g.quantity)} {_amount(g.value)}" for g in stages)


def _amount(value):
    return numbers.plain(value, 0 if value >= WHOLE_FROM else 1)


def _part(groups, names):
    """Rows of one species and place."""
    chains = {}
    for g in groups:
        chains.setdefault(g.of.get("treatment", ""), []).append(g)
    bars, ends, told = [], [], []
    for row, (treatment, stages) in enumerate(chains.items()):
        for depth, g in enumerate(stages):
            half = 0.42 - 0.3 * depth / max(len(stages) - 1, 1)
            shade = SHADES[min(depth, len(SHADES) - 1)]
            bars.append({"top": row - half, "foot": row + half, "right": g.value, "shade": shade, "depth": depth})
        last = stages[-1]
        ends.append({"row": row, "lower": last.lower, "upper": last.upper})
        first, second = theme.in_two(prose.capital(naming.plain_name(names, treatment)), treatment, rows.LABEL_CHARACTERS)
        way = " › ".join(_amount(g.value) for g in stages)
        told.append({"row": row, "name": first, "key": second, "way": f"100 › {way}",
                     "behind": f"{naming.title(last.quantity)}: {naming.replication(last)}"})
    x = alt.X("right:Q", title="of 100 sown units", scale=alt.Scale(domain=[0, 100], nice=False))
    y = rows.down
    frame = pd.DataFrame(bars).dropna(subset=["right"]).assign(left=0.0).sort_values("depth", kind="stable").round(theme.PLACES)
    edges = {"top": [t["row"] - 0.42 for t in told], "foot": [t["row"] + 0.42 for t in told]}
    whole = pd.DataFrame(edges).assign(left=0.0, right=100.0)
    texts, spans = pd.DataFrame(told), pd.DataFrame(ends).dropna().round(theme.PLACES)
    box = Chart(frame).mark_rect(stroke=look.INK, strokeWidth=0.6, opacity=1)
    layers = [
        Chart(whole).mark_rect(fill=look.PAPER, stroke=look.QUIET, strokeWidth=0.8).encode(
            x=alt.X("left:Q"), x2=alt.X2("right:Q"), y=y("top", len(chains)), y2=alt.Y2("foot")),
        box.encode(x, x2=alt.X2("left:Q"), y=y("top"), y2=alt.Y2("foot"), fill=alt.Fill("shade:N", scale=None)),
        Chart(spans).mark_rule(color=look.INK, strokeWidth=2).encode(x=alt.X("lower:Q"), x2=alt.X2("upper:Q"), y=y("row")),
        *theme.two_lines(texts, "name", "key", y("row"), -10, "right", bold=False), rows.margin(rows.LABEL_PX),
        *theme.two_lines(texts, "way", "behind", y("row"), PLOT_PX + 10),
    ]
    return layer(*layers, width=PLOT_PX, height=STEP_PX * len(chains))
