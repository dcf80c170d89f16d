"""A judged effect names the declared contrast that it answers; what is shown beside it names none."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd
import pytest

import palea
from palea.analyses.declared import with_contrasts
from palea.calc.results import Change, Effects, Estimate

ASKED = {"contrast": "C-1", "environment": "E", "taxon": "T", "a": "a", "b": "b", "quantity": "standing", "kind": "superiority",
         "margin": np.nan, "denominator": "viable", "asks_about": "coat", "across": "", "at_day": 84.0}  # fmt: skip
EFFECT = Estimate("standing", MappingProxyType({"taxon": "T", "environment": "E", "a": "a", "b": "b"}), 3.0, kind="superiority",
                  denominator="viable", asks_about="coat", verdict="not shown")  # fmt: skip
CHANGED = Change("standing", "here", "there", 1.0, 2.0)


def named(effect, *asked):
    result = with_contrasts(Effects(effects=(effect,)), pd.DataFrame([ASKED | row for row in asked or ({},)]))
    return result.effects[0].contrast


@pytest.mark.parametrize(("effect", "row", "told"), [
    ({}, {}, "C-1"),
    ({"verdict": ""}, {}, ""),  # shown beside, and not judged
    ({"verdict": "not judged", "value": np.nan}, {}, "C-1"),
    ({}, {"a": "b", "b": "a"}, ""),  # the other way round is another question
    ({"margin": 10.0}, {}, ""),
    ({"margin": 10.0}, {"margin": 10.0}, "C-1"),
    ({"denominator": "sown units"}, {}, ""),  # a what-if is not what was declared
    ({"quantity": "emerged"}, {}, ""),
    ({}, {"environment": "E2"}, ""),
    ({}, {"environment": "", "taxon": None}, "C-1"),  # asked wherever both sides were sown
    ({"change": CHANGED, "asks_about": "site"}, {}, ""),
    ({"change": CHANGED, "asks_about": "site"}, {"across": "site"}, "C-1"),
    ({}, {"across": "site"}, ""),  # the difference itself is no answer to whether it changes
    ({"quantity": "half-life in storage", "denominator": ""}, {"across": "storage"}, "C-1"),
    ({"quantity": "half-life in storage", "denominator": "", "asks_about": "hull"}, {"across": "storage"}, ""),
])  # fmt: skip
def test_an_effect_names_the_contrast_that_asks_for_it(effect, row, told):
    assert named(replace(EFFECT, **effect), row) == told


def test_where_several_fit_the_day_decides_and_else_none_is_named():
    two = ({"contrast": "C-1"}, {"contrast": "C-2", "at_day": 280.0})
    assert named(EFFECT, *two) == ""
    assert [named(replace(EFFECT, time=day), *two) for day in (84.0, 280.0)] == ["C-1", "C-2"]


def test_what_is_asked_within_one_setting_goes_first():
    assert named(EFFECT, {"contrast": "C-2", "across": "site", "quantity": "emerged"}, {}) == "C-1"


@pytest.mark.parametrize(("recipe", "trial"), [
    ("germination.final", "G2"), ("germination.water", "G2"), ("germination.storage", "G5"), ("emergence.final", "F2"),
    ("emergence.sites", None), ("handling.seeder", "H1"),
])  # fmt: skip
def test_every_judged_row_of_the_demo_names_a_contrast_with_its_two_sides(journey, recipe, trial):
    rows = palea.run(recipe, journey, trial=trial).results
    judged = rows[rows["verdict"].notna()]
    contrasts = journey["contrasts"].set_index("contrast_id")
    assert len(judged)
    assert judged["contrast_id"].notna().all()
    assert rows[rows["verdict"].isna()]["contrast_id"].isna().all()
    sides = contrasts.loc[judged["contrast_id"], ["a", "b"]].to_numpy().tolist()
    assert judged[["treatment_a", "treatment_b"]].to_numpy().tolist() == sides
    if trial:
        assert set(contrasts.loc[judged["contrast_id"], "trial_id"]) == {trial}
