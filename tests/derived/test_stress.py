"""Dishes under stress laid out: fillings of chambers, questions along a factor, series of doses, months in store."""

import numpy as np
import pandas as pd
import pytest

from palea.checks.examples import dish, examined, lot, run, several, treated
from palea.derived import stress
from palea.derived.facts import Facts

ENDS = {"normal": 10, "abnormal": 0, "hard": 0, "fresh": 4, "dead": 8, "empty": 3}


def environment(name, **more):
    return {"environments": [{"environment_id": name, "trial_id": "G1", "day_c": 20.0, "night_c": 10.0} | more]}


def placed(unit_id, where, **more):
    """A dish, cut at its end, that stood in an environment."""
    example = dish(unit_id, **ENDS | more)
    example["units"] = [row | {"environment_id": where} for row in example["units"]]
    return example


def facts_of(frames, *examples):
    return Facts(frames(several({"trials": [{"trial_id": "G1"}]}, *examples)))


def test_a_dish_stands_in_its_own_filling_of_the_chamber(frames):
    """Two fillings of one setting are one environment for the effects of seed, and two for that of temperature."""
    facts = facts_of(
        frames, lot("AV-1"), environment("E1", chamber="c1", run_no=1), environment("E2", chamber="c2", run_no=1),
        placed("D1", "E1"), placed("D2", "E2"),
    )  # fmt: skip
    for rows in (facts[stress.shares], facts[stress.intervals]):
        assert rows.groupby("unit")["environment"].first().to_dict() == {"D1": "E1", "D2": "E2"}
    assert facts[stress.environments]["environment"].tolist() == ["E1", "E2"]


def test_environments_without_dishes_are_no_settings(frames):
    facts = facts_of(frames, lot("AV-1"), environment("E1"), environment("E2"), placed("D1", "E1"))
    assert facts[stress.environments]["environment"].tolist() == ["E1"]


def declared(a, b, across, margin=None, **more):
    row = {"contrast_id": f"{a}-{b}-{across}", "trial_id": "G1", "a": a, "b": b, "outcome": "normal seedlings",
           "kind": "superiority", "across": across or None, "margin": margin, "declared_at": "2025-01-01"}  # fmt: skip
    return {"contrasts": [row | more]}


TWO = (
    lot("AV-1"), treated("AV-T03"), treated("AV-T06", coat_class="encrusted"),
    environment("E1"), placed("D1", "E1", treatment="AV-T03"), placed("D2", "E1", treatment="AV-T06"),
    {"trial_outcomes": [{"trial_id": "G1", "outcome": "normal seedlings", "denominator": "filled"}]},
)  # fmt: skip


def test_what_was_declared_across_a_factor_is_asked_first_and_what_belongs_to_another_is_not(frames):
    facts = facts_of(frames, *TWO, *(declared("AV-T06", "AV-T03", across) for across in ("", "water", "storage")))
    assert facts[stress.asked_along_water]["across"].tolist() == ["water", ""]
    assert facts[stress.asked_along_temperature]["across"].tolist() == [""]


def test_a_question_about_keeping_is_judged_on_the_half_life(frames):
    """Its margin, in points of seedlings, would be none of months: with one the pair is shown without a verdict."""
    bare = facts_of(frames, *TWO, declared("AV-T06", "AV-T03", "storage"))[stress.asked_along_storage]
    assert bare[["quantity", "denominator", "environment"]].to_numpy().tolist() == [["half-life in storage", "", ""]]
    with_margin = facts_of(frames, *TWO, declared("AV-T06", "AV-T03", "storage", margin=15.0))[stress.asked_along_storage]
    assert with_margin["quantity"].tolist() == ["normal seedlings"]


def active(treatment, amount, material="ga3"):
    return {"treatment_actives": [{"treatment_id": treatment, "material_id": material, "amount": amount, "unit": "mg/kg",
                                   "basis": "per kg bare seed"}]}  # fmt: skip


def test_a_series_is_what_differs_in_the_active_alone(frames):
    """The film without it is dose 0; the encrusted seed with it differs in two things and is no part of the series."""
    names = {"AV-T05": "film", "AV-T10": "film", "AV-T13": "film", "AV-T19": "encrusted"}
    sown = [several(treated(t, coat_class=coat, route="coat"), placed(f"D{t}", "E1", treatment=t)) for t, coat in names.items()]
    facts = facts_of(
        frames, lot("AV-1"), environment("E1"), *sown, active("AV-T10", 150), active("AV-T13", 2000), active("AV-T19", 150)
    )
    rows = facts[stress.series]
    assert rows[["series", "treatment", "dose"]].to_numpy().tolist() == [
        ["AV-T05", "AV-T05", 0.0], ["AV-T05", "AV-T10", 150.0], ["AV-T05", "AV-T13", 2000.0],
    ]  # fmt: skip
    assert set(rows["dose_unit"]) == {"mg/kg"}


def test_the_dose_is_what_was_found_on_the_seed(frames):
    sown = [several(treated(t, coat_class="film", route="coat"), placed(f"D{t}", "E1", treatment=t)) for t in ("AV-T05", "AV-T10")]
    facts = facts_of(
        frames, lot("AV-1"), lot("AV-2"), environment("E1"), sown[0], treated("AV-T10", coat_class="film", route="coat"),
        placed("D10", "E1", treatment="AV-T10", lot_id="AV-2"), active("AV-T10", 150),
        examined("AV-2", "assayed active", {"active": 92.0}, unit="mg/kg"),
    )  # fmt: skip
    assert facts[stress.series].set_index("treatment").loc["AV-T10", "dose"] == 92


def kept(portion, place, since="2025-03-01", **climate):
    """A portion of AV-1 put into a store."""
    return several(lot(portion), {
        "movements": [{"movement_id": f"M-{portion}", "lot_id": "AV-1", "kind": "moved to lot", "counterpart_lot_id": portion}],
        "storage": [{"storage_id": f"S-{portion}", "lot_id": portion, "from_at": since, "place": place} | climate],
    })  # fmt: skip


STORED = (
    lot("AV-1"), kept("AV-1-room", "room", temperature_c=20.0, rh_pct=50.0), environment("E1"),
    placed("D0", "E1"), placed("D6", "E1", lot_id="AV-1-room", wetted="2025-08-30"),
    {"trial_factors": [{"trial_id": "G1", "factor": "storage", "applied_to": "batch"}]},
)  # fmt: skip


def test_months_count_from_the_day_on_which_the_portion_was_put_into_store(frames):
    """1 March to 30 August 2025 are 182 days; a month is 365.25 / 12 days: 5.98 months."""
    rows = facts_of(frames, *STORED)[stress.viability].set_index("unit")
    assert rows["months"].to_dict() == pytest.approx({"D0": 0.0, "D6": 5.98})
    assert rows["store"].to_dict() == {"D0": "", "D6": "room"}
    assert rows.loc["D6", ["temperature_c", "moisture_pct"]].tolist() == [20, 50]
    assert np.isnan(rows.loc["D0", "temperature_c"])


def test_the_living_are_those_that_germinated_or_wait_of_the_filled(frames):
    """By hand: 10 normal and 4 fresh of 25 less 3 empty."""
    rows = facts_of(frames, *STORED)[stress.viability]
    assert rows[["k", "n"]].drop_duplicates().to_numpy().tolist() == [[14, 22]]


def test_a_dish_in_which_all_are_dead_counts_as_none_alive(frames):
    dead = placed("D9", "E1", normal=0, fresh=0, dead=22)
    rows = facts_of(frames, *STORED, dead)[stress.viability].set_index("unit")
    assert rows.loc["D9", ["k", "n"]].tolist() == [0, 22]


def test_a_trial_that_is_not_of_storage_has_no_months(frames):
    assert not len(facts_of(frames, *STORED[:-1])[stress.viability])


def test_seed_under_another_treatment_is_no_portion_in_store(frames):
    """Coated seed comes from the lot that was sown bare, and yet has not lain in store."""
    facts = facts_of(
        frames, lot("AV-1"), lot("AV-2"), run("R1", "AV-1", "AV-2", kind="coat"), environment("E1"), placed("D0", "E1"),
        placed("D1", "E1", lot_id="AV-2", treatment="AV-T05"), STORED[-1],
    )  # fmt: skip
    assert facts[stress.viability]["months"].tolist() == [0, 0]


def test_views_of_nothing_are_empty(frames):
    facts = facts_of(frames)
    views = (stress.environments, stress.shares, stress.intervals, stress.series, stress.viability,
             stress.asked_along_water, stress.asked_along_storage)  # fmt: skip
    assert [len(facts[view]) for view in views] == [0] * len(views)
    assert isinstance(facts[stress.series]["dose"].dtype, np.dtype)
    assert facts[stress.shares]["environment"].dtype == pd.StringDtype("pyarrow")
