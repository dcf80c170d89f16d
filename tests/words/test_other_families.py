"""Sentences of values, curves and refusals."""

import numpy as np
import pytest

from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal, Values
from palea.errors import RecipeError
from palea.words import by_taxon, prose, say, summary

NAMES = {"CC": "Corynephorus canescens", "T09": "Contractor's pellet"}
OF = {"taxon": "CC", "environment": "E", "treatment": "T09"}


def time(quantity="mean germination time", value=7.5, batches=4, **more):
    behind = {"n_batches": batches, "n_units": 16, "n_seeds": 390, "rung": "batch"}
    own = {"quantity": quantity, "of": OF, "value": value, "lower": value - 0.4, "upper": value + 0.4, "unit": "d"}
    return Estimate(**own | behind | more)


def test_a_value_has_unit_interval_and_what_stands_behind_it():
    assert say(Values(estimates=(time(),)), NAMES) == [(
        "Corynephorus canescens, contractor's pellet (T09): mean germination time 7.5 days "
        "(95 % interval 7.1 to 7.9; 4 batches, 16 dishes, 390 seeds)."
    )]


def test_all_quantities_of_a_group_make_one_sentence():
    two = Values(estimates=(time(), time("germination synchrony", 0.31, unit="1", lower=0.27, upper=0.35)))
    assert say(two, NAMES) == [(
        "Corynephorus canescens, contractor's pellet (T09): mean germination time 7.5 days (7.1 to 7.9), "
        "synchrony of germination 0.31 (0.27 to 0.35) (95 % intervals; 4 batches, 16 dishes, 390 seeds)."
    )]


def test_a_single_batch_says_so():
    assert say(Values(estimates=(time(batches=1),)), NAMES)[0].endswith(
        "These dishes come from one batch: the answer holds for that batch, not yet for the recipe.")


def test_a_value_that_is_not_there_gives_its_reason():
    gone = time(value=np.nan, reason="Germinants in fewer than three intervals.")
    assert say(Values(estimates=(gone,)), NAMES)[0].endswith("no value. Germinants in fewer than three intervals.")


def test_groups_of_effects_give_both_shares_and_plots_are_called_plots():
    share = {"unit": "%", "quantity": "normal seedlings", "value": 45.0, "lower": 39.0, "upper": 51.0, "rung": "plot"}
    less = share | {"value": 31.0}
    both = Effects(groups=(time(**share, denominator="filled"), time(**less, denominator="sown units")))
    assert say(both, NAMES) == [(
        "Corynephorus canescens, contractor's pellet (T09): normal seedlings 45 % of filled units (39 to 51), "
        "31 % of sown units (39 to 51) (95 % intervals; 4 batches, 16 plots, 390 seeds)."
    )]


def test_a_curve_says_where_it_ends_and_when_it_was_half_way():
    days, value = np.array([0.0, 3, 5, 7, 10]), np.array([0.0, 10, 24, 44, 48])
    curve = Curve(OF, days, value, value - 4, value + 4, n_batches=4, n_units=16, n_seeds=390)
    result = Curves(quantity="germination curve", denominator="filled", curves=(curve,))
    assert say(result, NAMES) == [(
        "Corynephorus canescens, contractor's pellet (T09), germination over time: 48 % of filled units by day 10, "
        "half of them by day 5 (95 % interval 44 to 52; 4 batches, 16 dishes, 390 seeds)."
    )]


def test_a_curve_at_zero_has_no_half_way():
    days, none = np.array([0.0, 10]), np.zeros(2)
    flat = Curve(OF, days, none, none, none + 1.8)
    result = Curves(quantity="germination curve", denominator="sown units", curves=(flat,))
    assert say(result, NAMES) == [(
        "Corynephorus canescens, contractor's pellet (T09), germination over time: 0 % of sown units by day 10 "
        "(95 % interval 0 to 1.8)."
    )]


@pytest.mark.parametrize(("asked", "said"), [
    ("hard seed", "Hard seed"), ("germination.final", "Germination.final"), ("", "This question"),
])
def test_a_refusal_says_what_is_missing_and_what_would_help(asked, said):
    refusal = Refusal(quantity=asked, missing="There is one dish only", remedy="Sow a second one.")
    assert say(refusal, {}) == [f"{said}: not judged. There is one dish only. Sow a second one."]
    assert summary(refusal, {}) == [("", say(refusal, {})[0])]
    assert list(by_taxon(refusal, {})) == [""]


def test_anything_else_is_refused_with_a_sentence():
    with pytest.raises(RecipeError, match="No sentences can be made of a dict"):
        say({}, {})


def test_small_grammar():
    assert prose.together("one", "", "two.") == "One. Two."
    assert prose.listed(["a"]) == "a"
    assert prose.wrapped("a bb ccc dddd", 6) == ["a bb", "ccc", "dddd"]


def test_what_is_of_no_group_names_none():
    alone = time("units needed", 171.0, unit="1", of={}, batches=0, n_units=0, n_seeds=0, lower=np.nan, upper=np.nan)
    assert say(Values(estimates=(alone,)), NAMES) == ["Units needed for each arm 171."]
