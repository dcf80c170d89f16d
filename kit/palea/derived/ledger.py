"""What the movements of seed add up to: what a lot holds at every moment, what went into a run and came out."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.derived.lookup import nothing, numbers
from palea.derived.spoken import sums
from palea.derived.view import view


@view(movements="movement_id lot_id moved_at kind mass_g seed_units counterpart_lot_id")
def entries(movements):
    """One row a movement and lot that it touches, signed: lot, earliest, latest, mass_g, seed_units, line.

    A transfer is one row of the table and two here. `line` is the index of the row in movements.
    """
    if movements.empty:
        return nothing(whole="line", text="lot kind", number="sign mass_g seed_units", moment="earliest latest")
    sign = numbers(
        movements["kind"], {w: schema.word("movement_kind", w)["sign"] for w in schema.words("movement_kind")}
    )
    own = _entry(movements, movements["lot_id"], sign)
    arrived = movements[movements["kind"].isin(schema.words("movement_kind", counterpart_sign=1))]
    other = _entry(arrived, arrived["counterpart_lot_id"], 1.0)
    both = pd.concat([own, other])
    return both[both["sign"].ne(0)].dropna(subset=["lot"]).reset_index(drop=True)


def _entry(movements, lot, sign):
    return pd.DataFrame(
        {
            "line": movements.index,
            "lot": lot,
            "kind": movements["kind"],
            "sign": sign,
            "earliest": earliest(movements["moved_at"]),
            "latest": latest(movements["moved_at"]),
            "mass_g": movements["mass_g"] * sign,
            "seed_units": movements["seed_units"] * sign,
        }
    )


@view(entries)
def held(entries):
    """One row an entry, in time: what the lot held after it at most (mass_after_g, units_after), nan once unknown.

    Seed that came in counts from its earliest moment and seed that went out from its latest, so a lot is only called
    overdrawn where no order of the partial dates could have filled it.
    """
    when = np.where(entries["sign"].gt(0), entries["earliest"], entries["latest"])
    timed = entries.assign(when=when, out_last=entries["sign"].lt(0)).dropna(subset=["when"])
    timed = timed.sort_values(["lot", "when", "out_last", "line"], kind="stable")
    by_lot = timed.groupby("lot", sort=False)
    return timed.assign(
        mass_after_g=by_lot["mass_g"].cumsum().where(_known(timed, "mass_g")),
        units_after=by_lot["seed_units"].cumsum().where(_known(timed, "seed_units")),
    )


def _known(timed, column):
    """Whether everything up to here was weighed (or counted): one blank makes what follows unknown."""
    return timed[column].notna().groupby(timed["lot"]).cummin()


@view(entries)
def stock(entries):
    """One row a lot: what it holds by the book after all movements (mass_g, seed_units); nan where one was not weighed."""
    return sums(entries.groupby("lot")[["mass_g", "seed_units"]]).reset_index()


@view(movements="run_id lot_id kind mass_g moisture_pct")
def run_masses(movements):
    """One row a run: dry matter of seed that went in and came out, g, as far as weighed (nan where one was not).

    Water contents enter where they were read; a mass without one is taken as it lay on the balance, and `moist` says so.
    """
    moisture = movements["moisture_pct"]
    dry = movements.assign(dry_g=movements["mass_g"] * (1 - moisture.fillna(0) / 100), moist=moisture.isna())
    went_in = _of_runs(dry[dry["kind"].eq("drawn for run")]).add_suffix("_in")
    came_out = _of_runs(dry[dry["kind"].isin(["made", "returned"]) & dry["run_id"].notna()]).add_suffix("_out")
    return went_in.join(came_out, how="inner").reset_index().rename(columns={"run_id": "run"})


def _of_runs(dry):
    by_run = dry.groupby("run_id")
    return sums(by_run[["dry_g", "mass_g"]]).assign(moist=by_run["moist"].any())


@view(run_steps="run_id amount unit material_id action", materials="material_id density_g_ml")
def run_additions(run_steps, materials):
    """One row a run: grams of material added in all, nan where an amount cannot be told in grams."""
    density = numbers(run_steps["material_id"], materials.set_index("material_id")["density_g_ml"])
    to_g, to_ml = (numbers(run_steps["unit"], _in_base(dimension)) for dimension in ("mass", "volume"))
    added = run_steps[run_steps["material_id"].notna()].index
    grams = (run_steps["amount"] * to_g).fillna(run_steps["amount"] * to_ml * density)
    told = pd.DataFrame({"run": run_steps.loc[added, "run_id"], "added_g": grams.loc[added]})
    return sums(told.groupby("run", sort=False)["added_g"]).reset_index()


def _in_base(dimension):
    """{unit: what one of it is in the base unit of the dimension} (g for mass, mL for volume)."""
    return {unit: schema.word("unit", unit).get("in_base") for unit in schema.words("unit", dimension=dimension)}


@view(entries)
def arrivals(entries):
    """One row a lot: since, the first moment at which any of its seed can have come; a lot with an undated arrival is not there."""
    came = entries[entries["sign"].gt(0)]
    by_lot = came.groupby("lot", sort=False)["earliest"]
    return pd.DataFrame({"since": by_lot.min()})[~came["earliest"].isna().groupby(came["lot"], sort=False).any()].reset_index()


@view(entries, movements="movement_id lot_id moved_at kind mass_g moisture_pct")
def weighings(entries, movements):
    """One row a weighing of a lot: lot, mass_g, least_g and most_g by the book, and the same as dry matter; nan where not known.

    What surely lay there before is counted in full. Of what may have moved before or after the weighing (dates known to
    the day or month) what came in is in most_g and what went out is in least_g, so the book is a span. The index is that
    of movements.
    """
    weighed = movements[movements["kind"].eq("weighed").fillna(value=False) & movements["mass_g"].notna()]
    scale = pd.DataFrame({
        "weighing": weighed.index, "lot": weighed["lot_id"], "from": earliest(weighed["moved_at"]),
        "to": latest(weighed["moved_at"]), "dry": weighed["moisture_pct"].notna(),
    })  # fmt: skip
    moisture = numbers(entries["line"], movements["moisture_pct"])
    book = entries.assign(dry_g=entries["mass_g"] * (1 - moisture / 100))
    both = scale.merge(book[["lot", "earliest", "latest", "sign", "mass_g", "dry_g"]], on="lot")
    both = both[~(both["earliest"] > both["to"])]
    sure = both["latest"] < both["from"]
    told = {"mass_g": weighed["mass_g"], "dry_g": weighed["mass_g"] * (1 - weighed["moisture_pct"] / 100)}
    found = pd.DataFrame({"lot": weighed["lot_id"], **told})
    for column in ("mass_g", "dry_g"):
        for name, counts in (("least", sure | both["sign"].lt(0)), ("most", sure | both["sign"].gt(0))):
            spans = sums(both[column].where(counts, 0.0).groupby(both["weighing"]))
            found[f"{name}_{column}"] = spans.reindex(found.index)
    return found
