"""How the time of a calculation grows with dishes or plots, with visits and with draws: no steeper than in proportion.

The demo's own views are made larger: the same dishes again under other names; every interval between two visits halved,
and its seeds with it. The peer is the time of the small one times how many times larger the other is.
"""

import numpy as np
import pandas as pd
import timing

LARGER = (1, 4, 16)
DRAWS = (99, 999, 9_999)
VISITS = (1, 2, 4)
STEEPER = 1.3
ASKED = (
    ("germination.final", "G1"), ("germination.time", "G1"), ("germination.curve", "G1"), ("germination.water", "G3"),
    ("emergence.final", "F1"), ("survival.curve", "F1"), ("survival.compare", "F1"), ("survival.rows", "F2"),
)  # fmt: skip


def more_units(frame, times):
    """The same units again under other names; a frame that names none stays as it is."""
    if not isinstance(frame, pd.DataFrame) or "unit" not in frame:
        return frame
    others = [frame.assign(unit=frame["unit"] + f" copy {nth}") for nth in range(1, times)]
    return pd.concat([frame, *others], ignore_index=True)


def more_visits(frame, times):
    """Intervals cut in two, again and again, the seeds shared between the halves."""
    if not isinstance(frame, pd.DataFrame) or not {"left", "right", "count"} <= set(frame.columns):
        return frame
    for _ in range(int(np.log2(times))):
        closed = np.isfinite(frame["right"].to_numpy(float)) & (frame["count"].to_numpy(float) > 1)
        halves, middle = frame[closed], (frame["left"] + frame["right"])[closed] / 2
        early = halves.assign(right=middle, count=halves["count"] // 2)
        late = halves.assign(left=middle, count=halves["count"] - halves["count"] // 2)
        frame = pd.concat([frame[~closed], early, late], ignore_index=True)
    return frame


def run():
    from palea.analyses import catalogue
    from palea.analyses.run import Subjects
    from palea.shipped import folder
    from palea.tables.opening import open_package

    subjects = Subjects(open_package(folder("datapackages_demo") / "journey"))
    rows = []
    for recipe_id, trial in ASKED:
        recipe, facts = catalogue.find(recipe_id), subjects[trial]
        frames, options = {view.name: facts[view] for view in recipe.reads}, recipe.settle({})
        units = next(f for f in frames.values() if isinstance(f, pd.DataFrame) and "unit" in f)["unit"].nunique()
        rows.append(_curve(f"{recipe_id}: units", recipe, options, {
            times * units: {name: more_units(f, times) for name, f in frames.items()} for times in LARGER}))
        if any(more_visits(f, 2) is not f for f in frames.values()):
            rows.append(_curve(f"{recipe_id}: visits", recipe, options, {
                times: {name: more_visits(f, times) for name, f in frames.items()} for times in VISITS}))
        if "replicates" in options:
            rows.append(_curve(f"{recipe_id}: draws", recipe, options, dict.fromkeys(DRAWS, frames), of="replicates"))
    return rows


def _curve(name, recipe, options, sizes, of=""):
    """One line: the largest size beside the smallest times as many."""
    took = {
        size: timing.core_seconds(lambda f=frames, o=options | ({of: size} if of else {}): recipe.compute(**f, **o), runs=2)[0]
        for size, frames in sizes.items()
    }
    first, *_, last = took
    peer_s = took[first] * last / first
    shown = ", ".join(f"{size}: {1000 * s:.0f} ms" for size, s in took.items())
    return {
        "name": name, "ours_s": took[last], "peer_s": peer_s, "ratio": took[last] / peer_s,
        "wanted": f"at most {STEEPER:g} times in proportion", "met": took[last] <= STEEPER * peer_s, "note": shown,
    }  # fmt: skip
