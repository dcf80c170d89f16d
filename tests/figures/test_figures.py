"""Pictures: valid, the same each time, self-contained, with the units of replication in them and a text beside."""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import fields, replace

import altair as alt
import numpy as np
import pandas as pd
import pytest

from palea import look
from palea.calc.results import Effects, Estimate
from palea.errors import RecipeError
from palea.figures import alternative, courses, differences, draw, rows, theme, to_png, to_svg
from palea.figures import curves as lines
from palea.figures import dishes as behind
from palea.words import say

KINDS = ("final", "times", "curves", "speeds", "refused")
NEVER = ("arc", "bar", "image")  # pies, bars that could start above zero, pictures from outside


def drawn(result, names):
    return draw(result, say(result, names), names)


def of_one_species(result, taxon="AV"):
    """The same result, smaller: a picture of it takes a third of the time."""
    parts = {"groups", "effects", "curves", "estimates"} & {f.name for f in fields(result)}
    return replace(result, **{p: tuple(e for e in getattr(result, p) if e.of["taxon"] == taxon) for p in parts})


@pytest.fixture(scope="session", params=KINDS)
def result(request):
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="session")
def chart(result, names):
    return drawn(result, names)


@pytest.fixture(scope="session")
def svg(chart):
    return to_svg(chart)


@pytest.fixture(scope="session")
def final_svg(final, names):
    return to_svg(drawn(final, names))


def marks_of(spec):
    if isinstance(spec, dict):
        if "mark" in spec:
            yield spec["mark"]["type"]
        for name, part in spec.items():
            yield from marks_of(part) if name != "config" else ()
    elif isinstance(spec, list):
        for part in spec:
            yield from marks_of(part)


def texts(svg):
    return ["".join(e.itertext()) for e in ET.fromstring(svg).iter() if e.tag.endswith("text")]


def test_every_family_has_a_valid_spec_that_is_the_same_twice(result, chart, names):
    first, second = chart.to_dict(), drawn(result, names).to_dict()
    assert json.dumps(first) == json.dumps(second)
    assert not {"params", "name"} & set(first), "altair numbers its own names by session"
    assert not set(marks_of(first)) & set(NEVER)
    assert max(map(len, first["datasets"].values())) < 5000
    assert sum(map(len, first["datasets"].values())) < 10_000


def test_svg_is_self_contained_deterministic_and_small(result, svg, names):
    assert svg == to_svg(drawn(result, names))
    ET.fromstring(svg)
    assert not re.search(r"<script|<image|<foreignObject|@import|href=|url\(", svg)
    assert set(re.findall(r"https?://[^\"<\s]+", svg)) <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    width, height = map(float, re.search(r'width="([\d.]+)" height="([\d.]+)"', svg).groups())
    assert width <= 1280
    assert height < 1280 * 2**0.5, "at the width of a page it fits its height"
    assert len(svg) < 600_000


def test_the_text_alternative_travels_in_the_svg(result, svg, names):
    told = alternative(result, names)
    inside = ET.fromstring(svg).find("{http://www.w3.org/2000/svg}desc").text
    assert inside == told
    assert all(sentence in told for sentence in say(result, names))


def test_the_alternative_says_how_much_is_drawn(final, curves, names):
    assert "3 species, 28 groups and 448 dishes." in alternative(final, names)
    assert "3 species, 28 groups and 448 dishes." in alternative(curves, names)


def test_png_is_one(refused, names):
    assert to_png(drawn(refused, names)).startswith(b"\x89PNG")


def test_final_shows_dishes_batches_control_margin_and_verdict(final_svg):
    seen = texts(final_svg)
    circles = final_svg.count('stroke-width="1" opacity="0.75"')
    assert circles == 448, "one hollow point a dish"
    assert {"control AV-T03", "control CC-T03", "control AM-T03"} <= set(seen)
    assert {"-15", "+15", "Not judged", "Better", "Worse", "Not shown", "Equivalent within 15 points"} <= set(seen)
    assert "4 batches, 16 dishes, 392 seeds" in seen
    assert any(t.startswith("Normal seedlings, % of filled units") for t in seen)
    assert any(t.startswith("Primary contrast. In Anthyllis vulneraria") for t in seen)
    assert not any("*" in t for t in seen), "no stars"


def test_percent_axes_run_from_0_to_100(final, curves, names):
    assert rows.domain_of(final.groups, {}, share=True) == (0, 100)
    spec = json.dumps(drawn(of_one_species(curves), names).to_dict())
    assert '"domain": [0, 100.0]' in spec
    assert '"domain": [0, 42.0]' in spec


def test_dishes_of_a_batch_lie_in_one_lane_and_ties_side_by_side(final):
    groups = [g for g in final.groups if g.of["taxon"] == "CC" and g.denominator == "filled"]
    dishes = pd.DataFrame(behind.laid(groups, behind.of_groups(groups, final.units)))
    assert len(dishes) == 160
    assert dishes.duplicated(["row", "batch", "value"]).any(), "there are ties to move apart"
    assert not dishes.duplicated(["row", "lane", "value"]).any()
    first = dishes[dishes["row"] == 0].groupby("batch")["lane"].mean()
    assert first.is_monotonic_increasing
    assert (dishes["lane"] - dishes["row"]).abs().max() < 0.5


def test_units_without_the_right_columns_draw_no_dishes(final, names):
    bare = replace(of_one_species(final), units=pd.DataFrame())
    assert behind.of_groups(final.groups[:1], bare.units) == {}
    assert to_svg(drawn(bare, names)).count('stroke-width="1" opacity="0.75"') == 0


def test_differences_are_drawn_as_far_to_one_side_as_to_the_other(final, times):
    shown = [e for e in final.effects if e.denominator == "filled" and not np.isnan(e.value)]
    low, high = differences.domain_of(shown)
    assert low == -high
    assert all(low <= e.lower and e.upper <= high for e in shown)
    low, high = differences.domain_of(times.effects)
    assert 0 < low < 0.8
    assert high > max(e.upper for e in times.effects)


def test_a_treatment_keeps_its_colour_and_shape_in_every_figure(names):
    everything = theme.marks(list(names), names)
    assert theme.marks(["AM-T07"], names)["AM-T07"] == everything["AM-T07"]
    eight = theme.marks([f"t{i}" for i in range(8)], {})
    assert len({colour for colour, _, _ in eight.values()}) == 8
    sixteen = theme.marks([f"t{i}" for i in range(16)], {})
    assert len(set(sixteen.values())) == 16, "the ninth shares a colour, not a shape"


def test_the_dishes_of_a_curve_are_thinned_without_loss(curves):
    curve = curves.curves[0]
    whole = curves.units[curves.units["treatment"] == curve.of["treatment"]]
    thin = pd.DataFrame(courses.of_curves([curve], curves.units)[courses.key(curve)])
    assert len(thin) < len(whole)
    for unit, dish in whole.groupby("unit"):
        kept = thin[thin["unit"] == unit]
        at = np.searchsorted(kept["time"], dish["time"], side="right") - 1
        assert kept["value"].to_numpy()[at] == pytest.approx(dish["value"].to_numpy(), abs=1e-3)


def test_few_curves_share_a_panel_and_are_named_at_their_ends(curves, names):
    shown = ("AM-T03", "AM-T05", "AM-T07")
    few = replace(curves, curves=tuple(c for c in curves.curves if c.of["treatment"] in shown))
    seen = texts(to_svg(drawn(few, names)))
    assert any(re.fullmatch(r"AM-T07, 16 dishes, \d+ seeds", t) for t in seen)


def test_names_at_line_ends_do_not_overlap():
    ends = np.array([50.0, 51.0, 50.5, 90.0, 10.0])
    moved = lines.spread_out(ends, 5)
    assert np.diff(np.sort(moved)).min() >= 5 - 1e-9
    assert (np.argsort(moved) == np.argsort(ends)).all()
    assert moved[3] == 90


def test_a_refusal_is_drawn_as_what_is_missing(refused, names):
    seen = texts(to_svg(drawn(refused, names)))
    assert {"Normal seedlings: not judged", refused.missing, refused.remedy} <= set(seen)


def test_a_second_measure_is_named_at_the_foot(final, names):
    small = of_one_species(final)
    hard = tuple(replace(g, quantity="hard seed", denominator="viable") for g in small.groups)
    seen = " ".join(texts(to_svg(drawn(replace(small, groups=small.groups + hard), names))))
    assert "Also measured, told in the sentences: hard seed of viable seed." in seen


def test_effects_without_groups_or_names_are_drawn(final):
    alone = Effects(effects=final.effects[:2])
    assert "AV-T02 against AV-T01" in texts(to_svg(drawn(alone, {})))


def test_groups_without_effects_or_intervals_are_drawn():
    one = Estimate("hard seed", {"taxon": "AV", "treatment": "T01"}, 60.0, denominator="viable", n_batches=1, n_units=4)
    gone = replace(one, of={"taxon": "AV", "treatment": "T02"}, value=np.nan, reason="Nothing was counted.")
    seen = texts(to_svg(drawn(Effects(groups=(one, gone)), {})))
    assert {"60 %", "no value", "1 batch, 4 dishes"} <= set(seen)


def test_charts_show_without_a_network():
    before = alt.renderers.active
    try:
        theme.show_offline()
        assert alt.renderers.active == "jupyter"
        assert alt.renderers.options["offline"] is True
    finally:
        alt.renderers.enable(before)


def test_tokens_come_from_one_place(final, names):
    spec = json.dumps(drawn(of_one_species(final), names).to_dict(), ensure_ascii=False)
    tokens = (*look.CATEGORIES, look.ESTIMATE, look.QUIET, look.LINE, look.BAND, look.INK, look.PAPER)
    known = {c.upper() for c in tokens}
    assert {c.upper() for c in re.findall(r"#[0-9A-Fa-f]{6}", spec)} <= known


def test_anything_else_is_refused_with_a_sentence():
    with pytest.raises(RecipeError, match="No figure can be made of a dict"):
        draw({}, [], {})
