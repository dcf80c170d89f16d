"""What comes out of our quick charts is what altair itself would give."""

import altair as alt
import numpy as np
import pandas as pd
import pytest

from palea.figures import chart, draw, theme
from palea.words import say

FRAMES = {
    "numbers": pd.DataFrame({"x": [1.5, np.nan, np.inf], "n": [1, 2, 3], "yes": [True, False, True]}),
    "words": pd.DataFrame({"name": ["a", None, "c"], "typed": pd.array(["x", pd.NA, "z"], dtype=pd.StringDtype("pyarrow"))}),
    "blanks": pd.DataFrame({"n": pd.array([1, pd.NA], dtype="Int64"), "x": pd.array([0.5, pd.NA], dtype="Float64")}),
    "days": pd.DataFrame({"day": pd.to_datetime(["2026-05-04", "2026-05-05"])}),
    "kinds": pd.DataFrame({"kind": pd.Categorical(["b", "a", None])}),
    "nothing": pd.DataFrame({"x": pd.Series(dtype=float), "name": pd.Series(dtype=object)}),
}


@pytest.mark.parametrize("frame", FRAMES.values(), ids=FRAMES)
def test_a_frame_becomes_the_values_that_altair_makes_of_it(frame):
    before = frame.copy()
    made, known = chart.values_of(frame), alt.to_values(frame)
    assert made == known
    assert [[type(x) for x in row.values()] for row in made["values"]] == [
        [type(x) for x in row.values()] for row in known["values"]
    ]
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.parametrize("family", ["final", "curves", "speeds", "refused"])
def test_a_figure_is_written_as_altair_writes_it(family, names, request):
    result = request.getfixturevalue(family)
    figure = draw(result, say(result, names), names)
    assert chart.spec_of(figure) == figure.to_dict()
    assert alt.data_transformers.active != chart.WAY


def test_a_copy_is_a_chart_of_its_own():
    one = chart.Chart(FRAMES["numbers"]).mark_point().encode(alt.X("x:Q"))
    other = one.copy()
    other.width, other.title = 10, "other"
    assert isinstance(other, chart.Chart)
    assert one.to_dict().keys().isdisjoint({"width", "title"})


def test_figures_are_laid_out_by_the_font_that_comes_with_their_writer(refused):
    svg = theme.to_svg(draw(refused, say(refused, {}), {}))
    wide = theme.to_svg(theme.finished(chart.Chart(FRAMES["nothing"]).mark_text().properties(title="W" * 40), ""))
    assert "Liberation Sans" in svg
    assert 600 < float(wide.split('width="')[1].split('"')[0]) < 660  # 40 W of 0.944 em at 16 px, twice the padding of 16
