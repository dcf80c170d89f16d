"""How many seed units a run got and gave, by number: from counts where units were counted, else from mass and TSW."""

import pandas as pd

from palea import schema
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import sums
from palea.derived.tests_of_lots import PER, counted, share_of, thousand
from palea.derived.view import view


@view(thousand)
def unit_masses(thousand):
    """One row a lot: tsw_g, mean of its tests of the mass of units."""
    return thousand.groupby("lot", sort=False)["tsw_g"].mean().reset_index()


@view(units="lot_id seeds_each", lots="lot_id taxon_id seed_unit")
def one_seeded(units, lots):
    """One row a taxon and seed unit that is known to hold one seed: wherever it was sown, seeds_each says 1."""
    kinds = lots.set_index("lot_id")[["taxon_id", "seed_unit"]]
    sown = units.dropna(subset=["lot_id", "seeds_each"])
    told = pd.DataFrame({c: texts(sown["lot_id"], kinds[c]) for c in kinds}).assign(one=sown["seeds_each"].eq(1))
    alone = told.groupby(["taxon_id", "seed_unit"])["one"].all()
    return alone[alone].reset_index()[["taxon_id", "seed_unit"]]


@view(
    unit_masses, counted, one_seeded,
    runs="run_id kind", movements="run_id lot_id kind mass_g seed_units", lots="lot_id taxon_id seed_unit fraction",
)  # fmt: skip
def recovery(unit_masses, counted, one_seeded, runs, movements, lots):
    """One row a run: units_in, filled_in, seeds_out, filled_out; nan where one lot of it was neither counted nor weighed
    with a TSW, filled_* also where fill was not tested; `single` where each unit put in holds one seed at most.
    """
    of_lot = lots.drop_duplicates("lot_id").set_index("lot_id")
    filled = share_of(counted, "fill", ("filled",))
    rows = movements[movements["run_id"].isin(runs["run_id"])].assign(
        number=lambda m: m["seed_units"].fillna(PER * m["mass_g"] / numbers(m["lot_id"], unit_masses.set_index("lot")["tsw_g"])),
        filled=lambda m: m["number"] * numbers(m["lot_id"], filled["k"] / filled["n"]),
        fraction=lambda m: texts(m["lot_id"], of_lot["fraction"]),
        single=lambda m: _single(m["lot_id"], of_lot, one_seeded),
    )  # fmt: skip
    product = rows["fraction"].isna() | rows["fraction"].isin(schema.words("fraction", product=True))
    came = _sums(rows[rows["kind"].eq("drawn for run").fillna(value=False)], "in")
    went = _sums(rows[rows["kind"].eq("made").fillna(value=False) & product], "out")
    return came.join(went.drop(columns="single"), how="inner").reset_index().rename(columns={"run_id": "run"})


def _single(lot, of_lot, one_seeded):
    known = pd.MultiIndex.from_frame(one_seeded)
    kinds = pd.MultiIndex.from_arrays([texts(lot, of_lot[c]) for c in ("taxon_id", "seed_unit")])
    return kinds.isin(known)


def _sums(rows, side):
    by_run = rows.groupby("run_id")
    total = sums(by_run[["number", "filled"]]).assign(single=by_run["single"].all())
    return total.rename(columns={"number": f"units_{side}", "filled": f"filled_{side}"})
