"""Laws of coats: dry matter, batches as units, grades of doses, balances, plans and larger pans."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.coating import balance, build_up, dose, evenness, planned, scale_up, thickness, units
from palea.calc.coating.gathered import ONE_BATCH
from palea.calc.results import Refusal
from palea.errors import UnfitValue

NAN = float("nan")
MASSES = st.floats(0.1, 1000)
WATERS = st.floats(0, 0.4)


def frame(columns, *rows):
    return pd.DataFrame([{"taxon": "A", "treatment": "T", "batch": "R1"} | row for row in rows],
                        columns=["taxon", "treatment", "batch", *columns])  # fmt: skip


def one(result, quantity, treatment="T"):
    (found,) = [e for e in result.estimates if e.quantity == quantity and e.of["treatment"] == treatment]
    return found


# --- build-up

BATCH = ("bare_g", "coated_g", "bare_moisture", "coated_moisture", "coat_class", "diameter_mm", "seed_g_cm3", "coat_g_cm3")
USUAL = {"bare_moisture": 0.08, "coated_moisture": 0.09, "coat_class": "", "diameter_mm": NAN, "seed_g_cm3": NAN,
         "coat_g_cm3": NAN}  # fmt: skip


def batches(*rows):
    return frame(BATCH, *(USUAL | {"batch": f"R{at}"} | row for at, row in enumerate(rows, 1)))


NO_UNITS = frame(("bare_mg", "coated_mg", "bare_moisture", "coated_moisture"))
NO_WASHING = frame(("sample_g", "without_coat_g"))


def built(*rows, unit_masses=NO_UNITS, washed=NO_WASHING, **options):
    return build_up.build_up_by_treatment(batches(*rows), unit_masses, washed, **options)


def test_water_alone_is_no_coat():
    """50 g at 8 % water and the same seed at 12 % hold the same dry matter."""
    assert build_up.build_up([50], [50 * 0.92 / 0.88], 0.08, 0.12) == pytest.approx([0], abs=1e-9)


@given(MASSES, MASSES, MASSES, WATERS)
def test_build_up_knows_no_unit_of_mass_and_no_equal_water(bare, coated, factor, wet):
    once = build_up.build_up(bare, coated)
    assert build_up.build_up(factor * bare, factor * coated) == pytest.approx(once)
    assert build_up.build_up(bare, coated, wet, wet) == pytest.approx(once, abs=1e-9)


@given(st.floats(-50, 5000))
def test_share_and_build_up_are_inverse(percent):
    assert build_up.from_share(build_up.share_of_product(percent)) == pytest.approx(percent, abs=1e-6)


@given(MASSES, MASSES)
def test_washing_and_weighing_agree_where_nothing_was_lost(bare, coat):
    assert build_up.by_washing(bare + coat, bare) == pytest.approx(build_up.build_up(bare, bare + coat))


@pytest.mark.parametrize("call", [
    lambda: build_up.build_up(0, 1), lambda: build_up.build_up(1, 2, 1.0), lambda: build_up.share_of_product(-100),
    lambda: build_up.from_share(100), lambda: build_up.by_washing(1, 0), lambda: thickness.on_sphere(0, 1, 1, 1),
    lambda: thickness.on_sphere(1, 1, -1, 1), lambda: scale_up.critical_speed(0.1, 0.2), lambda: dose.of_live_seed(1, 0),
    lambda: scale_up.fill_share(3, 2), lambda: units.dust_per_100_000(1, 0),
])
def test_what_cannot_be_is_refused_in_words(call):
    with pytest.raises(UnfitValue, match="allowed is"):
        call()


def test_the_batch_is_the_unit():
    two = one(built({"bare_g": 50, "coated_g": 80.5}, {"bare_g": 50, "coated_g": 81.2}), build_up.BY_BATCH)
    assert (two.n_batches, two.df, two.rung) == (2, 1, "batch")
    assert two.value == pytest.approx(np.mean([59.25, 60.63]), abs=0.01)
    assert two.lower < 59 < 61 < two.upper
    alone = one(built({"bare_g": 50, "coated_g": 80.5}), build_up.BY_BATCH)
    assert np.isnan(alone.lower)
    assert alone.reason == ONE_BATCH


def test_unknown_water_is_told_and_taken_as_it_lay():
    found = built({"bare_g": 50, "coated_g": 100, "bare_moisture": NAN, "coated_moisture": NAN})
    assert build_up.MOIST in found.warnings
    assert one(found, build_up.BY_BATCH).value == pytest.approx(100)


def test_three_ways_stand_side_by_side_and_their_disagreement_is_told():
    unit_masses = frame(NO_UNITS.columns[3:], {"bare_mg": 2.7, "coated_mg": 6.4, "bare_moisture": 0, "coated_moisture": 0})
    washed = frame(NO_WASHING.columns[3:], {"sample_g": 2.0, "without_coat_g": 1.25}, {"sample_g": 2.0, "without_coat_g": 1.25})
    found = built({"bare_g": 50, "coated_g": 80.5}, unit_masses=unit_masses, washed=washed)
    assert one(found, build_up.BY_WASHING).value == pytest.approx(60)
    assert one(found, build_up.BY_UNITS).value == pytest.approx(137.04, abs=0.01)
    (said,) = found.warnings
    assert said.startswith("R1: the ways to find build-up disagree: by batch mass 59 %, by unit mass 137 %, by washing off 60 %")
    agreeing = built({"bare_g": 50, "coated_g": 80.5}, washed=washed)
    assert not agreeing.warnings


@pytest.mark.parametrize(("said", "coated", "warned"), [("encrusted", 355, "still visible"), ("film", 80, "as before"),
                                                        ("pellet", 80, None), ("encrusted", 80, None), ("", 355, None)])
def test_a_class_that_the_mass_does_not_speak_for_is_asked_about(said, coated, warned):
    told = built({"bare_g": 50, "coated_g": coated, "coat_class": said}).warnings
    assert (warned in told[0]) if warned else not told


def test_bounds_of_classes_can_be_moved():
    assert not built({"bare_g": 50, "coated_g": 355, "coat_class": "encrusted"}, pellet_above=1000.0).warnings


def test_a_product_lighter_than_the_seed_is_told():
    (said,) = built({"bare_g": 50, "coated_g": 45, "coated_moisture": 0.08}).warnings
    assert said == "R1: the product weighs 10.0 % less than the bare seed: was seed lost on the way?"


def test_no_mass_no_build_up():
    assert isinstance(built(), Refusal)


# --- thickness

@given(st.floats(0.2, 5), st.floats(0.5, 2), st.floats(1, 1000), st.floats(0.5, 2))
def test_a_ball_is_a_round_spheroid(diameter, seed, percent, coat):
    ball = float(thickness.on_sphere(diameter, seed, percent, coat))
    r = diameter / 2
    assert thickness.on_half_axes(r, r, seed, percent, coat) == pytest.approx(ball, rel=1e-6)
    assert thickness.parallel(r, r, seed, percent, coat) == pytest.approx(ball, rel=1e-6)
    assert thickness.thin(r, r, seed, percent, coat) > ball


@given(st.floats(0.2, 2), st.floats(0.2, 4), st.floats(0.001, 0.1))
def test_all_three_agree_for_a_film(a, c, percent):
    values = [f(a, c, 1.2, percent, 1.4) for f in (thickness.parallel, thickness.thin)]
    assert values[0] == pytest.approx(float(values[1]), rel=0.01)


def test_no_coat_no_thickness_and_more_coat_more_of_it():
    assert thickness.on_sphere(2, 1.2, 0, 1.5) == 0
    assert thickness.parallel(0.5, 2, 1.2, 0, 1.4) == 0
    assert (np.diff(thickness.on_sphere(2, 1.2, np.arange(0, 500, 50), 1.5)) > 0).all()


# --- units

OPENED = ("replicate", *units.OPENED)
NOTHING = {"opened": frame(OPENED), "masses": frame(("mass_mg",)), "times": frame(("time_s",)),
           "dust": frame(("gain_g", "n_units"))}  # fmt: skip


def checked(**frames):
    return units.units(*(NOTHING | frames).values())


def opened(n_batches, **counts):
    usual = {"none": 9.0, "one": 85.0, "two": 6.0, "more": 0.0, "broken": 0.0, "replicate": 1}
    return frame(OPENED, *(usual | counts | {"batch": f"R{at}"} for at in range(n_batches)))


def test_every_unit_holds_something_or_is_broken():
    found = checked(opened=opened(2))
    assert sum(e.value for e in found.estimates) == pytest.approx(100)
    assert one(found, units.SINGLES).value == pytest.approx(85)


def test_many_doubles_are_told():
    assert checked(opened=opened(1)).warnings == ("T: 6 % of units hold two seeds or more: counts may exceed units sown.",)
    assert not checked(opened=opened(1, two=4.0, one=87.0)).warnings


def test_batches_that_differ_widen_the_interval():
    rows = opened(4)
    rows["one"], rows["none"] = [94.0, 76.0, 93.0, 77.0], [0.0, 18.0, 1.0, 17.0]
    apart, alike = (one(checked(opened=o), units.SINGLES) for o in (rows, opened(4)))
    assert apart.value == pytest.approx(alike.value)
    assert apart.upper - apart.lower > 2 * (alike.upper - alike.lower)


def masses(*of_batches):
    return frame(("mass_mg",), *({"mass_mg": m, "batch": f"R{at}"} for at, each in enumerate(of_batches) for m in each))


def test_spread_within_batches_does_not_see_that_batches_differ():
    base = np.array([9.0, 10.0, 11.0, 10.5, 9.5])
    near, far = (checked(masses=masses(base, base * f, base * f * f)) for f in (1.0, 1.3))
    assert one(far, units.EVENNESS).value == pytest.approx(one(near, units.EVENNESS).value)
    assert one(near, units.BETWEEN).value == 0
    assert one(far, units.BETWEEN).value > 20


def test_two_batches_do_not_show_how_batches_vary():
    found = checked(masses=masses([9, 10, 11], [9, 10, 12]))
    assert units.BETWEEN not in {e.quantity for e in found.estimates}
    with pytest.raises(UnfitValue, match="3 batches or more"):
        evenness.components(["a", "a", "b", "b"], [1, 2, 3, 4])


def test_components_cover():
    """Simulated: 4 batches of 6 units, variances 1 and 4: 93 to 97 % of 1500 intervals hold the 1."""
    rng = np.random.default_rng(11)
    batch = np.repeat(list("abcd"), 6)
    ends = [evenness.components(batch, np.repeat(rng.normal(0, 1, 4), 6) + rng.normal(0, 2, 24)) for _ in range(1500)]
    assert 0.925 < np.mean([e.lower <= 1 <= e.upper for e in ends]) < 0.975


def test_time_of_one_batch_is_the_median_of_its_units_and_of_two_the_mean_of_theirs():
    times = frame(("time_s",), *({"time_s": float(t), "batch": b} for b, each in {"R1": range(10, 21), "R2": range(40, 51)}.items()
                                 for t in each))  # fmt: skip
    alone = one(checked(times=times[times["batch"] == "R1"]), units.TIME)
    assert (alone.value, alone.lower, alone.upper) == (15, 11, 19)
    both = one(checked(times=times), units.TIME)
    assert both.value == pytest.approx(np.sqrt(15 * 45))
    assert both.n_batches == 2


def test_few_values_give_no_interval_of_a_median():
    assert np.isnan(units.median_interval([1, 2, 3, 4, 5]).lower)
    assert units.median_interval([1, 2, 3, 4, 5, 6])[1:3] == (1, 6)


def test_nothing_looked_at_is_refused():
    assert isinstance(checked(), Refusal)


@given(st.floats(0.01, 0.3), st.integers(5, 60))
def test_interval_of_variation_holds_it_and_shrinks(k, n):
    few, many = evenness.variation_interval(k, n), evenness.variation_interval(k, 4 * n)
    assert few.lower < many.lower < k < many.upper < few.upper


# --- dose

DOSE = ("material", "intended_mg_kg", "added_mg", "seed_kg", "stayed", "uptake_ml_g", "strength_mg_l", "assayed_mg_kg",
        "build_up_percent", "thousand_g", "live_share", "units_per_ha")  # fmt: skip
NO_PAIR = pd.DataFrame({"taxon": [], "a": [], "b": [], "material": []})


def dosed(*rows, pairs=NO_PAIR):
    blank = dict.fromkeys(DOSE, NAN) | {"material": "GA3"}
    return dose.doses(frame(DOSE, *(blank | row for row in rows)).astype(dict.fromkeys(DOSE[1:], float)), pairs)


COAT = {"intended_mg_kg": 150.0, "added_mg": 150.0, "seed_kg": 1.0, "stayed": 92 / 150}
SOAK = {"treatment": "S", "uptake_ml_g": 0.5, "strength_mg_l": 400.0}


def test_grades_stay_apart_and_a_loss_is_told():
    found = dosed(COAT)
    assert one(found, dose.INTENDED).value == 150
    assert one(found, dose.BALANCED).value == pytest.approx(92, abs=0.01)
    assert found.warnings == ("T, GA3: intended 150 mg/kg; dose by mass balance is 92 mg/kg.",)


def test_a_soak_is_an_upper_bound_and_says_so():
    assert dose.UPPER in dosed(SOAK).warnings
    assert dose.UPPER not in dosed(COAT).warnings


def test_routes_at_unequal_doses_are_not_compared():
    pairs = pd.DataFrame([{"taxon": "A", "a": "S", "b": "T", "material": "GA3"}])
    (said,) = [w for w in dosed(COAT, SOAK, pairs=pairs).warnings if "route" in w]
    assert said.startswith("S against T: 200 (dose by uptake) against 92 mg/kg (dose by mass balance)")
    assert not [w for w in dosed(COAT | {"added_mg": 320.0}, SOAK, pairs=pairs).warnings if "route" in w]


def test_what_was_assayed_goes_before_what_was_reckoned():
    found = dosed(COAT | {"assayed_mg_kg": 50.0, "build_up_percent": 60.0})
    assert one(found, dose.ASSAYED).value == pytest.approx(80)
    assert dose.best_known(found.estimates)["A", "T", "GA3"] == (dose.ASSAYED, pytest.approx(80))


def test_two_actives_of_a_treatment_stay_apart():
    found = dosed(COAT, COAT | {"material": "KNO3", "intended_mg_kg": 1000.0})
    assert {e.of["material"]: e.value for e in found.estimates if e.quantity == dose.INTENDED} == {"GA3": 150, "KNO3": 1000}


@given(st.floats(1, 1e4), st.floats(0.05, 50), st.floats(0.1, 1), st.floats(0, 1000))
def test_bases_agree_with_each_other(mg_kg, thousand, alive, percent):
    unit = dose.of_unit(mg_kg, thousand)
    assert 1000 * 1000 / thousand * unit == pytest.approx(mg_kg)  # all units of a kilogram together
    assert dose.of_live_seed(unit, alive) >= unit
    assert dose.per_kg_bare(1e4 * dose.in_product(mg_kg, percent), percent) == pytest.approx(mg_kg)


def test_no_figure_no_dose():
    assert isinstance(dosed({}), Refusal)


# --- balance, plan, larger pan

FLOW = ("seed_g", "solids_g", "product_g", "rest_g", "coat_share_percent", "moist")


def flow(**row):
    return balance.balance(frame(FLOW, {"seed_g": 50.0, "solids_g": 40.0, "product_g": 80.0, "rest_g": 10.0,
                                        "coat_share_percent": NAN, "moist": False} | row))  # fmt: skip


def test_nothing_lost_all_found_again():
    found = flow()
    assert one(found, balance.FOUND_AGAIN).value == pytest.approx(100)
    assert one(found, balance.STAYED).value == pytest.approx(75)
    assert not found.warnings


def test_more_out_than_in_is_still_wet():
    assert "still wet" in flow(rest_g=20.0).warnings[0]


def test_seed_sent_and_not_returned_is_told():
    found = flow(seed_g=1000.0, solids_g=NAN, product_g=1459.2, rest_g=NAN, coat_share_percent=37.5)
    assert one(found, balance.SEED_BACK).value == pytest.approx(91.2)
    assert found.warnings == ("R1: 1000 g of seed sent, the product holds 912 g: 88 g missing.",)
    assert {e.quantity for e in found.estimates} == {balance.SEED_BACK}


def test_moist_masses_are_told_and_no_mass_is_refused():
    assert "as they lay" in flow(moist=True).warnings[0]
    assert isinstance(flow(product_g=NAN), Refusal)


STEP = ("what", "planned", "done", "unit", "reason")


def steps(*rows):
    usual = {"what": "binder", "planned": 8.0, "done": 8.0, "unit": "mL", "reason": ""}
    return planned.planned_and_done(frame(STEP, *(usual | row for row in rows)))


def test_a_departure_needs_a_reason():
    found = steps({}, {"done": 9.2}, {"what": "filler", "done": 10.0, "reason": "Pan too dry."}, {"what": "speed", "done": NAN})
    assert found.warnings == (
        "T, R1, binder: planned 8 mL, done 9.2 mL (+15 %); no reason was written.",
        "T, R1, filler: planned 8 mL, done 10 mL (+25 %); Pan too dry.",
        "T, R1, speed: planned 8 mL, not recorded.",
    )
    assert one(found, planned.UNEXPLAINED).value == 2
    assert one(found, planned.FARTHEST).value == pytest.approx(25)
    assert one(found, planned.AS_PLANNED).value == pytest.approx(100 / 3)


def test_done_as_planned_has_no_gap():
    found = steps({}, {"planned": 0.0, "done": 0.0})
    assert not found.warnings
    assert one(found, planned.AS_PLANNED).value == 100


def test_something_where_nothing_was_planned_is_a_departure():
    assert steps({"planned": 0.0, "done": 2.0}).warnings == ("T, R1, binder: planned 0 mL, done 2 mL; no reason was written.",)


def test_what_the_procedure_allows_is_as_planned():
    """Bounds of the procedure decide where it states them; 5 % either way does where it does not."""
    allowed = {"lowest": 7.0, "highest": 9.5}
    usual = {"what": "binder", "planned": 8.0, "done": 8.0, "unit": "mL", "reason": "", "lowest": NAN, "highest": NAN}
    rows = (
        {"done": 9.2} | allowed, {"done": 9.6} | allowed, {"done": 7.0} | allowed,  # +15 % is allowed, +20 % is not
        {"done": 8.3, "highest": 8.2}, {"done": 7.5, "highest": 8.2}, {"done": 7.7, "highest": 8.2},
        {"planned": NAN, "done": 9.0} | allowed, {"planned": NAN, "done": 6.0} | allowed,
        {"planned": NAN, "done": NAN, "lowest": 5.0},
    )  # fmt: skip
    found = planned.planned_and_done(frame((*STEP, "lowest", "highest"), *(usual | row for row in rows)))
    assert found.warnings == (
        "T, R1, binder: planned 8 (7 to 9.5) mL, done 9.6 mL (+20 %); no reason was written.",
        "T, R1, binder: planned 8 (at most 8.2) mL, done 8.3 mL (+4 %); no reason was written.",
        "T, R1, binder: planned 8 (at most 8.2) mL, done 7.5 mL (-6 %); no reason was written.",
        "T, R1, binder: planned 7 to 9.5 mL, done 6 mL; no reason was written.",
        "T, R1, binder: planned at least 5 mL, not recorded.",
    )
    assert one(found, planned.AS_PLANNED).value == pytest.approx(100 * 4 / 8)


def test_nothing_planned_is_refused():
    assert isinstance(steps({"planned": NAN}), Refusal)


PAN = ("seed_g", "liquid_g", "powder_g", "speed_rpm", "diameter_m", "unit_m", "bulk_l", "drum_l")
BENCH = {"seed_g": 50.0, "liquid_g": 20.0, "powder_g": 30.0, "speed_rpm": 40.0, "diameter_m": 0.3, "unit_m": NAN, "bulk_l": 0.1,
         "drum_l": 2.0}  # fmt: skip


def test_amounts_go_with_seed_and_speed_with_the_root_of_the_diameter():
    found = scale_up.scale_up(frame(PAN, BENCH), 20_000.0, 0.9)
    assert one(found, scale_up.LIQUID).value == pytest.approx(8000)
    assert one(found, scale_up.POWDER).value == pytest.approx(12_000)
    assert one(found, scale_up.SPEED).value == pytest.approx(40 / np.sqrt(3))
    assert one(found, scale_up.FILL).value == pytest.approx(5)
    assert any("try them" in w for w in found.warnings)


@given(st.floats(5, 80), st.floats(0.1, 1.5), st.floats(0.1, 1.5), st.floats(0, 0.01))
def test_there_and_back_is_the_same_speed_and_share(rpm, one_m, other_m, unit_m):
    there = scale_up.same_share(rpm, one_m, other_m, unit_m)
    assert scale_up.same_share(there, other_m, one_m, unit_m) == pytest.approx(rpm)
    shares = [n / scale_up.critical_speed(d, unit_m) for n, d in ((rpm, one_m), (there, other_m))]
    assert shares[0] == pytest.approx(shares[1])


def test_the_same_pan_and_mass_change_nothing():
    found = scale_up.scale_up(frame(PAN, BENCH), 50.0, 0.3)
    assert one(found, scale_up.LIQUID).value == pytest.approx(20)
    assert one(found, scale_up.SPEED).value == pytest.approx(40)


def test_nothing_to_scale_is_refused():
    assert isinstance(scale_up.scale_up(frame(PAN, dict.fromkeys(PAN, NAN))), Refusal)
