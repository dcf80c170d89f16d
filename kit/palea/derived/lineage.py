"""Which lot came of which: the graph that the movements of seed draw."""

import pandas as pd

from palea.derived.lookup import nothing, stacked, texts
from palea.derived.view import view

STEPS_AT_MOST = 64  # a lineage deeper than this is a loop; the rule on loops says so


@view(movements="lot_id kind run_id counterpart_lot_id moved_at")
def parents(movements):
    """One row a lot and lot that it was made from: lot, parent, run ("" for a portion moved over)."""
    if movements.empty:
        return nothing(text="lot parent run")
    drawn = movements[movements["kind"].eq("drawn for run")][["run_id", "lot_id"]].rename(columns={"lot_id": "parent"})
    made = movements[movements["kind"].eq("made")][["run_id", "lot_id"]].rename(columns={"lot_id": "lot"})
    by_run = made.merge(drawn, on="run_id", how="inner").rename(columns={"run_id": "run"})
    moved = movements[movements["kind"].eq("moved to lot")]
    by_hand = pd.DataFrame({"lot": moved["counterpart_lot_id"], "parent": moved["lot_id"], "run": ""})
    both = stacked([by_run[["lot", "parent", "run"]], by_hand]).dropna(subset=["lot", "parent"])
    return both.drop_duplicates().reset_index(drop=True)


@view(parents)
def ancestry(parents):
    """One row a lot and each lot before it, at any distance: lot, ancestor, steps. Rows stop where a loop begins."""
    if parents.empty:
        return nothing(text="lot ancestor", whole="steps")
    step = parents[["lot", "parent"]].drop_duplicates().rename(columns={"parent": "ancestor"}).assign(steps=1)
    found, far = [step], step
    links = step[["lot", "ancestor"]].rename(columns={"lot": "ancestor", "ancestor": "further"})
    for _ in range(STEPS_AT_MOST):
        far = far.merge(links, on="ancestor")
        if far.empty:
            break
        far = far.assign(ancestor=far["further"], steps=far["steps"] + 1).drop(columns="further").drop_duplicates()
        found.append(far)
    return pd.concat(found).drop_duplicates(["lot", "ancestor"]).reset_index(drop=True)


@view(ancestry, parents, lots="lot_id")
def origins(ancestry, parents, lots):
    """One row a lot and received lot behind it (itself, where nothing is before it): lot, origin."""
    itself = pd.DataFrame({"lot": lots["lot_id"], "ancestor": lots["lot_id"]})
    all_before = pd.concat([itself, ancestry[["lot", "ancestor"]]])
    first = all_before[~all_before["ancestor"].isin(parents["lot"])]
    return first.rename(columns={"ancestor": "origin"}).reset_index(drop=True)


@view(ancestry, parents, lots="lot_id")
def history(ancestry, parents, lots):
    """One row a lot and run behind it: lot, run, steps (0: the run that made it, or made what it is a portion of)."""
    if parents.empty:
        return nothing(text="lot run", whole="steps")
    itself = pd.DataFrame({"lot": lots["lot_id"], "ancestor": lots["lot_id"], "steps": 0})
    runs = parents[parents["run"].ne("")][["lot", "run"]].rename(columns={"lot": "ancestor"})
    found = pd.concat([itself, ancestry]).merge(runs, on="ancestor")
    return found.sort_values("steps", kind="stable").drop_duplicates(["lot", "run"])[["lot", "run", "steps"]]


@view(history, lots="lot_id")
def batches(history, lots):
    """One row a lot: lot, batch. A batch is the last processing run behind a lot.

    Seed that no run has touched has no such run: there each portion drawn for itself is its own batch, so that an
    untreated arm carries the same rung as a treated one. Portions of one run's product share that run.
    """
    last = history.drop_duplicates("lot").set_index("lot")["run"]
    return pd.DataFrame({"lot": lots["lot_id"], "batch": texts(lots["lot_id"], last).fillna(lots["lot_id"])})


def looped(parents):
    """Lots that are among their own ancestors, as a list of ids."""
    edges = parents[["lot", "parent"]].drop_duplicates()
    while True:
        # What is nobody's child cannot be on a loop; taking such lots away until none is left leaves only loops.
        kept = edges[edges["parent"].isin(edges["lot"])]
        kept = kept[kept["lot"].isin(kept["parent"])]
        if len(kept) == len(edges):
            return sorted(set(kept["lot"]))
        edges = kept
