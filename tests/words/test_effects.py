"""What is said of a contrast, word for word, for each verdict; and what is never said."""

from dataclasses import replace

import pytest

from palea import schema
from palea.calc.results import Change, Effects, Estimate
from palea.calc.terms import Verdict
from palea.words import by_taxon, say, summary
from palea.words.naming import one_batch

ONE_BATCH = one_batch("germinated")

NAMES = {"AV": "Anthyllis vulneraria", "AM": "Armeria maritima", "T02": "Cleaned by hand", "T03": "Brushed"}
FORBIDDEN = ("equal", "safe", "significant", "proved", "proven", "identical", "superior", "inferior", "power", "!")


def group(treatment, value, batches=4, **more):
    half = 6.0 if more.get("unit", "%") == "%" else 0.06 * value
    filled = {"quantity": "normal seedlings", "denominator": "filled"}
    of = {"taxon": "AV", "environment": "E", "treatment": treatment}
    behind = {"n_batches": batches, "n_units": 16, "n_seeds": 390, "rung": "batch"}
    return Estimate(**filled | {"of": of, "value": value, "lower": value - half, "upper": value + half} | behind | more)


def effect(value, lower, upper, inner_lower, inner_upper, verdict, **more):
    plain = {
        "quantity": "normal seedlings", "denominator": "filled", "scale": "difference", "n_batches": 8, "n_units": 32,
        "n_seeds": 780, "rung": "batch", "verdict": verdict,
        "of": {"taxon": "AV", "environment": "E", "a": "T03", "b": "T02"},
    }
    ends = {"lower": lower, "upper": upper, "inner_lower": inner_lower, "inner_upper": inner_upper}
    return Estimate(value=value, **ends | plain | more)


BOTH = (group("T03", 70.2), group("T02", 39.1))


def told(*effects, groups=BOTH):
    return say(Effects(groups=tuple(groups), effects=tuple(effects)), NAMES)


BEFORE = "the difference in normal seedlings of filled units between brushed (T03) and cleaned by hand (T02) is"


def test_better_says_from_where_to_where():
    assert told(effect(31.1, 22.3, 39.9, 23.8, 38.4, "better", primary=True))[0] == (
        "Primary contrast. In Anthyllis vulneraria, brushed (T03) raised normal seedlings of filled units by 31 points "
        "against cleaned by hand (T02), from 39 to 70 % (95 % interval 22 to 40; 8 batches, 32 dishes, 780 seeds): "
        "better."
    )


def test_worse_turns_the_interval_with_the_sign():
    said = told(effect(-15.2, -24.1, -6.3, -22.6, -7.8, "worse"), groups=())[0]
    assert "lowered normal seedlings of filled units by 15 points" in said
    assert "(95 % interval 6 to 24; 8 batches, 32 dishes, 780 seeds): worse." in said


def test_not_shown_reads_as_the_law_wants_it():
    said = told(effect(2.6, -6.2, 11.4, -4.7, 9.9, "not shown"))[0]
    assert said.startswith(f"In Anthyllis vulneraria, {BEFORE} +3 points")
    assert said.endswith(
        "No difference was shown: the data fit anything from -6 to +11 points. "
        "This is not evidence that they are the same."
    )


def test_equivalent_gives_margin_and_ninety_percent_interval():
    said = told(effect(0.2, -10.6, 10.9, -8.8, 9.1, "equivalent within m", margin=15.0, kind="equivalence"))[0]
    assert "Equivalent within 15 points (90 % interval -9 to +9)." in said


def test_no_worse_and_less_than_matters_name_the_margin():
    said = told(effect(-3.0, -11.2, 5.2, -9.8, 3.8, "no worse by more than m", margin=15.0, kind="no worse"))[0]
    assert said.endswith("No worse by more than 15 points (90 % interval -10 to +4).")
    said = told(effect(5.0, 1.4, 8.6, 2.0, 8.0, "differs by less than matters", margin=15.0))[0]
    assert "raised" in said
    assert said.endswith("It differs by less than matters: the 90 % interval +2 to +8 lies within 15 points.")


def test_not_judged_gives_the_reason():
    why = "Soak delivered 200, coat 92 mg/kg: route and dose changed together."
    nan = float("nan")
    assert told(effect(nan, nan, nan, nan, nan, "not judged", reason=why))[0] == (
        "In Anthyllis vulneraria, brushed (T03) against cleaned by hand (T02), normal seedlings of filled units: "
        f"not judged. {why}"
    )


def test_a_late_margin_earns_an_interval_and_no_verdict():
    late = "The margin was typed after the first count: it earns an interval and no verdict."
    said = told(effect(2.6, -6.2, 11.4, -4.7, 9.9, "", margin=15.0, reason=late))[0]
    assert "(95 % interval -6 to +11;" in said
    assert said.endswith(late)
    assert not any(str(v) in said for v in Verdict)


def test_sown_units_are_told_in_the_same_breath_and_without_a_verdict():
    main = effect(0.3, -8.8, 9.4, -7.3, 7.9, "equivalent within m", margin=15.0)
    beside = replace(main, denominator="sown units", value=15.2, lower=8.1, upper=22.3, verdict="", margin=float("nan"))
    sentences = told(main, beside, groups=())
    assert sentences[0].endswith("Of sown units the difference is +15 points (+8 to +22); that counts empties.")
    assert len(sentences) == 1


@pytest.mark.parametrize("mine", ["", ONE_BATCH, ONE_BATCH.replace("dishes", "units")])
def test_one_batch_is_said_once_of_every_effect_that_rests_on_it(mine):
    row = effect(31.1, 22.3, 39.9, 23.8, 38.4, "better", n_batches=5, reason=mine)
    said = told(row, groups=(group("T03", 70.0, batches=1), group("T02", 39.0)))[0]
    assert said.count("one batch: the answer holds for that batch, not yet for the recipe.") == 1
    assert ONE_BATCH not in told(replace(row, reason=""))[0]


def test_times_are_later_or_earlier():
    days = {"quantity": "t50", "denominator": "", "unit": "d"}
    groups = (group("T03", 15.9, **days), group("T02", 5.5, **days))
    time = {"quantity": "t50", "denominator": "", "unit": "1", "scale": "ratio"}
    assert told(effect(2.9, 2.62, 3.21, 2.66, 3.16, "better", **time), groups=groups)[0] == (
        "In Anthyllis vulneraria, brushed (T03) took 2.9 times as long as cleaned by hand (T02) "
        "(95 % interval 2.6 to 3.2; time to 50 % 15.9 against 5.5 days; 8 batches, 32 dishes, 780 seeds): "
        "later, which the plan calls better."
    )
    said = told(effect(0.75, 0.7, 0.81, 0.71, 0.8, "worse", **time), groups=())[0]
    assert "took 0.75 times as long" in said
    assert said.endswith(": earlier, which the plan calls worse.")
    said = told(effect(1.02, 0.95, 1.09, 0.96, 1.08, "equivalent within m", margin=1.25, **time), groups=groups)[0]
    assert said.endswith("Equivalent within a factor of 1.25 (90 % interval 0.96 to 1.08).")
    said = told(effect(1.02, 0.9, 1.15, 0.92, 1.13, "not shown", **time), groups=groups)[0]
    assert "the data fit anything from 0.90 to 1.15 times as long." in said


def test_hard_seed_that_falls_leaves_less_in_reserve():
    said = told(effect(-38.0, -45.0, -31.0, -44.0, -32.0, "", quantity="hard seed", denominator="viable"), groups=())[0]
    assert said.endswith(": less held in reserve.")
    assert "hard seed of viable seed by 38 points" in said


def test_the_primary_contrast_of_a_species_comes_first_and_groups_last():
    turned = {"taxon": "AV", "environment": "E", "a": "T02", "b": "T03"}
    other = effect(2.6, -6.2, 11.4, -4.7, 9.9, "not shown", of=turned)
    first = effect(31.1, 22.3, 39.9, 23.8, 38.4, "better", primary=True)
    third = replace(first, of=dict(first.of, taxon="AM"), verdict="worse", value=-9.0, lower=-12.0, upper=-6.0)
    sentences = told(other, first, third)
    assert sentences[0].startswith("Primary contrast. In Anthyllis vulneraria, brushed")
    assert sentences[1].startswith("In Anthyllis vulneraria, the difference in normal seedlings")
    assert sentences[2].startswith("Anthyllis vulneraria, brushed (T03): normal seedlings 70 % of filled units (95 %")
    assert sentences[-1].startswith("Primary contrast. In Armeria maritima, brushed")
    result = Effects(groups=(group("T03", 70.2),), effects=(other, first, third))
    assert list(by_taxon(result, NAMES)) == ["AV", "AM"]
    assert [(taxon, "Primary" in s) for taxon, s in summary(result, NAMES)] == [("AV", True), ("AM", True)]


def test_bounds_are_not_rounded_onto_what_they_exclude():
    said = told(effect(6.1, 0.3, 11.9, 1.3, 10.9, "better"))[0]
    assert "95 % interval 0.3 to 11.9" in said
    said = told(effect(6.1, -1.0, 13.2, 0.2, 14.8, "equivalent within m", margin=15.0))[0]
    assert "(90 % interval +0.2 to +14.8)" in said


@pytest.mark.parametrize("verdict", schema.words("verdict"))
def test_nothing_is_claimed_beyond_the_seven_words(verdict):
    margin = 15.0 if " m" in verdict or "less" in verdict else float("nan")
    said = " ".join(told(effect(4.0, -3.0, 11.0, -2.0, 10.0, verdict, margin=margin)))
    assert not [word for word in FORBIDDEN if word in said.lower()]
    expected = verdict.removesuffix(" m")
    assert (expected in said.lower()) or verdict == "not shown"
    rest = said.lower().replace(expected, "")
    assert not [v for v in schema.words("verdict") if v != verdict and v.removesuffix(" m") in rest]


def test_several_environments_are_named():
    first = effect(31.1, 22.3, 39.9, 23.8, 38.4, "better")
    dry = replace(first, of=dict(first.of, environment="dry"))
    assert "In Anthyllis vulneraria (dry), brushed" in told(first, dry, groups=())[1]


NOTE = "Normal seedlings: the effect in the dry less that in the wet."
WATER = {"quantity": "change of the effect with water"}


def test_how_a_difference_changes_is_told_as_that():
    """Not "lowered the change of the effect": what a does in one place, beside what it does in the other."""
    change = Change("normal seedlings", "the dry", "the wet", -15.0, 1.0, NOTE)
    said = told(effect(-16.0, -30.0, -2.0, -27.0, -4.0, "worse", change=change, reason=NOTE, **WATER), groups=())[0]
    assert said == (
        "In Anthyllis vulneraria, the difference that brushed (T03) makes to normal seedlings of filled units against "
        "cleaned by hand (T02) is 16 points lower in the dry than in the wet, -15 points against +1 point (95 % interval "
        "-30 to -2; 8 batches, 32 dishes, 780 seeds): does worse in drought than in water, which the plan calls worse."
    )


@pytest.mark.parametrize(
    ("value", "each", "words"),
    [
        (-12.0, (8.0, 20.0), "is 12 points smaller in the dry than in the wet, +8 points against +20 points"),
        (5.0, (25.0, 20.0), "is 5 points larger in the dry than in the wet"),
        (5.0, (-3.0, -8.0), "is 5 points higher in the dry than in the wet"),
        (0.1, (3.1, 3.0), "is 0 points apart in the dry and the wet"),
    ],
)
def test_a_difference_that_changes_is_smaller_larger_lower_or_higher(value, each, words):
    change = Change("normal seedlings", "the dry", "the wet", *each, NOTE)
    said = told(effect(value, -30.0, 30.0, -27.0, 27.0, "not shown", change=change, reason=NOTE, **WATER), groups=())[0]
    assert words in said
    assert "the data fit anything from -30 to +30 points" in said
    assert NOTE not in said


def test_a_ratio_that_changes_is_so_many_times_as_large():
    change = Change("plant dry mass", "F1", "F2", 1.4, 1.0, NOTE)
    ratio = {"quantity": "plant dry mass", "denominator": "", "unit": "1", "scale": "ratio", "change": change}
    said = told(effect(1.4, 1.1, 1.8, 1.15, 1.7, "", **ratio), groups=())[0]
    assert "the ratio of brushed (T03) to cleaned by hand (T02) in dry mass of a plant is 1.4 times as large in F1 as in F2" in said
