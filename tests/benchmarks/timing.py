"""The best of several runs: what the machine can do, not what else it was doing."""

import time


def best_of(function, runs=7, at_least_s=0.02):
    """Seconds of one call, the least of `runs` tries; short calls are repeated within a try."""
    function()
    start = time.perf_counter()
    function()
    repeats = max(1, int(at_least_s / max(time.perf_counter() - start, 1e-7)))
    tries = []
    for _ in range(runs):
        start = time.perf_counter()
        for _ in range(repeats):
            function()
        tries.append((time.perf_counter() - start) / repeats)
    return min(tries)


def core_seconds(function, runs=3):
    """(seconds of one core of one call, what it gave), the least of `runs` tries: other work matters less than by the clock."""
    return long_call(function, runs, clock=time.process_time)


def long_call(function, runs=3, before=0, clock=time.perf_counter):
    """(seconds of one call, what it gave), the least of `runs` tries. before : calls not counted, in which a process gets warm."""
    for _ in range(before):
        function()
    tries = []
    for _ in range(runs):
        start = clock()
        found = function()
        tries.append(clock() - start)
    return min(tries), found
