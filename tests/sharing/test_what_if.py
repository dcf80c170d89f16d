"""What if: one thing changed, the verdicts that move, and what cannot be asked."""

import pytest

import palea
from palea.errors import RecipeError
from palea.sharing.what_if import BACK_IN, what_if
from palea.shipped import folder


@pytest.fixture(scope="module")
def journey():
    return palea.open_package(folder("datapackages_demo") / "journey")


def test_of_sown_units_emptiness_passes_for_germination(journey):
    """The denominator trap that the demo is built on: of filled seed the hull makes no difference in AM, of sown units it does."""
    found = what_if(journey, "germination.final@G1", "denominator", "sown units")
    rows = found.verdicts.set_index("group")
    hull = next(r for g, r in rows.iterrows() if "AM-T02 against AM-T01" in g)
    assert (hull["was"], hull["now"], hull["moved"]) == ("equivalent within m", "better", True)
    assert found.moved == rows["moved"].sum() < len(rows)
    told = list(found.told())
    assert told[1] == f"{found.moved} of {len(rows)} verdicts change."
    assert "equivalent within m -> better" in told[2], "those that change come first"
    assert "as before" in told[-1]


def test_the_same_value_moves_nothing(journey):
    found = what_if(journey, "germination.final@G4", "confidence", "0.95")
    assert found.moved == 0
    assert found.as_json()["verdicts"][0]["estimate_was"] == found.as_json()["verdicts"][0]["estimate_now"]


@pytest.mark.parametrize(("analysis", "name", "value", "sentence"), [
    ("germination.final@G1", "model", "other", "has no option “model”. It has: confidence, denominator"),
    ("germination.final@G1", "confidence", "high", "“high” is no number"),
    ("A-99", "confidence", "0.9", "There is no analysis “A-99” here"),
    ("germination.final@G4", BACK_IN, "yes", "takes the value “count”"),
])
def test_what_cannot_be_asked_is_refused_in_a_sentence(journey, analysis, name, value, sentence):
    with pytest.raises(RecipeError, match=sentence):
        what_if(journey, analysis, name, value)


def test_units_left_out_by_decision_can_be_put_back_in(journey):
    units = journey["units"]
    of_trial = units.index[units["trial_id"].eq("G4")]
    left = journey.replacing("units", units.assign(
        status=units["status"].mask(units.index.isin(of_trial[:3]), "excluded"),
        reason=units["reason"].mask(units.index.isin(of_trial[:3]), "mould"),
    ))  # fmt: skip
    found = what_if(left, "germination.final@G4", BACK_IN, "count")
    assert found.changed == "3 left-out units count again"
    groups = [[e.n_units for e in o.result.groups] for o in (found.before, found.after)]
    assert sum(groups[1]) > sum(groups[0])
