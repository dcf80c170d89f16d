"""What visits to plots and rows say, unit by unit: who came up, stood, died, was taken out."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived.counting import sheets
from palea.derived.lookup import among, nothing, texts
from palea.derived.view import view


@view(
    sheets,
    units="unit_id trial_id kind treatment_id lot_id sown_n seeds_each",
    visits="visit_id thinning_rule",
    lots="lot_id taxon_id",
)
def walked(sheets, units, visits, lots):
    """One row a field unit, taxon and visit, in time: unit, trial, kind, visit, at, sown, thinned, and a column an outcome.

    Outcomes are emerged, standing, died, removed, kept (nan: not counted). `line` is the row in counts of its first
    count. `stood_before` is the last known standing before this visit (those kept, after a thinning), `came_since` all that
    came up since then (nan where a visit did not look), `after_thinning` whether the unit was thinned before. `own`: the
    taxon is that of the unit's lot; wild seedlings of another are counted beside and kept apart.
    """
    outcomes = schema.words("outcome", stage="field")
    outdoors = among(sheets["outcome"], outcomes)
    if not outdoors.any():
        return _NOBODY.assign(**dict.fromkeys(outcomes, 0.0))
    known = units.drop_duplicates("unit_id").set_index("unit_id")
    mine = sheets[outdoors].reset_index()
    looks = ["unit", "taxon", "visit", "at"]
    wide = _sums(mine, [*looks, "outcome"]).unstack().reindex(columns=outcomes).astype(np.float64)  # noqa: PD010 - a plain reshape
    first = mine.groupby(looks)["line"].min()
    told = wide.assign(line=first).reset_index().sort_values(["unit", "taxon", "at", "line"], kind="stable")
    rule = visits.drop_duplicates("visit_id").set_index("visit_id")["thinning_rule"]
    told = told.assign(
        trial=texts(told["unit"], known["trial_id"]), kind=texts(told["unit"], known["kind"]),
        treatment=texts(told["unit"], known["treatment_id"]), lot=texts(told["unit"], known["lot_id"]),
        sown=told["unit"].map(known["sown_n"]).astype(float), seeds_each=told["unit"].map(known["seeds_each"]).astype(float),
        thinned=texts(told["visit"], rule), group=told["unit"] + " " + told["taxon"].fillna(""),
    )  # fmt: skip
    taxon = texts(told["lot"], lots.set_index("lot_id")["taxon_id"])
    own = taxon.isna() | taxon.eq(told["taxon"]).fillna(value=False)
    return _with_before(told.assign(own=own.astype(bool))).reset_index(drop=True)


_NOBODY = nothing(
    text="unit taxon visit trial kind treatment lot thinned group", moment="at", truth="own after_thinning", whole="line number",
    number="sown seeds_each stood_before came_since",
)  # fmt: skip


def _sums(counts, keys):
    """Sum of the counts of each group, and none where one of them is missing: what is not known adds up to nothing known."""
    groups = counts.groupby(keys)["count"]
    return groups.sum()[groups.count().eq(groups.size())]


def _with_before(told):
    """What was known of each unit before this visit: its last standing, and all that came up since."""
    by = told.groupby("group", sort=False)
    left = told["kept"].fillna(told["standing"])  # after a thinning those that were kept are what stands
    before = left.groupby(told["group"]).ffill().groupby(told["group"]).shift()
    known = left.notna().groupby(told["group"]).cumsum()
    stretch = known.groupby(told["group"]).shift().fillna(0)  # visits since the last known standing share a number
    blank = told["emerged"].isna()
    came = told["emerged"].fillna(0).groupby([told["group"], stretch]).cumsum()
    unseen = blank.groupby([told["group"], stretch]).cummax()
    thinned = told["kept"].notna().groupby(told["group"]).cumsum().groupby(told["group"]).shift().fillna(0).gt(0)
    return told.assign(
        stood_before=before, came_since=came.where(~unseen), after_thinning=thinned, number=by.cumcount(),
    )  # fmt: skip


@view(
    units="unit_id trial_id kind treatment_id lot_id block environment_id parent_unit_id sown_n seeds_each placed_at "
    "status area_m2 "
    "row_length_m",
    lots="lot_id taxon_id",
    environments="environment_id site_id",
)
def plots(units, lots, environments):
    """One row a sown or unsown plot or row that is in use, with its taxon, site, block and main plot."""
    kinds = schema.words("unit_kind", stage="field")
    out = schema.words("unit_status", counts=False)
    kept = units[units["kind"].isin(kinds) & units["sown_n"].notna() & ~units["status"].isin(out)]
    return pd.DataFrame(
        {
            "unit": kept["unit_id"], "trial": kept["trial_id"], "kind": kept["kind"],
            "treatment": kept["treatment_id"].fillna(""), "lot": kept["lot_id"].fillna(""),
            "taxon": texts(kept["lot_id"], lots.set_index("lot_id")["taxon_id"]).fillna(""),
            "block": kept["block"].fillna(""), "main_plot": kept["parent_unit_id"].fillna(""),
            "site": texts(
                kept["environment_id"], environments.drop_duplicates("environment_id").set_index("environment_id")["site_id"]
            ).fillna(""),
            "sown": kept["sown_n"], "seeds_each": kept["seeds_each"], "placed_at": kept["placed_at"],
        }
    )  # fmt: skip
