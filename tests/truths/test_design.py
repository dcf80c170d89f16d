"""Layouts against published designs, and efficiencies against closed forms."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.stats.design import alpha_design, concurrences, efficiency, is_latin, latin_square

LATIN = pd.read_csv(Path(__file__).parent / "data" / "cochran.latin.txt", sep="\t")
FANO = [[0, 1, 2], [0, 3, 4], [0, 5, 6], [1, 3, 5], [1, 4, 6], [2, 3, 6], [2, 4, 5]]


@pytest.mark.parametrize(("replicates", "factor"), [(2, 0.75), (3, 0.8)])
def test_a_square_alpha_design_is_as_efficient_as_the_lattice(replicates, factor):
    """Yates 1936; Cochran & Cox 1957, ch. 10: square lattice of k^2 treatments in blocks of k, r replicates:
    E = (k + 1)(r - 1) / ((k + 1)(r - 1) + r); k = 5: 0.75 and 0.8."""
    plan = alpha_design(25, 5, replicates, seed=1).reshape(-1, 5)
    meet = concurrences(plan, 25)[np.triu_indices(25, 1)]
    assert set(meet) == {0, 1}
    assert efficiency(plan, 25) == pytest.approx(factor, rel=1e-9)


def test_balanced_incomplete_blocks_have_the_textbook_efficiency():
    """Fano plane, v 7, k 3, lambda 1: E = lambda v / (r k) = 7 / 9; all pairs meet once."""
    assert set(concurrences(FANO, 7)[np.triu_indices(7, 1)]) == {1}
    assert efficiency(FANO, 7) == pytest.approx(7 / 9, rel=1e-12)


@pytest.mark.parametrize(("treatments", "size", "replicates"), [(24, 4, 3), (30, 5, 3), (12, 3, 3), (20, 4, 2)])
def test_alpha_designs_that_exist_as_0_1_are_found(treatments, size, replicates):
    """Patterson & Williams 1976: alpha (0, 1) designs exist for these; resolvable, concurrences in {0, 1}."""
    plan = alpha_design(treatments, size, replicates, seed=7)
    assert all((np.sort(plan[r].ravel()) == np.arange(treatments)).all() for r in range(replicates))
    assert set(concurrences(plan.reshape(-1, size), treatments)[np.triu_indices(treatments, 1)]) <= {0, 1}


def test_a_disconnected_design_has_no_efficiency():
    assert efficiency([[0, 1], [2, 3], [0, 1], [2, 3]], 4) == 0


@pytest.mark.parametrize("seed", range(5))
def test_a_latin_square_is_one(seed):
    """Once in every row and column, by the definition."""
    square = latin_square(6, seed)
    assert all(len(set(line)) == 6 for line in (*square.tolist(), *square.T.tolist()))


def test_a_published_latin_square_is_known_as_one():
    """Cochran & Cox 1957: six operators on a 6 x 6 square of rows and columns."""
    square = LATIN.pivot_table(index="row", columns="col", values="operator", aggfunc="first").to_numpy()
    assert is_latin(square)
    square[0, [0, 1]] = square[0, [1, 0]]
    assert not is_latin(square), "two operators changed places in one row, so two columns repeat"
