"""Views as earlier recipes were handed them: which dishes were left out since."""

from palea.checks.examples import dish, lot, several
from palea.derived import counting, earlier
from palea.derived.facts import Facts


def _of_filled(facts, view):
    found = facts[view]
    mine = found["quantity"].eq("normal seedlings") & found["denominator"].eq("filled")
    return sorted(found.loc[mine, "unit"])


def test_a_dish_in_which_all_came_up_counted_as_cut_though_its_neighbours_were_not(frames):
    ways = ({"normal": 25}, {"normal": 12}, {"normal": 9})
    dishes = [dish(f"D{n}", visits={f"2025-03-1{n}": way}) for n, way in enumerate(ways)]
    facts = Facts(frames(several(lot("AV-1"), *dishes)))
    assert _of_filled(facts, earlier.shares) == ["D0"]
    assert _of_filled(facts, counting.shares) == []


def test_dishes_that_were_all_cut_are_the_same_in_both(frames):
    facts = Facts(frames(several(lot("AV-1"), dish(normal=12, dead=10, empty=3), dish("D2", normal=20, dead=5))))
    assert facts[earlier.shares].equals(facts[counting.shares])
    assert len(_of_filled(facts, earlier.shares)) == 2
