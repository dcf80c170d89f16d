"""Published against rerun: what differs has another shape, not only another colour; the text beside says it in words."""

import re

import numpy as np
import pandas as pd

from palea.figures import published, to_svg


def frame(rows):
    columns = ["was", "now", "verdict", "unit", "no"]
    return pd.DataFrame(rows, columns=columns).astype({"was": float, "now": float})


ROWS = [(n, n, "identical", "%", 0) for n in range(5)] + [
    (31.25, 31.25 * (1 + 4e-7), "within tolerance", "%", 0), (12.0, 19.0, "differs", "d", 1), (3.0, np.nan, "missing", "d", 2),
]  # fmt: skip


def shapes(chart):
    """{shape: number of points} over all panels."""
    found = {}
    told = chart.to_dict()
    panels = [panel for line in told["vconcat"] for panel in line.get("hconcat", ())]
    for layer in (layer for panel in panels for layer in panel["layer"] if isinstance(layer["mark"], dict)):
        if layer["mark"]["type"] == "point":
            rows = told["datasets"][layer["data"]["name"]]
            found[layer["mark"]["shape"]] = found.get(layer["mark"]["shape"], 0) + len(rows)
    return found


def test_each_verdict_has_a_shape_of_its_own_and_the_panel_with_a_difference_comes_first():
    chart = published.draw(frame(ROWS))
    assert shapes(chart) == {"circle": 5, "square": 1, "triangle-up": 1}
    svg = to_svg(chart)
    assert svg.index("published, d<") < svg.index("published, %<")
    assert "1 result without a number on one of the sides cannot be drawn." in svg
    assert not re.search(r"<script|<image|href", svg)


def test_the_text_beside_says_which_numbers_lie_off_the_line():
    said = published.draw(frame(ROWS)).description
    assert "d: 1 number, of these off the line: published 12, rerun 19" in said
    assert "%: 6 numbers, all on the line" in said


def test_points_on_the_same_pixel_are_drawn_once_but_none_that_differs_is_left_out():
    same = [(5.0 + n * 1e-9, 5.0 + n * 1e-9, "identical", "%", 0) for n in range(50)] + [(0.0, 0.0, "identical", "%", 0)]
    far = [(5.0, 9.0, "differs", "%", n) for n in range(1, 4)]
    assert shapes(published.draw(frame(same + far))) == {"circle": 2, "square": 0, "triangle-up": 3}


def test_one_number_alone_and_many_units_can_be_drawn_and_nothing_at_all_cannot():
    assert published.draw(frame([(7.0, 7.0, "identical", "%", 0)])) is not None
    units = ["%", "d", "g", "mg", "mm", "cm", "d2", "1"]
    assert "2 numbers of further units stand in the table alone." in to_svg(
        published.draw(frame([(1.0, 1.0, "identical", u, 0) for u in units])))  # fmt: skip
    assert published.draw(frame([(np.nan, 1.0, "extra", "%", 1), (np.inf, np.inf, "identical", "%", 0)])) is None
