"""What was counted along the rows that a seeder laid."""

import pandas as pd

from palea import schema
from palea.checks.examples import lot, several
from palea.checks.handling.runs import handled
from palea.checks.rule import rule
from palea.derived.lookup import numbers, texts

TAPE = 0.02  # m that places along a tape may be off
WHOLE = 0.98  # share of a row from which on it counts as counted throughout
DISAGREE = 0.05  # share of the seed units delivered; common practice, no source


def _counted(*places, lot_id="AV-1", taxon="AV", **run):
    """A run of lot AV-1 over 3 m, with places (start, length, seeds)."""
    rows = [{"handling_id": "H1", "place_no": n, "taxon_id": taxon, "start_m": a, "length_m": b, "seeds": c}
            for n, (a, b, c) in enumerate(places, 1)]  # fmt: skip
    return several(lot(lot_id, seed_unit="seed"), handled({"length_m": 3.0, "lot_id": lot_id} | run), {"handling_counts": rows})


_METRES = ((0.0, 1.0, 30), (1.0, 1.0, 28), (2.0, 1.0, 32))


@rule(
    "handling.counted-beyond-the-row", severity="error", reads=("handling_counts", "handling_runs"), at="handling_counts.start_m",
    says="Run {handling_id}: place {place_no} ends at {end} m, but the row was {row_m} m long.",
    remedy="Correct the place, or the length of the row; look whether cm were typed for m.",
    fires=_counted((0.0, 1.0, 30), (2.5, 1.0, 28)), nearly=_counted(*_METRES),
)  # fmt: skip
def counted_beyond_the_row(handling_counts, handling_runs):
    """Seed lies within the row; told once a run."""
    told = handling_counts.assign(
        row_m=numbers(handling_counts["handling_id"], handling_runs.set_index("handling_id")["length_m"]),
        end=handling_counts["start_m"] + handling_counts["length_m"].fillna(0),
    )
    return told[told["end"] > told["row_m"] + TAPE].drop_duplicates("handling_id")


@rule(
    "handling.stretches-overlap", severity="error", reads=("handling_counts",), at="handling_counts.start_m",
    says="Run {handling_id}: place {place_no} begins at {start_m} m, inside the stretch before it, which ends at {before} m.",
    remedy="Correct start or length: seed in both would be counted twice.",
    fires=_counted((0.0, 1.0, 30), (0.5, 1.0, 28)), nearly=_counted(*_METRES),
)  # fmt: skip
def stretches_overlap(handling_counts):
    """Stretches of one run and kind follow each other."""
    stretches = handling_counts[handling_counts["length_m"].gt(0) & handling_counts["start_m"].notna()]
    stretches = stretches.sort_values(["handling_id", "taxon_id", "start_m"], kind="stable")
    ends = (stretches["start_m"] + stretches["length_m"]).groupby([stretches["handling_id"], stretches["taxon_id"]]).shift()
    return stretches.assign(before=ends)[stretches["start_m"] < ends - TAPE].drop_duplicates("handling_id")


def _along(handling_counts):
    """One row a run: seeds seen in all (nan where a place could not be counted), metres that stretches cover."""
    metres = handling_counts.drop_duplicates(["handling_id", "place_no"]).groupby("handling_id")["length_m"].sum()
    seeds = handling_counts["seeds"].groupby(handling_counts["handling_id"])
    whole = handling_counts["seeds"].notna().groupby(handling_counts["handling_id"]).all()
    return pd.DataFrame({"seen": seeds.sum().where(whole), "metres": metres})


@rule(
    "handling.counts-disagree", severity="warning", reads=("handling_runs", "handling_counts"),
    at="handling_runs.delivered_seed_units",
    says="Run {handling_id}: {seen} seeds were counted along the row, and {delivered_seed_units} seed units are said to have come "
    "out.",
    remedy="Count the catch again; units that hold more than one seed explain more seeds.",
    fires=_counted(*_METRES, delivered_seed_units=120), nearly=_counted(*_METRES, delivered_seed_units=92),
)  # fmt: skip
def counts_disagree(handling_runs, handling_counts):
    """What was laid is what came out, where the whole row was counted; never more than came out."""
    along = _along(handling_counts)
    told = handling_runs.assign(**{c: numbers(handling_runs["handling_id"], along[c]) for c in along})
    out = told["delivered_seed_units"]
    throughout = told["metres"] >= WHOLE * told["length_m"]
    return told[(told["seen"] > out * (1 + DISAGREE)) | (throughout & (told["seen"] < out * (1 - DISAGREE)))]


@rule(
    "handling.count-blank", severity="gap", reads=("handling_counts",), at="handling_counts.seeds",
    says="Run {handling_id}: place {place_no} has neither a count nor a reason why there is none.",
    remedy="Enter 0 if nothing lay there, else the reason.",
    fires=_counted((0.0, 1.0, None)), nearly=_counted((0.0, 1.0, 0)),
)  # fmt: skip
def count_blank(handling_counts):
    """Blank is not zero."""
    return handling_counts[handling_counts["seeds"].isna() & handling_counts["missing"].isna()]


@rule(
    "handling.count-and-reason", severity="error", reads=("handling_counts",), at="handling_counts.missing",
    says="Run {handling_id}: place {place_no} has a count of {seeds} and a reason why there is none ({missing}).",
    remedy="Take one of the two out.",
    fires={"handling_counts": [{"handling_id": "H1", "place_no": 1, "taxon_id": "AV", "seeds": 3, "missing": "not reached"}]},
    nearly={"handling_counts": [{"handling_id": "H1", "place_no": 1, "taxon_id": "AV", "missing": "not reached"}]},
)  # fmt: skip
def count_and_reason(handling_counts):
    """A place was counted or it was not."""
    return handling_counts[handling_counts["seeds"].notna() & handling_counts["missing"].notna()]


@rule(
    "handling.other-taxon", severity="error", reads=("handling_counts", "handling_runs", "lots"), at="handling_counts.taxon_id",
    says="Run {handling_id} is of lot {lot_id}, which is {own}, but seed of {taxon_id} was counted along its row.",
    remedy="Correct the taxon or the lot, or say that the hopper was not empty before.",
    fires=_counted((0.0, 1.0, 3), taxon="CC"), nearly=_counted((0.0, 1.0, 3)),
)  # fmt: skip
def other_taxon(handling_counts, handling_runs, lots):
    """A lot that is no mixture lays one kind; told once a run."""
    told = handling_counts.assign(lot_id=texts(handling_counts["handling_id"], handling_runs.set_index("handling_id")["lot_id"]))
    told = told.assign(own=texts(told["lot_id"], lots.set_index("lot_id")["taxon_id"]))
    laid = told["seeds"].gt(0)
    return told[laid & told["own"].ne(told["taxon_id"]).fillna(value=False)].drop_duplicates("handling_id")


@rule(
    "handling.mixture-of-one", severity="warning", reads=("handling_runs", "handling_counts", "lots"), at="handling_runs.lot_id",
    says="Run {handling_id} is of lot {lot_id}, a mixture, but seed of {taxon} alone was counted: were the kinds told apart?",
    remedy="Enter one row a kind and place; 0 where a kind was not there.",
    fires=_counted((0.0, 1.0, 3)) | {"lots": [{"lot_id": "AV-1", "seed_unit": "mixture"}]},
    nearly=_counted((0.0, 1.0, 3)),
)  # fmt: skip
def mixture_of_one(handling_runs, handling_counts, lots):
    """Whether a mixture stays mixed is only seen if each kind is counted."""
    mixed = lots.loc[lots["seed_unit"].eq("mixture").fillna(value=False), "lot_id"]
    kinds = handling_counts.groupby("handling_id")["taxon_id"].agg(["nunique", "first"])
    alone = kinds.loc[kinds["nunique"].eq(1), "first"]
    told = handling_runs.assign(taxon=texts(handling_runs["handling_id"], alone))
    return told[told["lot_id"].isin(mixed) & told["taxon"].notna()]


@rule(
    "handling.row-uncounted", severity="gap", reads=("handling_runs", "handling_counts"), at="handling_runs.handling_id",
    says="Run {handling_id} of lot {lot_id}: nothing was counted along its row, and the catch was neither weighed nor counted.",
    remedy="Enter the counts, or what came out.",
    fires=handled({"length_m": 20.0}), nearly=handled({"length_m": 20.0, "delivered_g": 3.0}),
)  # fmt: skip
def row_uncounted(handling_runs, handling_counts):
    """A run of the seeder is done to see what it lays."""
    along = handling_runs["method"].isin(schema.words("handling_method", counts_along=True))
    out = handling_runs["delivered_g"].isna() & handling_runs["delivered_seed_units"].isna()
    sound = ~handling_runs["status"].isin(schema.words("test_status", counts=False))
    return handling_runs[along & out & sound & ~handling_runs["handling_id"].isin(handling_counts["handling_id"])]


RULES = (counted_beyond_the_row, stretches_overlap, counts_disagree, count_blank, count_and_reason, other_taxon,
         mixture_of_one, row_uncounted)  # fmt: skip
