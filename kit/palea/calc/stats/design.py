"""Layouts of treatments on units, drawn from a seed, and what makes a layout balanced.

All chance comes from palea.calc.stats.chance, so a seed and a version name the same layout for ever. A change that
would move a single unit is a new version.
"""

import itertools

import numpy as np

from palea.calc.stats.chance import stream, uniforms
from palea.errors import UnfitValue

VERSION = 1
MOST_CHANGES = 1000
MOST_TRIES = 40  # generating arrays looked at for an alpha design


def shuffled(count, seed, *purpose):
    """A permutation of 0 .. count - 1, every one as likely: the order of as many even draws.

    >>> sorted(shuffled(4, 1, "doc").tolist())
    [0, 1, 2, 3]
    """
    return np.argsort(uniforms(stream(seed, "layout", *map(str, purpose)), count), kind="stable")


def completely_randomised(repeats, seed):
    """Treatment of each unit. repeats : (t,) units of each treatment, 1 or more. Returns (units,) codes 0 .. t - 1."""
    repeats = np.atleast_1d(np.asarray(repeats, int))
    if (repeats < 1).any():
        msg = f"repeats[{int((repeats < 1).argmax())}] is {repeats.min()}; each treatment needs 1 unit or more."
        raise UnfitValue(msg)
    return np.repeat(np.arange(repeats.size), repeats)[shuffled(repeats.sum(), seed, "units")]


def complete_blocks(treatments, blocks, seed):
    """Every treatment once in every block, each block in an order of its own: (blocks, treatments) codes.

    Source: Fisher 1935, The Design of Experiments; Cochran & Cox 1957, Experimental Designs, ch. 4.
    """
    _at_least(blocks, 1, "blocks")
    return np.stack([shuffled(treatments, seed, "block", block) for block in range(blocks)])


def latin_square(treatments, seed):
    """Every treatment once in every row and once in every column: (t, t) codes.

    The cyclic square with rows, columns and treatments put in random order: valid, though not every square can come.
    Source: Fisher & Yates 1963, Statistical Tables, introduction to table XV (from memory).
    """
    _at_least(treatments, 2, "treatments")
    rows, columns, names = (shuffled(treatments, seed, "square", part) for part in ("rows", "columns", "names"))
    return names[(rows[:, None] + columns[None, :]) % treatments]


def split_plot(mains, subs, blocks, seed):
    """Main treatments in random order in each block, in each of their plots all sub treatments in random order.

    Returns two arrays (blocks, mains, subs): main codes and sub codes, in order of place.
    Source: Cochran & Cox 1957, Experimental Designs, ch. 7.
    """
    _at_least(blocks, 1, "blocks")
    main = np.stack([shuffled(mains, seed, "main", block) for block in range(blocks)])
    sub = [[shuffled(subs, seed, "sub", block, place) for place in range(mains)] for block in range(blocks)]
    return np.broadcast_to(main[:, :, None], (blocks, mains, subs)).copy(), np.array(sub)


def alpha_design(treatments, block_size, replicates, seed):
    """Resolvable incomplete blocks in which two treatments meet as evenly as can be found.

    treatments : v, a multiple of the block size k; s = v / k blocks a replicate.  replicates : r, 2 or more.
    Returns (r, s, k) codes: every replicate holds each treatment once. Among random generating arrays, each improved
    one element at a time, the one with the least sum of squared concurrences is taken; where two treatments still meet
    two times more than others, treatments change places within a replicate as long as that evens it out. Treatments,
    blocks and places are then put in random order.
    Raises UnfitValue where v is no multiple of k or k is not between 2 and v / 2.
    Source: Patterson & Williams 1976, Biometrika 63:83.
    """
    blocks, rest = divmod(treatments, block_size)
    if rest or block_size < 2 or blocks < 2:
        msg = (
            f"{treatments} treatments do not fill blocks of {block_size}: the number must be a multiple of the block "
            f"size, and 2 blocks or more a replicate. Block sizes that do: {_sizes(treatments)}."
        )
        raise UnfitValue(msg)
    _at_least(replicates, 2, "replicates")
    array = _generating_array(blocks, block_size, replicates, seed)
    names = shuffled(treatments, seed, "alpha", "names")
    plan = names[_evened(_developed(array, blocks), treatments)]
    for replicate in range(replicates):
        plan[replicate] = plan[replicate][shuffled(blocks, seed, "alpha", "blocks", replicate)]
        for block in range(blocks):
            order = shuffled(block_size, seed, "alpha", "places", replicate, block)
            plan[replicate, block] = plan[replicate, block][order]
    return plan


def _generating_array(blocks, block_size, replicates, seed):
    """(r, k) elements 0 .. s - 1, first row and column 0, from random starts improved element by element."""
    shape = (replicates - 1, block_size - 1)
    draws = uniforms(stream(seed, "layout", "alpha", "array"), (MOST_TRIES, *shape))
    found, least = None, np.inf
    goal = _bound(blocks, block_size, replicates)
    for start in (draws * blocks).astype(int):
        array = np.zeros((replicates, block_size), int)
        array[1:, 1:] = start
        array, cost = _improved(array, blocks)
        if cost < least:
            found, least = array, cost
        if least <= goal:
            break
    return found


def _improved(array, blocks):
    """Each element set to the value that leaves meetings most even, over and over until none helps."""
    cost, better = _unevenness(array, blocks), True
    while better:
        better = False
        for at in itertools.product(range(1, array.shape[0]), range(1, array.shape[1])):
            kept = array[at]
            costs = [_unevenness(_with(array, at, value), blocks) for value in range(blocks)]
            if min(costs) < cost:
                array, cost, better = _with(array, at, int(np.argmin(costs))), min(costs), True
            else:
                array[at] = kept
    return array, cost


def _with(array, at, value):
    changed = array.copy()
    changed[at] = value
    return changed


def _unevenness(array, blocks):
    """Sum of squares of how often differences of two columns repeat: treatments meet once for each repeat."""
    first, second = np.triu_indices(array.shape[1], 1)
    differences = (array[:, first] - array[:, second]) % blocks
    times = np.zeros((blocks, first.size), int)
    np.add.at(times, (differences, np.arange(first.size)), 1)
    return int((times**2).sum())


def _bound(blocks, block_size, replicates):
    """The least that unevenness can be: repeats spread as evenly as whole numbers allow."""
    each, more = divmod(replicates, blocks)
    pairs = block_size * (block_size - 1) // 2
    return pairs * ((blocks - more) * each**2 + more * (each + 1) ** 2)


def _developed(array, blocks):
    """Blocks of a generating array: element a of column j in block i of its replicate is (a + i) mod s + j s."""
    turned = (array[:, None, :] + np.arange(blocks)[None, :, None]) % blocks
    return turned + blocks * np.arange(array.shape[1])


def _evened(plan, treatments):
    """Treatments of a replicate change blocks, the best change first, until none lowers the sum of squared meetings."""
    plan = plan.copy()
    replicates, _, size = plan.shape
    for _ in range(MOST_CHANGES):
        meet = concurrences(plan.reshape(-1, size), treatments)
        np.fill_diagonal(meet, 0)
        if np.ptp(meet[np.triu_indices(treatments, 1)]) <= 1:
            break
        gains = [_gain(plan[replicate], meet) for replicate in range(replicates)]
        replicate = int(np.argmin([gain.min() for gain in gains]))
        if gains[replicate].min() >= 0:
            break
        one, other = np.unravel_index(gains[replicate].argmin(), gains[replicate].shape)
        flat = plan[replicate].reshape(-1)
        flat[one], flat[other] = flat[other], flat[one]
    return plan


def _gain(replicate, meet):
    """Change of the sum of squared meetings if places i and j of one replicate change treatments: (v, v)."""
    flat = replicate.reshape(-1)
    block = np.repeat(np.arange(len(replicate)), replicate.shape[1])
    with_block = meet[flat][:, replicate].sum(axis=2)  # meetings of the treatment at place i with all of a block
    at, pairs = with_block[:, block], meet[np.ix_(flat, flat)]
    own = with_block[np.arange(flat.size), block]
    gain = 2 * (at - pairs - own[:, None]) + 2 * (at - pairs - own[:, None]).T + 4 * (replicate.shape[1] - 1)
    return np.where(block[:, None] == block[None, :], 0, gain)


def concurrences(blocks, treatments):
    """How often two treatments lie in one block: (t, t), units of each treatment on the diagonal.

    blocks : (b, k) codes, one row a block.

    >>> concurrences([[0, 1], [1, 2]], 3).tolist()
    [[1, 1, 0], [1, 2, 1], [0, 1, 1]]
    """
    blocks = np.asarray(blocks, int)
    incidence = np.zeros((treatments, blocks.shape[0]), int)
    np.add.at(incidence, (blocks, np.arange(blocks.shape[0])[:, None]), 1)
    return incidence @ incidence.T


def efficiency(blocks, treatments):
    """Average efficiency of treatment differences against complete blocks of the same size: 0 (not connected) to 1.

    The harmonic mean of the canonical efficiency factors; treatments equally often.
    Source: Patterson & Williams 1976; John & Williams 1995, Cyclic and Computer Generated Designs (from memory).

    >>> round(efficiency([[0, 1], [1, 2], [2, 0]], 3), 4)
    0.75
    """
    meet = concurrences(blocks, treatments)
    replicates, size = meet[0, 0], np.asarray(blocks).shape[1]
    information = np.eye(treatments) - meet / (replicates * size)
    factors = np.sort(np.linalg.eigvalsh(information))[1:]
    return float(factors.size / np.sum(1 / factors)) if factors[0] > 1e-9 else 0.0


def is_latin(square):
    """Whether every code of a square array lies once in every row and column."""
    square = np.asarray(square)
    names = np.unique(square)
    whole = square.ndim == 2 and square.shape[0] == square.shape[1] == names.size
    return bool(whole and all((np.sort(line) == names).all() for line in (*square, *square.T)))


def _sizes(treatments):
    sizes = [str(k) for k in range(2, treatments // 2 + 1) if treatments % k == 0]
    return ", ".join(sizes) or "none, the number is prime; add a treatment"


def _at_least(value, least, name):
    if value < least:
        msg = f"{name} is {value}; allowed is {least} or more."
        raise UnfitValue(msg)
