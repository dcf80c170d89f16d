"""Pictures of the rows that a seeder made and of plots where they lie, laid out from views for the figures."""

import pandas as pd

from palea import schema
from palea.analyses.run import names_of
from palea.derived import field_counts, handled
from palea.derived.facts import Facts
from palea.errors import PaleaError
from palea.figures import handling, plots
from palea.words import naming, numbers
from palea.words.prose import counted, together

PERCENT = 100


def row_strip(package, taxon):
    """The rows of all seeder runs of a species, treated seed above untreated. PaleaError where no row was counted."""
    facts, names = Facts(package), names_of(package)
    stretches = strips(facts, taxon)
    if stretches.empty:
        msg = f"No row sown with {names.get(taxon, taxon)} was counted. Count seeds along a row after a seeder run."
        raise PaleaError(msg)
    each = stretches.groupby("treatment", sort=False).agg(runs=("run", "nunique"), mean=("per_m", "mean"), sd=("per_m", "std"))
    told = [
        f"{naming.called(names, t)}: {counted(r.runs, 'run')}, {numbers.plain(r.mean, 1)} seeds per metre on average,"
        f" standard deviation between metres {numbers.plain(r.sd, 1)}"
        for t, r in zip(each.index, each.itertuples(), strict=True)
    ]
    return handling.draw(stretches, names, f"Rows sown with {names.get(taxon, taxon)}", together(*told))


def strips(facts, taxon):
    """One row a counted stretch, as `palea.figures.handling` draws it. Untreated seed stands last."""
    runs = facts[handled.seeder_runs]
    runs = runs[runs["taxon"].eq(taxon)]
    counts = facts["handling_counts"]
    mine = counts[counts["taxon_id"].eq(taxon).fillna(value=False) & counts["seeds"].notna()]
    both = mine.merge(runs[["part", "run", "treatment"]], left_on="handling_id", right_on="part")
    length = both["length_m"].fillna(0.0)
    per_m = (both["seeds"] / length).where(length > 0)
    start = both["start_m"].fillna((both["place_no"] - 1) * length)
    found = pd.DataFrame({
        "treatment": both["treatment"], "run": both["part"], "start_m": start, "end_m": start + length, "per_m": per_m,
    })  # fmt: skip
    role = facts["treatments"].drop_duplicates("treatment_id").set_index("treatment_id")["role"]
    control = found["treatment"].map(role).isin(["untouched"])
    order = list(facts["treatments"]["treatment_id"])
    rank = found["treatment"].map({t: i for i, t in enumerate(order)})
    return found.assign(control=control, rank=rank).sort_values(
        ["control", "rank", "run", "start_m"], kind="stable").drop(columns=["control", "rank"]).reset_index(drop=True)  # fmt: skip


def plot_map(package, trial, quantity="standing"):
    """The plots of a trial where they lie, shaded by a share counted in them. PaleaError where places are not written down."""
    facts, names = Facts(package), names_of(package)
    units = facts["units"]
    mine = units[units["trial_id"].eq(trial) & units["grid_row"].notna() & units["grid_column"].notna()]
    if mine.empty:
        msg = f"No plot of {trial} has a row and a column. Fill in both in units; `palea plan` does it for a new trial."
        raise PaleaError(msg)
    shares = facts[field_counts.shares]
    shares = shares[shares["unit"].isin(mine["unit_id"]) & shares["quantity"].eq(quantity)]
    base = next(iter(shares["denominator"]), "")
    shares = shares[shares["denominator"].eq(base)].drop_duplicates("unit").set_index("unit")
    value = mine["unit_id"].map(PERCENT * shares["k"] / shares["n"]).astype(float)
    frame = pd.DataFrame({
        "unit": mine["unit_id"], "treatment": mine["treatment_id"], "block": mine["block"].fillna(""),
        "row": mine["grid_row"].astype(int), "column": mine["grid_column"].astype(int), "value": value.to_numpy(),
        "told": [f"{v:.0f} %" if v == v else "" for v in value],
    })  # fmt: skip
    axis = naming.axis(quantity, base, "%") if base else schema.word("quantity", quantity)["title"]
    each = frame.groupby("treatment", sort=False)["value"].mean()
    told = [f"{counted(len(frame), 'plot')} in {counted(frame['block'].nunique(), 'block')}"]
    told += [f"{naming.called(names, t)}: {numbers.plain(v, 1)} % on average" for t, v in each.items() if v == v]
    return plots.draw(frame, f"Plots of {trial}", axis, together(*told))
