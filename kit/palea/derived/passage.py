"""Where the seed of a package went, as a graph: lots, runs and trials, and the grams that passed between them.

Like things are drawn as one: the portions of a lot that were sown as one treatment, the runs that made them, and their waste.
What was not sown itself takes the treatment of the run that it came out of, or of the lot that it was taken from.
"""

import pandas as pd

from palea import schema
from palea.derived.lookup import stacked, texts
from palea.derived.view import view

THERE = {"run_id": "run", "counterpart_lot_id": "lot", "trial_id": "trial"}  # what the column of a movement leads to
FLOWS = ("from_kind", "from_id", "to_kind", "to_id", "grams")


@view(movements="lot_id kind mass_g run_id trial_id counterpart_lot_id")
def flows(movements):
    """One row a passage of seed: from_kind, from_id, to_kind, to_id (kinds "lot", "run", "trial"), grams (nan: not weighed)."""
    each = [
        _flow(movements[movements["kind"].eq(word["name"])], *(away if word["sign"] < 0 else away[2:] + away[:2]))
        for word in schema.vocabulary("movement_kind").words.values() for column, kind in THERE.items()
        if column in word["needs"] and (away := ("lot", "lot_id", kind, column))
    ]  # fmt: skip
    together = stacked(each).dropna(subset=["from_id", "to_id"])
    by = together.groupby(list(FLOWS[:4]), sort=False)["grams"]
    return by.sum(min_count=1).where(by.count().eq(by.size())).reset_index()


def _flow(moved, from_kind, from_column, to_kind, to_column):
    return pd.DataFrame({
        "from_kind": from_kind, "from_id": moved[from_column], "to_kind": to_kind, "to_id": moved[to_column],
        "grams": moved["mass_g"],
    })[list(FLOWS)]  # fmt: skip


@view(
    flows,
    lots="lot_id taxon_id fraction seed_unit",
    runs="run_id kind protocol_id contractor",
    units="lot_id treatment_id",
    handling_runs="lot_id treatment_id",
    movements="lot_id kind mass_g",
)
def stations(flows, lots, runs, units, handling_runs, movements):
    """One row a lot, run or trial that seed passed: kind, id, taxon, what it is (by which like things are told apart), treatment.

    `what` is the fraction of a lot, the kind of a run. A lot that was received is told by its id; what was made of several
    species has taxon "". The treatment is that under which a lot was sown ("" for none or several).
    """
    own = lots.drop_duplicates("lot_id")
    sown = stacked([units, handling_runs]).dropna(subset=["lot_id", "treatment_id"]).drop_duplicates(["lot_id", "treatment_id"])
    arms = sown.groupby("lot_id")["treatment_id"].agg(lambda s: s.iloc[0] if len(s) == 1 else "")
    received = set(movements.loc[movements["kind"].eq("received").fillna(value=False), "lot_id"].dropna())
    lot = pd.DataFrame({
        "kind": "lot", "id": own["lot_id"], "taxon": own["taxon_id"].fillna(""),
        "what": own["fraction"].fillna("").mask(own["lot_id"].isin(received), "received"),
        "unit": own["seed_unit"].fillna(""), "treatment": texts(own["lot_id"], arms).fillna(""),
    })  # fmt: skip
    run = pd.DataFrame({
        "kind": "run", "id": runs["run_id"], "taxon": _of_runs(flows, own, runs["run_id"]), "what": runs["kind"].fillna(""),
        "unit": runs["protocol_id"].fillna("") + runs["contractor"].fillna(""), "treatment": "",
    }).drop_duplicates("id")  # fmt: skip
    trials = flows.loc[flows["to_kind"].eq("trial"), "to_id"].drop_duplicates()
    trial = pd.DataFrame({"kind": "trial", "id": trials, "taxon": "", "what": "trial", "unit": "", "treatment": ""})
    known = pd.concat([lot, run, trial], ignore_index=True)
    ends = (("from_kind", "from_id"), ("to_kind", "to_id"))
    passed = {key for end in ends for key in zip(*(flows[c] for c in end), strict=True)}
    there = pd.Series([key in passed for key in zip(known["kind"], known["id"], strict=True)], index=known.index, dtype=bool)
    return known[known["what"].eq("received").fillna(value=False).astype(bool) | there].reset_index(drop=True)


def _of_runs(flows, lots, runs):
    """The species of each run, from the lots that went into it or came out; "" for several."""
    of_lot = lots.set_index("lot_id")["taxon_id"]
    ends = stacked([
        pd.DataFrame({"run": flows["to_id"], "lot": flows["from_id"]})[flows["to_kind"].eq("run")],
        pd.DataFrame({"run": flows["from_id"], "lot": flows["to_id"]})[flows["from_kind"].eq("run")],
    ])  # fmt: skip
    taxa = texts(ends["lot"], of_lot)
    one = taxa.groupby(ends["run"]).agg(lambda s: s.dropna().iloc[0] if len(set(s.dropna())) == 1 else "")
    return texts(runs, one).fillna("")


@view(stations, flows)
def passages(stations, flows):
    """The flows with `from` and `to`, the rows of `stations` they lead between; flows to what is in no table are left out."""
    place = {key: i for i, key in enumerate(zip(stations["kind"], stations["id"], strict=True))}
    ends = {
        end: [place.get(key, -1) for key in zip(flows[f"{end}_kind"], flows[f"{end}_id"], strict=True)] for end in ("from", "to")
    }
    found = pd.DataFrame({**ends, "grams": flows["grams"]})
    return found[(found["from"] >= 0) & (found["to"] >= 0)].reset_index(drop=True)


@view(stations, passages)
def groups(stations, passages):
    """One row a station: treatment, its own or the one handed on to it, and group, a number from 0 on, equal for like things."""
    treatment = stations["treatment"].to_list()
    kind = stations["kind"].to_list()
    into, out = _neighbours(passages, "to", "from"), _neighbours(passages, "from", "to")
    for run in (i for i, k in enumerate(kind) if k == "run"):
        made = dict.fromkeys(treatment[lot] for lot in out.get(run, ()) if treatment[lot])
        treatment[run] = next(iter(made)) if len(made) == 1 else ""
    for lot in (i for i, k in enumerate(kind) if k == "lot" and not treatment[i]):
        before = dict.fromkeys(treatment[i] for i in into.get(lot, ()))
        treatment[lot] = next(iter(before)) if len(before) == 1 else ""
    told = stations["kind"].ne("trial") & pd.Series([bool(t) for t in treatment], index=stations.index)
    alone = stations["id"].where(~told, "")  # what has no treatment is told by its id
    keys = zip(*(stations[c] for c in ("kind", "taxon", "what", "unit")), treatment, alone, strict=True)
    known = {}
    group = [known.setdefault(key, len(known)) for key in keys]
    return pd.DataFrame({"treatment": treatment, "group": group}, index=stations.index)


def _neighbours(passages, here, there):
    found = {}
    for a, b in zip(passages[here], passages[there], strict=True):
        found.setdefault(a, []).append(b)
    return found
