"""Laws of cleaning: what runs say, what one run cannot say, and when a machine pays."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.cleaning import effort, recovery
from palea.calc.cleaning.effort import Effort, quicker_from
from palea.calc.results import Effects, Refusal
from palea.errors import UnfitValue

NAN = float("nan")
RUN = {"taxon": "A", "treatment": "hand", "control": True, "batch": "R", "raw_g": 300.0, "clean_g": 130.0, "raw_thousand_g": 5.2,
       "clean_thousand_g": 2.7, "filled_in": 0.84, "filled_out": 0.97, "viable_in": 0.78, "viable_out": 0.90, "damaged_k": 6.0,
       "damaged_n": 300.0, "minutes": 1350.0}  # fmt: skip
ASKED = ("taxon", "a", "b", "quantity", "kind", "margin", "wanted", "primary", "asks_about", "refused", "margin_late")


def runs(*rows):
    return pd.DataFrame([RUN | {"batch": f"R{at}"} | row for at, row in enumerate(rows)])


def method(name, *clean, **more):
    return [{"treatment": name, "control": name == "hand", "clean_g": float(g)} | more for g in clean]


def asked(**row):
    usual = dict(zip(ASKED, ("A", "brush", "hand", recovery.OF_FILLED, "equivalence", 15.0, "higher", True, "", "", False),
                     strict=True))  # fmt: skip
    return pd.DataFrame([usual | row])


NOBODY = asked().iloc[:0]
TWO = runs(*method("hand", 130, 131, 129, 130.5), *method("brush", 122, 124, 121, 123.5))


def of(result, quantity, scale="value"):
    return [e for e in result.estimates if e.quantity == quantity and e.scale == scale]


def test_declared_contrast_earns_a_verdict_and_the_rest_an_interval():
    found = recovery.recovery(TWO, asked())
    (declared,) = of(found, recovery.OF_FILLED, "difference")
    assert declared.verdict == "differs by less than matters"
    assert (declared.margin, declared.kind, declared.primary, declared.n_batches) == (15.0, "equivalence", True, 8)
    (beside,) = of(found, recovery.OF_ALL, "difference")
    assert not beside.verdict
    assert beside.upper < 0
    assert "not declared" in beside.reason


def test_turned_round_the_difference_changes_its_sign_and_the_ratio_its_side():
    there, back = (recovery.recovery(TWO, asked(a=a, b=b, kind="superiority", margin=NAN)) for a, b in
                   (("brush", "hand"), ("hand", "brush")))  # fmt: skip
    (one,), (other,) = (of(r, recovery.OF_FILLED, "difference") for r in (there, back))
    assert one.value == pytest.approx(-other.value)
    assert (one.verdict, other.verdict) == ("worse", "better")


def test_one_run_a_method_is_described_and_not_compared():
    found = recovery.recovery(runs(*method("hand", 130, 131), *method("acid", 100)), asked(a="acid"))
    assert isinstance(found, Effects)
    acid = next(e for e in of(found, recovery.OF_FILLED) if e.of["treatment"] == "acid")
    assert np.isnan(acid.lower)
    assert "One run" in acid.reason
    (effect,) = of(found, recovery.OF_FILLED, "difference")
    assert effect.verdict == "not judged"
    assert "acid has one run" in effect.reason
    assert not of(found, recovery.OF_ALL, "difference")


def test_a_method_that_was_not_run_is_not_judged():
    effect, _ = of(recovery.recovery(TWO, asked(a="flame")), recovery.OF_FILLED, "difference")
    assert effect.verdict == "not judged"
    assert "flame" in effect.reason


def test_a_refused_contrast_keeps_its_reason():
    (effect,) = of(recovery.recovery(TWO, asked(refused="Two factors change.")), recovery.OF_FILLED, "difference")
    assert (effect.verdict, effect.reason) == ("not judged", "Two factors change.")


def test_without_fill_and_life_what_hangs_on_them_is_left_out():
    found = recovery.recovery(TWO.assign(filled_in=NAN, viable_in=NAN, viable_out=NAN), NOBODY)
    quantities = {e.quantity for e in found.estimates}
    assert recovery.OF_FILLED not in quantities
    assert recovery.LIVE_YIELD not in quantities
    assert {recovery.OF_ALL, recovery.BY_MASS, recovery.PER_1000} <= quantities


def test_more_out_than_in_is_told_and_still_compared():
    found = recovery.recovery(runs(*method("hand", 150, 152), *method("brush", 130, 133)), NOBODY)
    assert sum("more came out than went in" in w for w in found.warnings) == 2
    assert of(found, recovery.OF_FILLED, "difference")


def test_the_sentence_keeps_pod_and_seed_apart():
    found = recovery.recovery(runs(*method("brush", 121.42, 121.42)), NOBODY)
    assert ("brush: Recovery 40 % by mass is 78 % by number of units and 90 % of the filled ones: what went in and what came "
            "out weigh different amounts a unit.") in found.warnings  # fmt: skip


def test_damage_keeps_its_interval_at_nothing_damaged():
    found = recovery.recovery(runs(*method("hand", 130, 131, damaged_k=0.0), *method("brush", 120, 121)), NOBODY)
    none, some = of(found, recovery.DAMAGED)
    assert (none.value, none.lower) == (0, 0)
    assert none.upper > 0
    assert some.value == pytest.approx(2)


def test_twice_the_minutes_twice_the_time_and_the_same_ratio():
    once, twice = (recovery.recovery(TWO.assign(minutes=TWO["minutes"] * [1.0, 1.1, 0.9, 1.0, 0.1, 0.11, 0.09, 0.1] * f), NOBODY)
                   for f in (1, 2))  # fmt: skip
    for one, two in zip(of(once, recovery.PER_GRAM), of(twice, recovery.PER_GRAM), strict=True):
        assert (two.value, two.lower, two.upper) == pytest.approx((2 * one.value, 2 * one.lower, 2 * one.upper))
    (one,), (two,) = (of(r, recovery.PER_GRAM, "ratio") for r in (once, twice))
    assert one.value == pytest.approx(0.1)
    assert (two.value, two.lower, two.upper) == pytest.approx((one.value, one.lower, one.upper))


def test_no_mass_no_answer_and_impossible_masses_are_refused():
    assert isinstance(recovery.recovery(TWO.assign(clean_g=NAN), NOBODY), Refusal)
    with pytest.raises(UnfitValue, match="allowed is"):
        recovery.recovery(TWO.assign(raw_g=-1.0), NOBODY)


@given(st.floats(0.05, 1), st.floats(0.05, 1), st.floats(0.05, 1))
def test_recovery_of_the_filled_is_that_of_all_where_nothing_is_empty(out, filled, alive):
    assert recovery.by_number(out * 1e4, 1e4, filled, filled) == pytest.approx(recovery.by_number(out * 1e4, 1e4))
    assert recovery.live_seed_yield(out, alive, alive) == pytest.approx(out)


# --- time

@given(st.floats(0, 100), st.floats(0.01, 5), st.floats(0.01, 5))
def test_where_two_lines_cross_both_take_as_long(setup, machine, hands):
    fast, slow = Effort(setup, 0, machine), Effort(0, 0, hands)
    mass = quicker_from(fast, slow)
    if machine >= hands:
        assert mass == np.inf if setup > 0 or machine > hands + 1e-9 else mass == 0
    elif mass > 0:
        assert float(fast.minutes(mass)) == pytest.approx(float(slow.minutes(mass)))
        assert fast.minutes(1.01 * mass) < slow.minutes(1.01 * mass)


@given(st.floats(0, 60), st.floats(0, 20), st.floats(0, 1), st.floats(5, 200), st.floats(1.5, 6))
def test_beyond_the_last_crossing_the_machine_is_never_slower(setup, filling, gram, capacity, hands):
    machine, slow = Effort(setup, filling, gram, capacity), Effort(0, 0, hands)
    mass = quicker_from(machine, slow, most_g=5000)
    beyond = np.linspace(mass * 1.0001 + 1e-3, 5000, 4000) if mass < 4000 else np.zeros(0)
    assert (machine.minutes(beyond) <= slow.minutes(beyond) * (1 + 1e-9)).all()


def test_fit_finds_the_terms_it_was_made_of():
    mass = np.array([20.0, 50, 90, 150, 300, 450])
    truth = Effort(30.0, 12.0, 0.25, 100.0)
    found = effort.fit(mass, truth.minutes(mass), 100.0)
    assert (found.setup, found.per_filling, found.per_gram) == pytest.approx((30, 12, 0.25))


def test_no_term_goes_below_zero():
    found = effort.fit([10, 20, 40], [50, 45, 40])
    assert found.per_gram == 0
    assert np.isnan(found.errors[2])


def timed(*rows):
    keys = ("treatment", "raw_g", "minutes", "sets_up")
    return pd.DataFrame([dict(zip(keys, row, strict=True)) | {"taxon": "A", "batch": f"R{at}", "control": row[0] == "hand",
                                                              "capacity_g": NAN} for at, row in enumerate(rows)])  # fmt: skip


def test_effort_says_from_what_mass_the_machine_is_quicker():
    found = effort.effort(timed(("hand", 5, 22.5, False), ("hand", 10, 45.1, False), ("brush", 20, 35.0, True),
                                ("brush", 100, 55.1, True), ("brush", 300, 105, True)))  # fmt: skip
    (crossing,) = of(found, effort.QUICKER)
    assert crossing.value == pytest.approx(7.05, abs=0.1)
    assert (crossing.of["a"], crossing.of["b"], crossing.unit) == ("brush", "hand", "g")
    (setup,) = of(found, effort.SETUP)
    assert setup.lower < 30 < setup.upper


def test_a_method_without_runs_enough_is_told_or_refused():
    found = effort.effort(timed(("hand", 5, 22.5, False), ("hand", 10, 45.1, False), ("brush", 20, 35, True)))
    said = "brush: too few runs (1, different masses: 1) to tell setting up from grams; 3 at different masses are needed."
    assert found.warnings == (said,)
    assert isinstance(effort.effort(timed(("brush", 20, 35, True))), Refusal)


def test_never_quicker_is_said():
    found = effort.effort(timed(("hand", 5, 5.0, False), ("hand", 10, 10.1, False), ("brush", 20, 100, True),
                                ("brush", 40, 160, True), ("brush", 60, 219, True)))  # fmt: skip
    (crossing,) = of(found, effort.QUICKER)
    assert np.isnan(crossing.value)
    assert crossing.reason == "It is never quicker than hand."
