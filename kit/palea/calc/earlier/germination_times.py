"""Version 1 of times to germination."""

from palea.calc.germination.time import times
from palea.calc.germination.timed import TIMES, Timed


class ByPercentiles(Timed):
    """Times of one arm whose intervals are percentiles of the draws, however few dishes there are."""

    on_logs = False


def times_1(intervals, asked, confidence=0.95, replicates=999, seed=1):
    """Version 1 of germination.time.times, with its arguments and shapes.

    Changed since: with fewer than 8 degrees of freedom an interval was made of percentiles of the draws, now it is a t
    interval on logs with their spread; and a primary question was not adjusted for primaries that other recipes answer.
    The later is better because four dishes drawn three at a time never lie beyond the farthest of them: percentiles held
    the true half time in 86 of 100 simulated trials, with two dishes in 48, where 95 were promised (tests/coverage).
    Source: as germination.time.times.
    """
    mine = asked["quantity"].isin(TIMES)
    if "across" in asked:
        mine &= asked["across"].eq("")
    return times(intervals, asked[mine], confidence, replicates, seed, timed_as=ByPercentiles)
