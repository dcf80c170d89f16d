"""Which questions are asked without being named: the cheap reasons against one are looked at first."""

from dataclasses import replace

from palea.analyses import catalogue
from palea.analyses.plan import _applies
from palea.derived.facts import Facts
from palea.derived.subject import Subject


def _never(_):
    raise AssertionError


def test_without_rows_in_what_it_needs_a_recipe_is_not_asked_for_its_own_word(journey):
    for recipe in ("handling.flow", "handling.seeder", "growth.compare"):
        assert not _applies(Facts(Subject(journey, "G4")), replace(catalogue.find(recipe), when=_never))


def test_a_question_of_the_field_is_asked_of_plots_alone_and_one_of_no_stage_of_units_by_its_own_word(journey):
    field, reserve = (replace(catalogue.find(r), when=lambda _: True) for r in ("survival.curve", "decision.reserve"))
    dishes, plots = (Facts(Subject(journey, trial)) for trial in ("G4", "F1"))
    assert [_applies(dishes, field), _applies(plots, field), _applies(dishes, reserve)] == [False, True, True]
