"""A view that has nothing to say has the columns of one that has: who reads it finds the same names and kinds."""

import pytest

from palea.checks.germination.counts import rising_sheet
from palea.derived.counting import rising
from palea.derived.facts import Facts
from palea.derived.ladder import alike
from palea.derived.ledger import entries
from palea.derived.lineage import ancestry, history, parents
from palea.derived.standing import walked


@pytest.fixture(scope="module")
def full(journey):
    return Facts(journey)


def kinds(frame):
    return {name: dtype.kind if dtype.kind in "ifbM" else "text" for name, dtype in frame.dtypes.items()}


@pytest.mark.parametrize("view", [walked, entries, parents, ancestry, history, alike], ids=lambda v: v.name)
def test_without_rows_a_view_is_what_it_is_with_them(view, full, frames):
    without = Facts(frames({}))[view]
    assert len(without) == 0 < len(full[view])
    assert kinds(without) == kinds(full[view])


def test_a_trial_without_a_rising_sheet_is_told_as_one_with_it(frames):
    with_it, without = (Facts(frames(example))[rising] for example in (rising_sheet.fires, rising_sheet.nearly))
    assert len(without) == 0 < len(with_it)
    assert kinds(without) == kinds(with_it)
