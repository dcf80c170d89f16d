"""Counts as they were seen anew, the ends of a dish, its denominators and its inspection intervals."""

import numpy as np
import pytest

from palea.checks.examples import dish, lot, several
from palea.derived.counting import ends, intervals, new_counts, shares
from palea.derived.facts import Facts


def facts_of(frames, *examples):
    return Facts(frames(several(lot("AV-1"), *examples)))


def test_cumulative_sheets_become_differences_and_blank_stays_blank(frames):
    facts = facts_of(
        frames,
        dish(
            counting="cumulative",
            visits={
                "2025-03-05": {"normal": 3},
                "2025-03-08": {"normal": 7},
                "2025-03-11": {"normal": None},
                "2025-03-14": {"normal": 9},
            },
        ),
    )
    assert facts[new_counts]["count"].tolist()[:2] == [3, 4]
    assert np.isnan(facts[new_counts]["count"].iloc[2])
    assert facts[new_counts]["count"].iloc[3] == 2, "what came up since the last look"


def test_a_blank_is_not_a_zero_in_the_ends_of_a_dish(frames):
    facts = facts_of(
        frames, dish(visits={"2025-03-05": {"normal": 3, "abnormal": 0}, "2025-03-09": {"normal": None, "abnormal": 1}})
    )
    end = facts[ends].iloc[0]
    assert np.isnan(end["normal"])
    assert end["abnormal"] == 1
    assert np.isnan(end["hard"])


@pytest.fixture
def cut(frames):
    """25 seeds: 12 normal, 1 abnormal, 3 hard, 2 fresh, 4 dead, 3 empty."""
    return facts_of(frames, dish(normal=12, abnormal=1, hard=3, fresh=2, dead=4, empty=3))


def test_denominators_are_never_mixed(cut):
    """Arithmetic of the definitions: filled = sown - empty; viable = normal + abnormal + hard + fresh."""
    found = cut[shares].set_index(["quantity", "denominator"])
    assert found.loc[("normal seedlings", "sown units"), ["k", "n"]].tolist() == [12, 25]
    assert found.loc[("normal seedlings", "filled"), ["k", "n"]].tolist() == [12, 22]
    assert found.loc[("germinated", "viable"), ["k", "n"]].tolist() == [13, 18]
    assert found.loc[("hard seed", "viable"), ["k", "n"]].tolist() == [3, 18]


def _four(frames, *ways):
    """Dishes of one treatment, each with its ends, and how many of them are known of filled seed."""
    facts = facts_of(frames, *(dish(f"D{n}", visits={f"2025-03-1{n}": way}) for n, way in enumerate(ways)))
    filled = facts[shares].query("denominator == 'filled' and quantity == 'normal seedlings'")
    return facts, filled["k"].tolist()


def test_dishes_in_which_all_came_up_do_not_stand_for_those_that_nobody_cut(frames):
    """Two full dishes of four: of filled seed they would say 100 %, of all sown 70 came up."""
    facts, known = _four(frames, {"normal": 25}, {"normal": 25}, {"normal": 10}, {"normal": 10})
    assert known == []
    assert len(facts[shares].query("denominator == 'sown units' and quantity == 'normal seedlings'")) == 4
    waiting = facts[intervals].query("right == inf")
    assert waiting["count"].tolist() == [15, 15], "empty seed units were not looked for in any of them"


def test_one_dish_that_was_missed_is_left_out(frames):
    cut = {"normal": 10, "dead": 10, "empty": 5}
    assert _four(frames, {"normal": 25}, cut, cut, cut, cut, {"normal": 12})[1] == [25, 10, 10, 10, 10]
    assert _four(frames, {"normal": 25}, cut, cut, {"normal": 12})[1] == []
    assert _four(frames, {"normal": 25}, {"normal": 25})[1] == [25, 25]


def test_without_the_cut_only_sown_units_are_known(frames):
    found = facts_of(frames, dish(normal=12, abnormal=1))[shares]
    assert set(found["denominator"]) == {"sown units"}


def test_intervals_are_open_left_and_closed_right_and_span_days_without_a_look(frames):
    """Day 0 is 2025-03-01. Nobody looked at this dish on day 5, so what day 8 shows came in (3, 8]."""
    facts = facts_of(
        frames,
        dish(
            sown=10,
            visits={
                "2025-03-04": {"normal": 2, "abnormal": 0},
                "2025-03-06": {"normal": None, "abnormal": None},
                "2025-03-09": {"normal": 3, "abnormal": 1, "dead": 1, "empty": 3},
            },
        ),
    )
    found = facts[intervals][["left", "right", "count"]].to_numpy().tolist()
    assert found == [[0, 3, 2], [3, 8, 4], [8, np.inf, 1]]


def test_lost_seed_is_censored_where_it_was_lost(frames):
    facts = facts_of(
        frames,
        dish(
            sown=10,
            visits={
                "2025-03-04": {"normal": 2, "abnormal": 0, "lost": 1},
                "2025-03-09": {"normal": 3, "abnormal": 0, "dead": 4},
            },
        ),
    )
    censored = facts[intervals].query("right == inf")
    assert censored[["left", "count"]].to_numpy().tolist() == [[3, 1], [8, 4]]
