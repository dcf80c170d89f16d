"""A refusal as a picture: a plain panel that says what was asked, what is missing and what would help."""

import altair as alt
import pandas as pd

from palea import look
from palea.calc.terms import Verdict
from palea.figures import in_words, theme
from palea.figures.chart import Chart
from palea.words import prose
from palea.words import refusal as told

LINE_PX, WIDTH_CHARACTERS = 20, 88


def draw(result, sentences, names):  # noqa: ARG001  every family is drawn in the same way; a refusal says itself
    """A chart that says why there is none."""
    asked = prose.capital(told.asked_for(result))
    lines = [line for text in (result.missing, result.remedy) for line in prose.wrapped(text, WIDTH_CHARACTERS)]
    frame = pd.DataFrame({"line": lines, "row": range(len(lines))})
    text = Chart(frame).mark_text(align="left", baseline="middle", fontSize=theme.HEAD_PX)
    chart = text.encode(y=alt.Y("row:O", axis=None), x=alt.XValue(16), text=alt.Text("line:N")).properties(
        width=look.CHART_WIDTH_PX, height=LINE_PX * (len(lines) + 1), view=alt.ViewConfig(stroke=look.LINE),
        title=f"{asked}: {Verdict.NOT_JUDGED}",
    )
    return theme.finished(chart, in_words.alternative(result, names))
