"""Where work is spread over workers, if at all. Any engine with a `map` will do, in the way of concurrent.futures."""

import builtins


def over(function, items, engine=None):
    """Results of `function`, in the order of `items`. engine : None (a plain loop) or anything with `.map`."""
    return list((engine or builtins).map(function, items))
