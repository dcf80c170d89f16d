"""Fifty planted mistakes: each found by the rule that is for it, in its table and row, and nothing else found.

The list of mistakes is that of a practitioner's year (common practice, no source); what has to be found stands beside
each of them in palea.demo.broken and in the shipped broken.json.
"""

import json

import pytest

import palea
from palea.checks import run
from palea.demo.broken.write import MISTAKES, found_in
from palea.shipped import folder

WHERE = folder("datapackages_demo") / "broken"
PLANTED = json.loads(WHERE.with_suffix(".json").read_text(encoding="utf-8"))["mistakes"]
# What the invented journey itself says truly, with the reason; it is no planted mistake.
TRUE_OF_THE_JOURNEY = {
    "planning.one-batch": "beyond G1 and G4 one batch stands behind each treatment",
    "coating.dose-not-as-meant": "61 % of GA3 stays in a film, and the doses were assayed",
    "planning.no-primary": "grey hair-grass at Long Spit is secondary",
    "record.contrasts-left-out": "one analysis alone is kept there, to be altered",
    "outsourced.nothing-travelled": "no uncoated bag travelled with the seed that was sent to the yard",
}


@pytest.fixture(scope="module")
def found():
    return found_in(WHERE)


def expected():
    return {(f["rule"], f["table"], f["row"]) for m in PLANTED for f in m["findings"]}


def test_there_are_fifty():
    assert [m["number"] for m in PLANTED] == [m.number for m in MISTAKES] == list(range(1, 51))


@pytest.mark.parametrize("mistake", PLANTED, ids=lambda m: f"{m['number']}-{m['what']}")
def test_a_mistake_is_found_where_it_is(mistake, found):
    places = [(f["rule"], f["table"], f["row"]) for f in mistake["findings"]]
    assert places
    assert [place for place in places if place not in found] == []


def test_nothing_else_is_found(found):
    other = {place: f.message for place, f in found.items() if place not in expected()}
    assert {place: said for place, said in other.items() if place[0] not in TRUE_OF_THE_JOURNEY} == {}


def test_what_is_found_says_what_to_do(found):
    for finding in found.values():
        assert finding.remedy.endswith("."), finding
        assert "nan" not in finding.message


def test_the_clean_journey_says_only_what_is_true(journey):
    """Not one false error or warning: each rule that speaks has its reason."""
    told = {f.rule: f.severity for f in run.findings_of(journey)}
    assert "error" not in told.values()
    assert set(told) <= {*TRUE_OF_THE_JOURNEY, "planning.doses-apart"}, "route at 200 against 93 mg/kg was asked on purpose"


def test_the_check_of_it_answers_no():
    assert any(f.severity == "error" for f in palea.check(palea.open_package(WHERE)))
