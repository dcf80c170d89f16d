"""Curves and times of groups: edges, reproducibility, warnings, refusals, verdicts."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.germination.arms import arms
from palea.calc.germination.time import curve, times
from palea.calc.results import Refusal
from palea.errors import UnfitValue

VISITS = np.array([3.0, 5, 7, 10, 14, 21])
ARMS = {"T1": 5.0, "T2": 6.5}  # half times
ONE_BATCH = "These dishes come from one batch: the answer holds for that batch, not yet for the recipe."


def arm(treatment, half_time, share=0.7, batches=4, dishes=4, seed=1, batch_sd=0.0, visits=VISITS):
    """Dishes of 25 seeds, log-logistic with shape 4, as a frame of intervals."""
    chance = np.random.default_rng([seed, *treatment.encode()])
    rows = []
    for b in range(batches):
        slower = np.exp(chance.normal(0, batch_sd))
        for d in range(dishes):
            day = half_time * slower * (1 / chance.random(25) - 1) ** -0.25
            day[chance.random(25) > share] = np.inf
            at = np.searchsorted(visits, day)
            for place, count in zip(*np.unique(at, return_counts=True), strict=True):
                left, right = np.append(0, visits)[place], np.append(visits, np.inf)[place]
                rows.append((f"{treatment}-{b}", f"{treatment}-{b}-{d}", left, right, float(count)))
    frame = pd.DataFrame(rows, columns=["batch", "unit", "left", "right", "count"])
    return frame.assign(taxon="AV", treatment=treatment, environment="20-10")


def question(a="T2", b="T1", **other):
    row = {
        "contrast": "C1", "taxon": "AV", "environment": "20-10", "a": a, "b": b, "quantity": "t50", "denominator": "",
        "kind": "superiority", "margin": np.nan, "wanted": "lower", "primary": True, "asks_about": "coat",
        "refused": "", "margin_late": False,
    }
    return pd.DataFrame([row | other])


def by_name(estimates, treatment):
    return {e.quantity: e for e in estimates if e.of.get("treatment") == treatment}


@pytest.fixture(scope="module")
def two():
    return pd.concat([arm("T1", 5.0), arm("T2", 6.5)], ignore_index=True)


def test_a_slower_coat_is_worse_where_fast_is_wanted_and_better_where_slow_is(two):
    for wanted, verdict in (("lower", "worse"), ("higher", "better")):
        effect = times(two, question(wanted=wanted)).effects[0]
        assert effect.verdict == verdict
        assert effect.lower < effect.inner_lower < effect.value < effect.inner_upper < effect.upper
        assert effect.value == pytest.approx(6.5 / 5, abs=0.12), "the truth of the made-up dishes"
        assert (effect.scale, effect.n_batches, effect.n_units, effect.n_seeds) == ("ratio", 8, 32, 800)


def test_equal_times_are_equivalent_within_a_ratio():
    same = pd.concat([arm("T1", 5.0), arm("T2", 5.05)], ignore_index=True)
    assert times(same, question(kind="equivalence", margin=1.25)).effects[0].verdict == "equivalent within m"
    late = times(same, question(kind="equivalence", margin=1.25, margin_late=True)).effects[0]
    assert (late.verdict, "after the first count" in late.reason) == ("", True)


@pytest.mark.parametrize(("other", "says"), [
    ({"refused": "Two factors differ."}, "Two factors differ."), ({"a": "T9"}, "No dish of T9"),
    ({"kind": "equivalence", "margin": 0.5}, "No margin was declared"), ({"environment": "30-20"}, "No dish of T2"),
])
def test_a_question_that_cannot_be_judged_says_why_and_spoils_no_other(two, other, says):
    asked = pd.concat([question(**other), question()], ignore_index=True)
    bad, good = times(two, asked, replicates=199).effects
    assert bad.verdict == "not judged"
    assert says in bad.reason
    assert good.verdict == "worse"


def test_a_question_without_a_place_is_asked_in_each_and_shares_are_left_alone(two):
    both = pd.concat([two, two.assign(environment="30-20")], ignore_index=True)
    asked = pd.concat([question(environment=pd.NA), question(quantity="germinated")], ignore_index=True)
    effects = times(both, asked, replicates=99).effects
    assert [e.of["environment"] for e in effects] == ["20-10", "30-20"]


def test_neither_order_nor_company_changes_what_rests_on_dishes():
    two = pd.concat([arm("T1", 5.0, batches=1), arm("T2", 6.5, batches=1)], ignore_index=True)
    alone = two[two["treatment"] == "T2"].sample(frac=1, random_state=1)
    more = pd.concat([arm("T0", 4.0), two], ignore_index=True)
    first = by_name(times(alone, question(), replicates=99).groups, "T2")
    assert first == by_name(times(more, question(), replicates=99).groups, "T2")
    assert first != by_name(times(alone, question(), replicates=99, seed=2).groups, "T2")
    lines = [{c.of["treatment"]: c for c in curve(f, replicates=99).curves}["T2"] for f in (alone, more)]
    assert (lines[0].upper == lines[1].upper).all()


def test_on_batches_nothing_is_drawn_and_order_does_not_matter(two):
    """Company lends degrees of freedom, as the variance is pooled, but moves no value."""
    mixed, plain = (times(f, question(), seed=s) for f, s in ((two.sample(frac=1, random_state=1), 9), (two, 1)))
    assert list(map(repr, mixed.estimates)) == list(map(repr, plain.estimates))
    more = times(pd.concat([arm("T0", 4.0), two], ignore_index=True), question())
    mine, theirs = (by_name(found.groups, "T2")["t50"] for found in (mixed, more))
    assert (mine.value, mine.df, theirs.df) == (theirs.value, 6, 9)


def test_arms_are_drawn_independently(two):
    """With one stream for both, slow draws of one arm would meet slow draws of the other, and ratios look too sure."""
    first, second = (a.draws("test", 999, 1).ravel() for a in arms(two).values())
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.05


def test_finals_far_apart_call_for_a_share_of_sown():
    apart = pd.concat([arm("T1", 5.0, share=0.9), arm("T2", 5.0, share=0.6)], ignore_index=True)
    found = times(apart, question(), replicates=199)
    finals = apart[np.isfinite(apart["right"])].groupby("treatment")["count"].sum() / 4
    apart = f"although finals differ by {finals['T1'] - finals['T2']:.0f} points: use time to a share of sown."
    assert any(w.startswith(f"Mean time compared {apart}") for w in found.warnings)
    extra = found.effects[1]
    assert (extra.quantity, extra.verdict) == ("time to a share of sown", "")
    assert extra.value > found.effects[0].value, "fewer germinate, so a quarter of all sown comes later"


def test_one_batch_and_one_dish_are_said(two):
    few = pd.concat([two, arm("T3", 5.0, batches=1), arm("T4", 5.0, batches=1, dishes=1)], ignore_index=True)
    found = times(few, question(a="T4"), replicates=199)
    assert f"{ONE_BATCH} (T3, T4.)" in found.warnings
    assert f"{ONE_BATCH} (T3, T4.)" in curve(few, replicates=99).warnings
    assert found.effects[0].verdict == "not judged"
    assert np.isnan(by_name(found.groups, "T4")["t50"].lower)
    assert np.isfinite(by_name(found.groups, "T3")["t50"].lower)


def test_batches_that_differ_are_said_where_dishes_are_judged():
    """A one-batch arm is compared on dishes; the batches of its partner then lie outside the interval."""
    calm, wild = (pd.concat([arm(f"T{i}", 5.0, batch_sd=sd) for i in range(6)]) for sd in (0, 0.08))
    one = arm("T9", 5.0, batches=1)
    for frame, b, told in ((calm, "T9", 0), (wild, "T9", 1), (wild, "T2", 0)):
        found = times(pd.concat([frame, one], ignore_index=True), question(a="T1", b=b), replicates=99)
        assert len([w for w in found.warnings if "batches of the same" in w]) == told
        assert found.effects[0].rung == ("dish" if b == "T9" else "batch")
        assert (ONE_BATCH in found.effects[0].reason) == (b == "T9")


def without_germinants(frame, *batches):
    """The same dishes, nothing ever seen in these batches."""
    gone = frame["batch"].isin(batches)
    return frame.assign(left=frame["left"].mask(gone, VISITS[-1]), right=frame["right"].mask(gone, np.inf))


def test_a_batch_without_a_curve_is_left_out_and_named(two):
    found = times(without_germinants(two, "T2-1"), question(), replicates=99)
    assert [w for w in found.warnings if "Left out of the times of T2" in w and "T2-1." in w]
    effect, group = found.effects[0], by_name(found.groups, "T2")["t50"]
    assert (effect.rung, effect.df, effect.n_batches, group.n_batches, group.n_units) == ("batch", 5, 7, 3, 12)


def test_a_batch_whose_germinants_lie_in_two_intervals_is_left_out(two):
    """Two intervals fix a half time only together with a shape, which they cannot give."""
    late = (two["batch"] == "T2-1") & ~two["right"].isin([5.0, 7.0])
    sudden = two.assign(left=two["left"].mask(late, VISITS[-1]), right=two["right"].mask(late, np.inf))
    assert [w for w in times(sudden, question()).warnings if "Left out of the times of T2" in w and "T2-1." in w]


def test_all_that_a_curve_has_rests_on_batches(two):
    """What was made up: 30 % never germinate, shape 4; t10 is e / 9 ** (1 / b), t90 e x 9 ** (1 / b)."""
    groups = by_name(times(two, question()).groups, "T1")
    truth = {"never-germinating share": 30, "shape of time to germination": 4, "t50": 5, "t90": 5 * 9**0.25}
    assert {e.rung for e in groups.values()} == {"batch"}
    for name, value in truth.items():
        assert groups[name].lower < value < groups[name].upper
        assert groups[name].lower < groups[name].value < groups[name].upper
    assert groups["never-germinating share"].denominator == "filled"


def test_fewer_than_two_batches_with_a_curve_are_judged_on_dishes(two):
    found = times(without_germinants(two, "T2-0", "T2-1", "T2-2"), question(), replicates=199)
    assert [w for w in found.warnings if w.startswith("T2 (AV 20-10) has fewer than two batches with a curve")]
    effect = found.effects[0]
    assert (effect.rung, effect.n_batches, np.isnan(effect.p_value)) == ("dish", 8, True)
    assert "for these batches, not yet for the recipe" in effect.reason
    assert by_name(found.groups, "T1")["t50"].rung == "batch"
    assert "Rao & Wu" in found.method
    assert "Rao & Wu" not in times(two, question()).method


def test_a_time_that_a_batch_does_not_reach_is_judged_on_dishes(two):
    found = times(two, question(), replicates=99, share_of_sown=0.68)
    told = [w for w in found.warnings if "time to a share of sown cannot be had from every batch" in w]
    rungs = {e.of["treatment"]: e.rung for e in found.groups if e.quantity == "time to a share of sown" and e.value > 0}
    assert told
    assert "dish" in rungs.values()


def test_a_few_germinants_are_known_less_well_than_many(two):
    """Law: the variance of a time goes with 1 / germinants; one pooled over all would take it five times too small."""
    many = pd.concat([arm(f"T{i}", 5.0, share=0.95) for i in range(3, 9)], ignore_index=True)
    frame = pd.concat([arm("T1", 5.0, share=0.15), many], ignore_index=True)
    found = times(frame, question(a="T3", b="T4"))
    wide, narrow = (np.log(g.upper / g.lower) for g in (by_name(found.groups, t)["t50"] for t in ("T1", "T3")))
    assert 1.6 < wide / narrow < 4, "sqrt(0.95 / 0.15) is 2.5"
    assert "Paule & Mandel" in found.method
    assert "Paule & Mandel" not in times(two, question()).method


def test_several_treatments_against_one_control_and_several_primaries_are_adjusted():
    frame = pd.concat([arm(f"T{i}", 5.0 + 0.1 * i) for i in range(1, 5)], ignore_index=True)
    asked = pd.concat([question(a=f"T{i}", primary=False) for i in (2, 3, 4)], ignore_index=True)
    together, alone = times(frame, asked).effects, times(frame, asked[:1]).effects[0]
    assert "(Dunnett)" in together[0].reason
    assert together[0].p_value > alone.p_value
    assert together[0].upper - together[0].lower > alone.upper - alone.lower
    assert together[0].value == alone.value
    two = pd.concat([question(a="T4"), question(a="T3", b="T2", asks_about="dose")], ignore_index=True)
    assert all("(Holm)" in e.reason for e in times(frame, two).effects)


def test_the_verdict_does_not_soften_with_the_interval_that_is_shown(two):
    shown = [times(two, question(), confidence=c).effects[0] for c in (0.95, 0.999)]
    assert shown[0].lower > shown[1].lower
    assert shown[0].inner_lower == shown[1].inner_lower
    assert {e.verdict for e in shown} == {"worse"}


@pytest.mark.parametrize("batch_sd", [0, 0.05, 0.1])
def test_95_percent_intervals_of_a_ratio_hold_the_truth_in_92_to_98_of_100(batch_sd):
    """Law: 200 pairs of arms of 4 batches x 4 dishes x 25 seeds; a standard error of the coverage is 1.5 points."""
    pairs = [arm(t, e, batch_sd=batch_sd, seed=s).assign(taxon=str(s)) for s in range(200) for t, e in ARMS.items()]
    asked = pd.concat([question(taxon=str(s)) for s in range(200)], ignore_index=True)
    effects = times(pd.concat(pairs, ignore_index=True), asked).effects
    held = [e.lower <= ARMS["T2"] / ARMS["T1"] <= e.upper for e in effects]
    assert 92 <= 100 * np.mean(held) <= 98
    assert {e.rung for e in effects} == {"batch"}


def test_what_cannot_be_timed_is_refused_or_said(two):
    nothing = two[two["count"] < 0]
    for answer in (curve(nothing), times(nothing, question())):
        assert isinstance(answer, Refusal)
        assert "counts of each visit" in answer.remedy
    sudden = arm("T1", 5.0, visits=np.array([10.0, 21]))
    assert isinstance(times(sudden, question()), Refusal)
    mixed = times(pd.concat([sudden, arm("T2", 5.0)]), question(), replicates=99)
    assert by_name(mixed.groups, "T1")["t50"].reason.startswith("Germinants were seen in")
    assert mixed.effects[0].verdict == "not judged"
    with pytest.raises(UnfitValue, match="share_of_sown is 25"):
        times(two, question(), share_of_sown=25)


def test_none_seen_is_not_none_possible():
    """0 of 200 seeds still allows up to 1.9 % (Wilson 1927; any table)."""
    rows = pd.DataFrame({"unit": [f"D{i}" for i in range(8)], "left": 21.0, "right": np.inf, "count": 25.0})
    dead = rows.assign(taxon="AV", treatment="T1", environment="", batch=["B1", "B2"] * 4)
    line = curve(dead, replicates=99).curves[0]
    assert line.time.tolist() == [0, 21]
    assert (line.value == 0).all()
    assert line.lower[-1] == 0
    assert line.upper[-1] == pytest.approx(1.88, abs=0.01)
    assert line.upper[0] == 0, "on day 0 nothing can have germinated"


@pytest.mark.parametrize("visits", [VISITS, None], ids=["shared visits", "staggered visits"])
def test_a_curve_rises_within_its_band_and_ends_at_the_final(visits):
    own = [VISITS + s / 7 if visits is None else visits for s in range(6)]
    parts = [arm("T1", 5.0, batches=1, dishes=1, seed=s, visits=days) for s, days in enumerate(own)]
    frame = pd.concat([p.assign(unit=f"D{s}", batch=f"B{s % 2}") for s, p in enumerate(parts)], ignore_index=True)
    found = curve(frame, replicates=499)
    line = found.curves[0]
    assert (np.diff(line.value) >= 0).all()
    assert (line.lower <= line.value).all()
    assert (line.value <= line.upper).all()
    seen = frame[np.isfinite(frame["right"])]["count"].sum()
    assert line.value[-1] == pytest.approx(100 * seen / 150, abs=1e-4)
    last = found.units[found.units["time"] == line.time[-1]].set_index("unit")["value"]
    own = frame[np.isfinite(frame["right"])].groupby("unit")["count"].sum() * 4
    assert last.to_numpy() == pytest.approx(own.to_numpy(), abs=1e-4)
    assert line.upper[2] - line.lower[2] > 3, "six dishes of 25 leave that much open"


def test_the_share_of_sown_counts_empty_units_where_they_are_known(two):
    wide = two.assign(sown=50.0)
    plain, sown = (by_name(times(f, question(), replicates=99).groups, "T1") for f in (two, wide))
    asked = times(two, question(), replicates=99, share_of_sown=0.5)
    name = "time to a share of sown"
    assert sown[name].value == pytest.approx(by_name(asked.groups, "T1")[name].value), "25 % of 50 are 50 % of 25"
    assert sown[name].value > plain[name].value
    unknown = by_name(times(two.assign(sown=np.nan), question(), replicates=99).groups, "T1")[name]
    assert unknown.reason == "How many seed units were sown is not recorded for every dish."
