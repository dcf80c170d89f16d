"""Which treatment a run was done for, and what went into it and came out, weighed and as dry matter."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived.lineage import batches
from palea.derived.lookup import TEXT, texts
from palea.derived.spoken import sums
from palea.derived.view import view


@view(
    batches, units="treatment_id lot_id", runs="run_id kind protocol_id status", movements="run_id lot_id kind",
    lots="lot_id taxon_id", treatments="treatment_id coat_class clean_method",
)  # fmt: skip
def made_for(batches, units, runs, movements, lots, treatments):
    """One row a run that gave seed: run, kind, taxon, treatment, coat_class, clean_method ("" where nothing is said).

    A run's treatment is that of the seed that was sown from it, of which it was the last run. A run of which nothing was
    sown is told by its procedure, where all other runs of the species by that procedure are of one treatment; a run that
    neither tells is left out.
    """
    named = runs[~runs["status"].isin(schema.words("run_status", gives_seed=False))]
    named = named.dropna(subset=["run_id"]).drop_duplicates("run_id")
    of_run = movements.dropna(subset=["run_id", "lot_id"])
    taxon = pd.Series(texts(of_run["lot_id"], lots.set_index("lot_id")["taxon_id"]).array, index=of_run["run_id"]).dropna()
    sown = units[["treatment_id", "lot_id"]].dropna().drop_duplicates()
    batch = texts(sown["lot_id"], batches.set_index("lot")["batch"])
    told = pd.DataFrame({
        "run": named["run_id"], "kind": named["kind"], "taxon": texts(named["run_id"], taxon),
        "protocol": named["protocol_id"],
        "treatment": texts(named["run_id"], pd.Series(sown["treatment_id"].array, index=batch)),
    })  # fmt: skip
    told = told.assign(treatment=told["treatment"].fillna(_by_protocol(told))).dropna(subset=["treatment"])
    once = treatments.drop_duplicates("treatment_id").set_index("treatment_id")
    more = {c: texts(told["treatment"], once[c]).fillna("") for c in ("coat_class", "clean_method")}
    return told.assign(taxon=told["taxon"].fillna(""), **more).drop(columns="protocol").reset_index(drop=True)


def _by_protocol(told):
    """The treatment of the other runs of a species, kind and procedure, missing where there are none or several."""
    keys = ["taxon", "kind", "protocol"]
    known = told.dropna(subset=[*keys, "treatment"]).drop_duplicates([*keys, "treatment"])
    alone = known[~known.duplicated(keys, keep=False)]
    found = told[keys].merge(alone[[*keys, "treatment"]], on=keys, how="left")["treatment"]
    return pd.Series(found.array, index=told.index, dtype=TEXT)


@view(movements="run_id lot_id kind mass_g moisture_pct", lots="lot_id fraction")
def run_seed(movements, lots):
    """One row a run that seed went into: grams put in (seed_g), of product with multiples, of the main product alone, of
    the rest (fines, waste and the like), and each as dry matter (…_dry_g).

    Rows: run, lot (put in), main (lot of the main product), seed_g, product_g, main_g, rest_g, …_dry_g. A sum is nan where
    one mass, or for dry matter one water content, is not known, and where nothing of the kind was entered.
    """
    fraction = texts(movements["lot_id"], lots.drop_duplicates("lot_id").set_index("lot_id")["fraction"])
    dry = movements["mass_g"] * (1 - movements["moisture_pct"] / 100)
    rows = movements.assign(dry_g=dry, side=_sides(movements["kind"], fraction)).dropna(subset=["run_id"])
    main = fraction.isna() | fraction.isin(schema.words("fraction", product=True))
    both = {
        "seed": rows[rows["side"].eq("seed")], "product": rows[rows["side"].eq("product")],
        "main": rows[rows["side"].eq("product") & main.reindex(rows.index)], "rest": rows[rows["side"].eq("rest")],
    }  # fmt: skip
    found = pd.DataFrame({"run": rows.loc[rows["side"].eq("seed"), "run_id"].drop_duplicates()}).reset_index(drop=True)
    for name, part in both.items():
        weighed = sums(part.groupby("run_id")[["mass_g", "dry_g"]]).reindex(found["run"])
        found[f"{name}_g"], found[f"{name}_dry_g"] = (weighed[c].to_numpy(float) for c in ("mass_g", "dry_g"))
    lot_of = {name: both[name].set_index("run_id")["lot_id"] for name in ("seed", "main")}
    return found.assign(lot=texts(found["run"], lot_of["seed"]), main=texts(found["run"], lot_of["main"]))


def _sides(kind, fraction):
    """"seed" for what was put in, "product" or "rest" for what came out, "" else. Multiples carry coat and seed too."""
    product = fraction.isna() | fraction.isin(schema.words("fraction", product=True)) | fraction.eq("multiples")
    into, out = (kind.eq(word).fillna(value=False).to_numpy(bool) for word in ("drawn for run", "made"))
    product = product.fillna(value=False).to_numpy(bool)
    return np.select([into, out & product, out], ["seed", "product", "rest"], "")


def moisture_of(rows, name):
    """Water content of a mass of `run_seed` as a share of the moist seed; nan where it is not known."""
    return 1 - rows[f"{name}_dry_g"] / rows[f"{name}_g"]
