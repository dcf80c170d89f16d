"""Where lots were kept: periods that cannot be, and what a reader needs to judge the age of seed."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import lot, moved, several
from palea.checks.rule import rule
from palea.derived.ledger import arrivals, entries, stock
from palea.derived.lookup import moments, numbers
from palea.derived.spoken import surely_before, unsaid

ROUNDING_G = 1e-6


def _stored(*periods, **more):
    rows = [{"storage_id": f"S{n}", "lot_id": "AV-0", "from_at": start, "to_at": end, "temperature_c": 15.0, "rh_pct": 15.0}
            for n, (start, end) in enumerate(periods)]  # fmt: skip
    return several(lot("AV-0"), {"storage": [row | more for row in rows]})


@rule(
    "lots.storage-backwards", severity="error", reads=("storage",), at="storage.to_at",
    says="Lot {lot_id} was taken out of store on {to_at}, before it was put there on {from_at}.",
    remedy="Swap the two dates, or look whether day and month were swapped in one.",
    fires=_stored(("2025-03-01", "2025-02-01")), nearly=_stored(("2025-03-01", "2025-03")),
)  # fmt: skip
def storage_backwards(storage):
    """A period ends after it begins."""
    return storage[surely_before(storage["to_at"], storage["from_at"])]


@rule(
    "lots.stored-twice", severity="warning", reads=("storage",), at="storage.from_at",
    says="Lot {lot_id} was put into store {storage_id} on {from_at}, while it still lay in {other} ({until}).",
    remedy="End the first period. If the lot was parted, each part is a lot of its own.",
    fires=_stored(("2025-01-01", None), ("2025-03-01", "2025-06-01")),
    nearly=_stored(("2025-01-01", "2025-03"), ("2025-03-01", "2025-06-01")),
)  # fmt: skip
def stored_twice(storage):
    """A lot lies in one place at a time; the day it is moved belongs to both."""
    told = storage.assign(start=earliest(storage["from_at"]), begun=latest(storage["from_at"]), end=earliest(storage["to_at"]))
    told["end"] = told["end"].where(told["to_at"].notna(), pd.Timestamp.max.floor("s"))
    told = told.dropna(subset=["start", "end"]).sort_values(["lot_id", "start"], kind="stable")
    before = told.groupby("lot_id")[["storage_id", "to_at", "end"]].shift()
    bad = told.assign(other=before["storage_id"], until=("until " + before["to_at"]).fillna("no end is recorded"))
    return bad[bad["begun"] < before["end"]]


@rule(
    "lots.storage-without-climate", severity="gap", reads=("storage",), at="storage.temperature_c",
    says="Lot {lot_id} was stored from {from_at}, and its {lacks} is not recorded.",
    remedy="Enter what the store was set to, or its mean; for a sealed container say so, and the humidity does not matter.",
    fires=_stored(("2025-01-01", None), rh_pct=None), nearly=_stored(("2025-01-01", None), rh_pct=None, sealed=True),
)  # fmt: skip
def storage_without_climate(storage):
    """How fast seed ages follows from its temperature and water."""
    warm = unsaid(storage, "temperature_c")
    damp = unsaid(storage, "rh_pct") & ~storage["sealed"].fillna(value=False).astype(bool)
    lacks = pd.Series("temperature", index=storage.index).mask(damp, "humidity").mask(warm & damp, "temperature and humidity")
    return storage.assign(lacks=lacks)[warm | damp]


@rule(
    "lots.stored-before-it-came", severity="error", reads=("storage", arrivals), at="storage.from_at",
    says="Lot {lot_id} was put into store on {from_at}, before it came or was made on {came}.",
    remedy="Look at both dates, and whether the row names the right lot.",
    fires=several(_stored(("2025-01-01", None)), moved("received", "AV-0", "2025-02-01", 5)),
    nearly=several(_stored(("2025-02", None)), moved("received", "AV-0", "2025-02-01", 5)),
)  # fmt: skip
def stored_before_it_came(storage, arrivals):
    """Seed lies in a store here only after it is here."""
    since = moments(storage["lot_id"], arrivals.set_index("lot")["since"])
    early = pd.Series(latest(storage["from_at"]), index=storage.index) < since
    return storage.assign(came=since.dt.strftime("%Y-%m-%d"))[early]


_HELD = several(_stored(("2025-04-01", None)), moved("received", "AV-0", "2025-02-01", 5))


@rule(
    "lots.stored-after-it-went", severity="warning", reads=("storage", entries, stock), at="storage.from_at",
    says="Lot {lot_id} was put into store on {from_at}, but the last of it had left on {went}.",
    remedy="Look at both dates, and whether the row names the right lot.",
    fires=several(_HELD, moved("sown", "AV-0", "2025-03-01", 5)),
    nearly=several(_HELD, moved("sown", "AV-0", "2025-03-01", 4)),
)  # fmt: skip
def stored_after_it_went(storage, entries, stock):
    """Nothing is stored of a lot that is gone by the book."""
    empty = numbers(storage["lot_id"], stock.set_index("lot")["mass_g"]).abs() <= ROUNDING_G
    last = moments(storage["lot_id"], entries.groupby("lot")["latest"].max())
    late = pd.Series(earliest(storage["from_at"]), index=storage.index) > last
    return storage.assign(went=last.dt.strftime("%Y-%m-%d"))[empty & late]


@rule(
    "lots.set-apart-without-reason", severity="gap", reads=("lots",), at="lots.reason",
    says="Lot {lot_id} is {status}, and nobody said why.",
    remedy="Enter the reason: a reader must know whether its seed was at fault.",
    fires=lot("AV-0", status="quarantined"), nearly=lot("AV-0", status="quarantined", reason="mould on the bag"),
)  # fmt: skip
def set_apart_without_reason(lots):
    """A lot that was closed with seed in it has a reason; waste and fines are thrown away without asking."""
    closed = schema.words("lot_status", open=False)
    waste = lots["fraction"].isin(schema.words("fraction", product=False)) & lots["fraction"].ne("keep-sample")
    asked = lots["status"].isin(closed) & lots["status"].ne("used up").fillna(value=False) & ~waste.fillna(value=False)
    return lots[asked & unsaid(lots, "reason")]


RULES = (storage_backwards, stored_twice, storage_without_climate, stored_before_it_came, stored_after_it_went,
         set_apart_without_reason)  # fmt: skip
