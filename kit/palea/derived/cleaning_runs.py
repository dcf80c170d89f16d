"""Cleaning runs as the calculations on cleaning take them: what went in and came out, how long it took, who is compared."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.lineage import origins
from palea.derived.lookup import moments, numbers, texts
from palea.derived.lot_tests import live
from palea.derived.made_for import made_for, moisture_of, run_seed
from palea.derived.recovery import unit_masses
from palea.derived.tests_of_lots import counted, share_of
from palea.derived.view import view

HURT = ("broken", "scratched")
ALL_SPECIES = ""


@view(made_for, run_seed)
def cleaned(made_for, run_seed):
    """One row a cleaning run: taxon, treatment, control (by hand), batch and what `run_seed` says of it."""
    mine = made_for[made_for["kind"].eq("clean").fillna(value=False)]
    mine = mine.assign(control=mine["clean_method"].isin(schema.words("clean_method", zero=True)))
    return mine.merge(run_seed, on="run", how="inner").rename(columns={"run": "batch"}).reset_index(drop=True)


@view(cleaned, unit_masses, counted, runs="run_id hands_on_min")
def cleaning_runs(cleaned, unit_masses, counted, runs):
    """One row a cleaning run: taxon, treatment, control, batch, raw_g, clean_g, raw_thousand_g, clean_thousand_g, filled_in,
    filled_out, viable_in, viable_out (shares of all units), damaged_k, damaged_n, minutes.

    Masses are dry matter where every water content is known, else all as they lay. The mass of a thousand is brought to
    the same, taking that seed was weighed in the run as moist as in its test: the number of units does not hang on water.
    Clean seed is the main product. Damaged are broken and scratched units.
    """
    known = cleaned["seed_dry_g"].notna() & cleaned["main_dry_g"].notna()
    raw, clean = cleaned["seed_dry_g"].where(known, cleaned["seed_g"]), cleaned["main_dry_g"].where(known, cleaned["main_g"])
    tsw, filled, alive = unit_masses.set_index("lot")["tsw_g"], share_of(counted, "fill", ("filled",)), live(counted)
    hurt = share_of(counted, "breakage", HURT)
    dry = {side: (1 - moisture_of(cleaned, side)).where(known, 1.0) for side in ("seed", "main")}
    return cleaned[["taxon", "treatment", "control", "batch"]].assign(
        raw_g=raw.where(raw > 0), clean_g=clean,
        raw_thousand_g=numbers(cleaned["lot"], tsw) * dry["seed"],
        clean_thousand_g=numbers(cleaned["main"], tsw) * dry["main"],
        filled_in=numbers(cleaned["lot"], filled["k"] / filled["n"]),
        filled_out=numbers(cleaned["main"], filled["k"] / filled["n"]),
        viable_in=numbers(cleaned["lot"], alive), viable_out=numbers(cleaned["main"], alive),
        damaged_k=numbers(cleaned["main"], hurt["k"]), damaged_n=numbers(cleaned["main"], hurt["n"]),
        minutes=numbers(cleaned["batch"], runs.set_index("run_id")["hands_on_min"]),
    )  # fmt: skip


@view(
    cleaned, runs="run_id hands_on_min", run_steps="run_id action equipment_id", equipment="equipment_id kind capacity_g",
)  # fmt: skip
def cleaning_times(cleaned, runs, run_steps, equipment):
    """One row a cleaning run: taxon, treatment, control, batch, raw_g (as it lay), minutes (hands-on), capacity_g (least of
    the machines that seed went through; nan: none), sets_up (there is a machine to set up: not by hand).

    A species whose runs all took one mass cannot tell setting up from grams. So the runs of a method of all species stand
    here once more as one, with no taxon and under the first treatment of the method: it is the machine that is set up.
    """
    balance = equipment.loc[equipment["kind"].eq("balance").fillna(value=False), "equipment_id"]
    through = run_steps[~run_steps["equipment_id"].isin(balance)]
    holds = numbers(through["equipment_id"], equipment.set_index("equipment_id")["capacity_g"])
    rows = cleaned[["taxon", "treatment", "control", "batch", "clean_method"]].assign(
        raw_g=cleaned["seed_g"].where(cleaned["seed_g"] > 0),
        minutes=numbers(cleaned["batch"], runs.set_index("run_id")["hands_on_min"]),
        capacity_g=numbers(cleaned["batch"], holds.groupby(through["run_id"]).min()), sets_up=~cleaned["control"],
    )  # fmt: skip
    several = rows.groupby("clean_method")["taxon"].transform("nunique") > 1
    first = rows.drop_duplicates("clean_method").set_index("clean_method")["treatment"]
    pooled = rows[several].assign(taxon=ALL_SPECIES, treatment=lambda r: texts(r["clean_method"], first))
    both = pd.concat([rows, pooled], ignore_index=True) if len(pooled) else rows
    return both.drop(columns="clean_method")


@view(
    cleaned, origins, runs="run_id started_at",
    contrasts="contrast_id trial_id a b asks_about outcome kind margin wanted primary declared_at",
)  # fmt: skip
def asked(cleaned, origins, runs, contrasts):
    """One row a declared contrast on what cleaning does: contrast, taxon, a, b, quantity, kind, margin, wanted, primary,
    asks_about, margin_late (typed after the first of its runs), refused ("" where it can be judged).
    """
    mine = contrasts[contrasts["outcome"].isin(schema.words("quantity", stage="cleaning"))].dropna(subset=["a", "b"])
    mine = mine.drop_duplicates("contrast_id").reset_index(drop=True)
    taxon = cleaned.drop_duplicates("treatment").set_index("treatment")["taxon"]
    declared = pd.Series(earliest(mine["declared_at"]), index=mine.index)
    started = moments(cleaned["batch"], pd.Series(earliest(runs["started_at"]), index=runs["run_id"]))
    first = started.groupby(cleaned["treatment"]).min()
    begun = pd.concat([moments(mine["a"], first), moments(mine["b"], first)], axis=1).min(axis=1)
    return pd.DataFrame(
        {
            "contrast": mine["contrast_id"], "taxon": texts(mine["a"], taxon).fillna(texts(mine["b"], taxon)).fillna(""),
            "a": mine["a"], "b": mine["b"], "quantity": mine["outcome"], "kind": mine["kind"].fillna(""),
            "margin": mine["margin"], "wanted": mine["wanted"].fillna("higher"),
            "primary": mine["primary"].fillna(value=False).astype(bool), "asks_about": mine["asks_about"].fillna(""),
            "margin_late": (declared > begun) & mine["margin"].notna(), "refused": _strangers(mine, cleaned, origins),
        }
    )  # fmt: skip


def _strangers(mine, cleaned, origins):
    """A sentence where the two sides were cleaned from different received lots, else ""."""
    came = cleaned[["treatment", "lot"]].merge(origins, on="lot", how="left")
    behind = came.groupby("treatment")["origin"].agg(lambda s: frozenset(s.dropna())).to_dict()
    pairs = list(zip(mine["a"], mine["b"], strict=True))
    apart = [a in behind and b in behind and not behind[a] & behind[b] for a, b in pairs]
    told = [f"{a} and {b} were not cleaned from the same received lot." for a, b in pairs]
    return np.where(np.array(apart, bool), np.array(told, object), "") if pairs else []
