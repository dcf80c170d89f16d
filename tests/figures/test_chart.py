"""What comes out of our quick charts is what altair itself would give."""

import json
from types import SimpleNamespace

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


def test_columns_are_rows_without_a_frame_around_them():
    columns = {"x": [1.5, None], "n": range(2), "name": ["a", "b"]}
    ours, frame = (chart.Chart(of).mark_point().encode(x="x:Q").to_dict() for of in (columns, pd.DataFrame(columns)))
    assert ours == frame
    with pytest.raises(ValueError, match="zip"):
        chart.Chart({"x": [1, 2], "name": ["a"]})


def joined_by(grammar):
    """What no figure has all of: a filter, tooltips, charts in charts that share all rows, rows said twice."""
    base = grammar.Chart(FRAMES["numbers"]).encode(alt.X("x:Q"), tooltip=[alt.Tooltip("n:O"), alt.Tooltip("x:Q")])
    upper = grammar.layer(base.mark_point(), base.transform_filter("datum.n > 1").mark_line(size=2), width=100)
    lower = base.mark_rule().encode(x2=alt.X2("n:Q"), y=alt.YValue(3), text="n:N", order=alt.Order("n:Q"))
    other = grammar.Chart(FRAMES["numbers"].copy()).mark_area().encode(alt.X("x:Q").scale(alt.Scale(type="log")).axis(None))
    alike = grammar.vconcat(upper, lower.properties(height=30), spacing=3)
    again = grammar.layer(upper, lower)
    return grammar.hconcat(alike, grammar.concat(other, again, columns=1), title=alt.Title("both", fontSize=12))


def test_charts_are_joined_as_altair_joins_them():
    ours = SimpleNamespace(**{name: getattr(chart, name) for name in ("Chart", "layer", "hconcat", "vconcat", "concat")})
    known = joined_by(alt).to_dict()
    assert json.dumps(chart.spec_of(joined_by(ours)), sort_keys=True) == json.dumps(known, sort_keys=True)


def test_what_is_joined_can_be_joined_and_changed_again():
    part = chart.layer(chart.Chart(FRAMES["numbers"]).mark_point().encode(alt.X("x:Q")), width=50)
    before = part.to_dict()
    first, second = chart.hconcat(part, part), chart.vconcat(part.properties(height=9), part, title="second")
    first.title = "first"
    assert part.to_dict() == before
    assert (first.to_dict()["title"], second.to_dict()["title"]) == ("first", "second")
    assert [p.get("height") for p in second.to_dict()["vconcat"]] == [9, None]


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
