"""Times to germination: t50 of a group and ratios of t50, on batches and on dishes."""

import numpy as np
from study import Study, grid, inside

from palea.calc.germination import arms, batch_times, timed
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.resampling import percentile_interval

VISITS = np.array([3.0, 5, 7, 10, 14, 21, 28])
HALF_TIME, SHAPE, SEEDS, DISHES, DRAWS = 6.0, 4.0, 25, 4, 499
ENDS = np.column_stack([[0, *VISITS], [*VISITS, np.inf]])


def _arm(stream, name, half_time, cell):
    """Dishes of a treatment: dishes and batches move the log of the half time."""
    batches, dishes = cell.get("batches", 1), cell.get("dishes", DISHES)
    slower = np.repeat(half_time * np.exp(stream.normal(0, cell.get("batch_sd", 0.0), batches)), dishes)
    own = slower * np.exp(stream.normal(0, cell["dish_sd"], slower.size))
    by = cell["share"] / (1 + (VISITS / own[:, None]) ** -SHAPE)
    steps = np.diff(by, prepend=0, axis=1)
    counts = stream.multinomial(SEEDS, np.column_stack([steps, 1 - by[:, -1]])).astype(float)
    seen = counts.sum(axis=0) > 0
    units = np.array([f"{name}{i}" for i in range(own.size)])
    labels = np.repeat([f"{name}-{b}" for b in range(batches)], dishes)
    key = {"taxon": "A", "environment": "E", "treatment": name}
    arm = arms.Arm(key, *ENDS[seen].T, counts[:, seen], units, labels, np.full(own.size, float(SEEDS)))
    return timed.Timed(arm, DRAWS, 1, 0.25)


def _asked(stream, cell):
    sides = {("A", "E", name): _arm(stream, name, HALF_TIME * times, cell) for name, times in
             (("a", cell["ratio"]), ("b", 1.0))}
    told = dict.fromkeys(("covers: group", "covers: ratio"))
    if any(side.reason for side in sides.values()):
        return told
    place = batch_times.places(sides)["A", "E"]
    group = place.group("b", "t50", 0.95, "filled")
    told["covers: group"] = inside(HALF_TIME, group.lower, group.upper)
    ends = _ratio(place)
    told["covers: ratio"] = inside(cell["ratio"], *ends)
    if cell["ratio"] == 1 and np.isfinite(ends[0]):
        told["errs"] = not ends[0] <= 1 <= ends[1]
    return told


def _ratio(place):
    """Ends of the interval of a to b."""
    means = place.on_batches("t50", "a", "b")
    if means is not None:
        return np.exp(means.difference("a", "b", t_quantile(0.95, means.df))[1:])
    a, b = place.timed["a"], place.timed["b"]
    with np.errstate(invalid="ignore"):
        drawn = a.drawn["t50"] / b.drawn["t50"]
    return percentile_interval(drawn, 0.95, a.arm.df + b.arm.df, logged=True)


BATCHES = Study(
    "t50-batches", "t50 and its ratio, judged on treatment batches of four dishes",
    "Log-logistic times (half time 6 d, shape 4), seven visits, dishes of 25 seeds of which a share germinates. Batches "
    "move the log of the half time by a normal deviation of batch_sd.",
    (
        *grid(batches=(4,), batch_sd=(0.02, 0.1), dish_sd=(0.03,), share=(0.2, 0.7), ratio=(1.0, 1.3)),
        *grid(batches=(2, 8), batch_sd=(0.1,), dish_sd=(0.03,), share=(0.7,), ratio=(1.0,)),
    ), _asked,
)  # fmt: skip
ON_DISHES = Study(
    "t50-dishes", "t50 and its ratio, judged on the dishes of one batch",
    "As above with one batch a treatment: dishes are drawn again (499 draws), with percentiles, or below 8 degrees of "
    "freedom a t interval on logs. Each dish moves the log of the half time by a normal deviation of dish_sd.",
    (
        *grid(dishes=(2, 4, 6, 10), dish_sd=(0.0, 0.1), share=(0.7,), ratio=(1.0,)),
        *grid(dishes=(4, 10), dish_sd=(0.1,), share=(0.2,), ratio=(1.0, 1.3)),
    ), _asked, 400,
)  # fmt: skip
STUDIES = (BATCHES, ON_DISHES)
