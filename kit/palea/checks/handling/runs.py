"""Single flow tests and runs of the seeder."""

import pandas as pd

from palea import schema
from palea.calc.spans import latest
from palea.checks.examples import lot, moved, several
from palea.checks.rule import rule
from palea.derived.ledger import arrivals
from palea.derived.lookup import moments
from palea.derived.spoken import lacking, unsaid

SPILT = 1.01  # a hopper and a catch pan are weighed on different balances
SETTLED = 0.97  # two fillings of one cylinder differ by a few percent
LIGHTEST, HEAVIEST = 0.01, 2.0  # g/mL of seed or pellets in bulk; common practice, no source
SLOWEST, FASTEST = 0.05, 15.0  # m/s that anything sown falls in air; common practice, no source


def handled(*rows, method="seeder run"):
    """Handling runs H1, H2 ... of lot AV-1."""
    base = {"lot_id": "AV-1", "method": method, "done_at": "2025-03-01", "status": "valid"}
    return {"handling_runs": [{"handling_id": f"H{n}"} | base | row for n, row in enumerate(rows, 1)]}


def usable(handling_runs):
    """Runs that may be built on."""
    return handling_runs[~handling_runs["status"].isin(schema.words("test_status", counts=False))]


@rule(
    "handling.method-lacks", severity="gap", reads=("handling_runs",), at="handling_runs.method",
    says="Run {handling_id} ({method} of lot {lot_id}) says nothing without: {lacks}.",
    remedy="Enter it, or say in why_blank that it was not recorded.",
    fires=handled({"filled_g": 100.0}, method="funnel"),
    nearly=handled({"filled_g": 100.0, "seconds": 9.5}, {"filled_g": 9.0, "why_blank": "seconds: not recorded"}, method="funnel"),
)  # fmt: skip
def method_lacks(handling_runs):
    """Each method asks for what it is computed from."""
    asked = {w: list(schema.word("handling_method", w)["needs"]) for w in schema.words("handling_method")}
    rows = usable(handling_runs)
    told = rows.assign(lacks=lacking(rows, "handling_runs", rows["method"], asked))
    return told[told["lacks"] != ""]


@rule(
    "handling.delivered-above-filled", severity="error", reads=("handling_runs",), at="handling_runs.delivered_g",
    says="Run {handling_id}: {delivered_g} g came out of {filled_g} g that was filled in.",
    remedy="Look for a slip, or for seed that was still in the hopper from the run before.",
    fires=handled({"filled_g": 100.0, "delivered_g": 120.0}), nearly=handled({"filled_g": 100.0, "delivered_g": 100.5}),
)  # fmt: skip
def delivered_above_filled(handling_runs):
    """No more comes out than went in."""
    return handling_runs[handling_runs["delivered_g"] > handling_runs["filled_g"] * SPILT]


@rule(
    "handling.before-the-lot", severity="error", reads=("handling_runs", arrivals), at="handling_runs.done_at",
    says="Run {handling_id} was done on {done_at} with lot {lot_id}, which only came or was made on {came}.",
    remedy="Look at both dates, and whether the run names the right lot.",
    fires=several(lot("AV-1"), moved("received", "AV-1", "2025-04-01", 5), handled({})),
    nearly=several(lot("AV-1"), moved("received", "AV-1", "2025-03", 5), handled({})),
)  # fmt: skip
def before_the_lot(handling_runs, arrivals):
    """Seed runs through a seeder after it exists."""
    since = moments(handling_runs["lot_id"], arrivals.set_index("lot")["since"])
    early = pd.Series(latest(handling_runs["done_at"]), index=handling_runs.index) < since
    return handling_runs.assign(came=since.dt.strftime("%Y-%m-%d"))[early]


@rule(
    "handling.stops-unsaid", severity="gap", reads=("handling_runs",), at="handling_runs.stops",
    says="Run {handling_id} of lot {lot_id}: whether flow stopped is not recorded. Watched, none? Or not watched?",
    remedy="Enter 0 if somebody watched and it never stopped; else leave it blank with the reason.",
    fires=handled({"length_m": 20.0}), nearly=handled({"length_m": 20.0, "stops": 0}),
)  # fmt: skip
def stops_unsaid(handling_runs):
    """Blank is not zero."""
    along = handling_runs["method"].isin(schema.words("handling_method", counts_along=True))
    return handling_runs[along & unsaid(handling_runs, "stops")]


def _density(handling_runs, method):
    mine = usable(handling_runs)
    mine = mine[mine["method"].eq(method).fillna(value=False)]
    return mine.assign(density=mine["filled_g"] / mine["volume_ml"])


@rule(
    "handling.tapped-below-loose", severity="error", reads=("handling_runs",), at="handling_runs.volume_ml",
    says="Lot {lot_id}: tapped seed has {density} g/mL, less than the {loose} g/mL of loose seed.",
    remedy="Seed only settles when it is tapped: look for masses or volumes that were swapped.",
    fires=several(handled({"filled_g": 50.0, "volume_ml": 100.0}, method="bulk density"), handled(
        {"handling_id": "H2", "filled_g": 50.0, "volume_ml": 120.0, "taps": 100}, method="tapped density")),
    nearly=several(handled({"filled_g": 50.0, "volume_ml": 100.0}, method="bulk density"), handled(
        {"handling_id": "H2", "filled_g": 50.0, "volume_ml": 100.0, "taps": 100}, method="tapped density")),
)  # fmt: skip
def tapped_below_loose(handling_runs):
    """Compared by means of a lot, told at its first tapped run."""
    loose = _density(handling_runs, "bulk density").groupby("lot_id")["density"].mean()
    tapped = _density(handling_runs, "tapped density").dropna(subset=["density"])
    mean = tapped.groupby("lot_id")["density"].transform("mean")
    told = tapped.assign(density=mean.round(3), loose=loose.reindex(tapped["lot_id"]).round(3).to_numpy())
    return told[told["density"] < told["loose"] * SETTLED].drop_duplicates("lot_id")


@rule(
    "handling.density-implausible", severity="warning", reads=("handling_runs",), at="handling_runs.volume_ml",
    says="Run {handling_id} of lot {lot_id}: {filled_g} g in {volume_ml} mL makes {density} g/mL, which no seed has in bulk.",
    remedy="L for mL, or kg for g? Look at the sheet.",
    fires=handled({"filled_g": 50.0, "volume_ml": 0.1}, method="bulk density"),
    nearly=handled({"filled_g": 50.0, "volume_ml": 100.0}, method="bulk density"),
)  # fmt: skip
def density_implausible(handling_runs):
    """From down to gravel."""
    told = handling_runs.assign(density=handling_runs["filled_g"] / handling_runs["volume_ml"])
    return told[(told["density"] < LIGHTEST) | (told["density"] > HEAVIEST)]


@rule(
    "handling.fall-implausible", severity="warning", reads=("handling_runs",), at="handling_runs.seconds",
    says="Run {handling_id} of lot {lot_id}: {drop_m} m in {seconds} s makes {speed} m/s, which no seed falls at.",
    remedy="cm for m, or the time of several drops? Look at the sheet.",
    fires=handled({"drop_m": 300.0, "seconds": 1.5}, method="drop in air"),
    nearly=handled({"drop_m": 3.0, "seconds": 1.5}, method="drop in air"),
)  # fmt: skip
def fall_implausible(handling_runs):
    """From a plumed achene to a lead shot."""
    told = handling_runs.assign(speed=handling_runs["drop_m"] / handling_runs["seconds"])
    return told[(told["speed"] < SLOWEST) | (told["speed"] > FASTEST)]


@rule(
    "handling.run-without-reason", severity="gap", reads=("handling_runs",), at="handling_runs.reason",
    says="Run {handling_id} of lot {lot_id} is {status}, and nobody said why.",
    remedy="Say what was wrong with it: a run that blocked is a result, not a fault.",
    fires=handled({"status": "withdrawn"}), nearly=handled({"status": "withdrawn", "reason": "belt ran off the roll"}),
)  # fmt: skip
def run_without_reason(handling_runs):
    """A run that is doubted, repeated or withdrawn has a reason."""
    doubted = handling_runs["status"].notna() & handling_runs["status"].ne("valid").fillna(value=False)
    return handling_runs[doubted & unsaid(handling_runs, "reason")]


RULES = (method_lacks, delivered_above_filled, before_the_lot, stops_unsaid, tapped_below_loose, density_implausible,
         fall_implausible, run_without_reason)  # fmt: skip
