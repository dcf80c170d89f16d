"""Lineage, map of single steps, row strip, plots, stock, bars of 100 units, losses: what must be in each, and that it is drawn."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.results import Effects, Estimate
from palea.figures import draw, evidence, handling, hundred, lineage, losses, maps, plots, runs, stock, to_svg
from palea.words import say

NAMES = {"A": "in the hull", "B": "film", "C": "pellet"}
WIDEST = 1280


def fits(chart):
    """The SVG of a chart, which must fit the screen and say in words what it shows."""
    svg = to_svg(chart)
    wide = float(svg.split('width="')[1].split('"')[0])
    assert wide <= WIDEST, wide
    assert "<desc>" in svg
    assert "NaN" not in svg.partition("</desc>")[2]
    assert "ellipse" not in svg
    return svg


@pytest.fixture
def stations():
    """One received lot, a run of it into two lots, a trial of one of them, and seed that was not weighed."""
    nodes = pd.DataFrame({
        "kind": ["lot", "run", "lot", "lot", "trial"], "name": ["A-0", "R-1", "A-1", "A-1 waste", "G1"],
        "second": [""] * 5, "treatment": ["", "A", "A", "A", ""],
    })
    links = pd.DataFrame({"from": [0, 1, 1, 2], "to": [1, 2, 3, 4], "grams": [100.0, 60.0, 40.0, np.nan]})
    return nodes, links


def test_a_station_stands_right_of_all_that_it_came_from_and_trials_stand_last():
    kinds = np.array(["lot", "trial", "run", "lot"])
    assert lineage.columns_of(kinds, np.array([0, 0, 2]), np.array([1, 2, 3])).tolist() == [0, 3, 1, 2]


def test_a_loop_of_lots_is_laid_out_all_the_same():
    column = lineage.columns_of(np.array(["lot", "lot", "lot"]), np.array([0, 1, 2]), np.array([1, 2, 0]))
    assert len(column) == 3


def test_ribbons_are_as_broad_as_the_grams_that_passed(stations):
    ribbons = lineage.laid_out(*stations).ribbons
    first, second, third, unweighed = ribbons["wide"]
    assert first == pytest.approx(lineage.TALL_PX)
    assert (second / first, third / first) == pytest.approx((0.6, 0.4))
    assert (unweighed, ribbons["known"].iloc[3]) == (lineage.THIN_PX, False)


def test_stations_of_a_column_do_not_touch_and_none_lies_above_the_edge():
    """Derived by hand: three that all want the top are pushed down, each by the room of the one before."""
    tops = lineage._stacked(np.array([-5.0, 0.0, 1.0]), np.array([10.0, 50.0, 10.0]))
    assert tops.tolist() == [0.0, lineage.SLOT_PX, lineage.SLOT_PX + 56.0]
    assert lineage._stacked(np.array([-5.0]), np.array([10.0])).tolist() == [0.0]


def test_the_lineage_is_drawn_and_unweighed_passages_are_dashed(stations):
    svg = fits(lineage.draw(*stations, NAMES, "Lineage", "A-0 to R-1."))
    assert 'stroke-dasharray="4,3"' in svg
    assert to_svg(lineage.draw(*stations, NAMES, "Lineage", "A-0 to R-1.")) == svg


def test_the_lineage_of_nothing_says_so():
    empty = pd.DataFrame({"kind": [], "name": [], "second": [], "treatment": []})
    assert lineage.NOTHING in fits(lineage.draw(empty, pd.DataFrame({"from": [], "to": [], "grams": []}), {}, "Lineage", ""))


@pytest.fixture
def steps():
    return pd.DataFrame({
        "a": ["A", "A", "B"], "b": ["B", "C", "C"], "words": ["coat", "hull and coat", "active"], "n": [1, 2, 1],
        "declared": [True, True, False],
    })


def test_only_single_steps_and_declared_contrasts_have_a_line(steps):
    place = {"A": (0, 0), "B": (1, 0), "C": (2, 0)}
    ways = [line["way"] for line in maps._lines(steps, place)]
    assert ways == ["declared", "dashed", "thin"]
    undeclared = steps.assign(declared=[True, False, False])
    assert [line["way"] for line in maps._lines(undeclared, place)] == ["declared", "thin"], "A and C differ in two things"


def test_the_map_shows_the_arm_that_is_not_there(steps):
    nodes = pd.DataFrame({"treatment": ["A", "B", "C"], "label": ["In the hull", "Film", "Pellet"]})
    absent = pd.DataFrame({"base": ["A"], "words": ["wetting agent, in the hull"]})
    svg = fits(maps.draw(nodes, steps, absent, NAMES, "Single steps", "told"))
    assert "wetting agent, in the hull" in svg
    assert ">hull and coat<" in svg
    assert ">active<" not in svg


def test_the_row_strip_has_a_tick_a_single_seed_and_a_cell_a_metre():
    stretches = pd.DataFrame({
        "treatment": ["B", "B", "A", "A"], "run": ["1", "1", "2", "2"], "start_m": [0.0, 1.0, 0.25, 0.75],
        "end_m": [1.0, 2.0, 0.25, 0.75], "per_m": [12.0, 30.0, np.nan, np.nan],
    })
    chart = handling.draw(stretches, NAMES, "Rows", "told")
    layers = chart.to_dict()["vconcat"][0]["hconcat"][0]["layer"]
    assert [layer["mark"]["type"] for layer in layers[:2]] == ["rect", "rule"]
    fits(chart)


def test_plots_lie_where_they_are_and_thick_lines_part_blocks():
    field = pd.DataFrame({
        "unit": list("abcd"), "treatment": ["A", "B", "B", "A"], "block": ["1", "1", "2", "2"], "row": [1, 1, 2, 2],
        "column": [1, 2, 1, 2], "value": [10.0, np.nan, 30.0, 0.0], "told": ["10 %", "", "30 %", "0 %"],
    })
    chart = plots.draw(field, "Plots", "standing, %", "told")
    lines = [x for x in chart.to_dict()["vconcat"][0]["layer"] if x["mark"]["type"] == "rule"]
    assert len(lines) == 1
    fits(chart)


def test_the_parts_of_a_bar_end_at_100_and_the_edge_lies_where_the_interval_says():
    parts = pd.DataFrame({
        "name": ["L"] * 3, "second": [""] * 3, "kind": ["empty", "dead", "alive"], "share": [20.0, 10.0, 70.0],
        "lower": [np.nan, np.nan, 60.0], "upper": [np.nan, np.nan, 80.0],
    })
    laid = hundred._stacked(parts, ("empty", "dead", "alive"))
    assert laid["right"].tolist() == [20.0, 30.0, 100.0]
    assert (laid["from"].iloc[2], laid["to"].iloc[2]) == (20.0, 40.0)
    fits(hundred.draw(parts, ("empty", "dead", "alive"), "Bars", "told"))


def test_planned_draws_are_dotted_below_zero_where_the_lot_falls_short():
    held = pd.DataFrame({"lot": "L", "at": ["2024-01-01", "2024-03-01"], "grams": [100.0, 40.0]})
    left, none = pd.DataFrame({"lot": ["L"], "grams": [-15.0]}), pd.DataFrame({"lot": [], "at": [], "grams": []})
    chart = stock.draw(held, left, none, "Stock", "told")
    panel = chart.to_dict()["vconcat"][0]["concat"][0]["layer"]
    assert panel[0]["encoding"]["y"]["scale"]["domain"][0] == -15.0
    assert panel[2]["mark"]["strokeDash"] == [2, 3]
    fits(chart)


def test_runs_are_drawn_each_and_coats_beside_what_was_planned():
    effort = pd.DataFrame({"taxon": "X", "treatment": ["A", "A", "B"], "minutes": [1.0, 2.0, 30.0], "yield_pct": [60, 70, 95]})
    fits(runs.effort(effort, NAMES, "Effort", "told"))
    cycles = pd.DataFrame({"treatment": "B", "batch": "1", "cycle": [1.0, 2.0], "done": [10.0, 21.0], "planned": [10.0, 20.0],
                           "lowest": [8.0, 16.0], "highest": [12.0, 24.0]})  # fmt: skip
    singles = pd.DataFrame({"treatment": "B", "mass_mg": [1.0, 1.2, 1.1], "bare_mg": 9.0})
    fits(runs.growth(cycles, singles, NAMES, "Growth", "told"))


@pytest.fixture
def chain():
    """Armeria maritima at Hollow Sands, week 40, as the design of the invented demo has it: 100, 70, 64.4, 38.7, 19.3, 3.1."""
    of = {"taxon": "AM", "treatment": "T01"}
    shares = {"filled": 70.0, "viable": 64.4, "germinated": 38.7, "emerged": 19.3, "established": 3.1}
    groups = tuple(Estimate(q, of, v, v * 0.9, v * 1.1, denominator="sown units", n_units=16) for q, v in shares.items())
    return Effects(pd.DataFrame(), "", (), (), groups, ())


def test_losses_are_bars_one_inside_the_other(chain, final):
    assert losses.fits(chain)
    assert not losses.fits(final)
    chart = draw(chain, say(chain, {}), {"AM": "Armeria maritima", "T01": "In the calyx"})
    bars = next(x for x in chart.to_dict()["vconcat"][0]["layer"] if "shade" in str(x["encoding"].get("fill", "")))
    rows = pd.DataFrame(chart.to_dict()["datasets"][bars["data"]["name"]])
    assert rows["right"].tolist() == [70.0, 64.4, 38.7, 19.3, 3.1]
    assert (rows["top"].diff().dropna() > 0).all(), "each lies inside the one before"
    assert (rows["left"] == 0).all()
    svg = fits(chart)
    assert "100 › 70 › 64 › 39 › 19 › 3.1" in svg


def test_the_table_of_evidence_says_where_nothing_was_measured():
    cells = pd.DataFrame([{"row": "B against A", "second": "X", "stage": "germination", "verdict": "better", "said": "30 points"}])
    svg = fits(evidence.draw(cells, ["germination", "field"], "Known", "told"))
    assert svg.count(">better<") == 1
    assert svg.count(f">{evidence.EMPTY}<") == 1
