"""The handling stage on screen: flow, density, and runs through the seeder, counted metre by metre."""

from palea import schema
from palea.panels.job import Answer, Job
from palea.panels.jobs import JobPanel
from palea.panels.lines import Lines

AT_HAND = (
    "The seeder over a catch belt or paper strip, a tape measure, and the lots, treated and untreated in random order.",
    "Five runs of each lot: the metres of one run are one replicate. Guards stay on; nobody reaches in while it turns.",
)
TEACHING = """\
This stage keeps how seed flows and meters: density, angle of repose, time through a funnel, and runs of a seeder with the
seed counted metre by metre. From that follow how even the row is, misses and doubles, stops, and the sowing rate.
An example: a run of 20 m at one setting; you count the seeds on each metre of the strip."""


def along(package, texts):
    """The sheet of seeds counted along a run, metre by metre; None for a method that counts none."""
    method = texts.get("method")
    if not method or not schema.word("handling_method", method)["counts_along"]:
        return None
    return Lines(package, "handling_counts", ("taxon_id", "start_m", "length_m", "seeds", "missing"), key="place_no", least=20)


RUN = Job(
    "Record a run or a measurement", "handling_runs",
    ("lot_id", "method", "handling_id", "trial_id", "treatment_id", "equipment_id", "done_by", "done_at", "order_in_day",
     "replicate", "setting", "opening_mm", "meter_rpm", "speed_km_h", "length_m", "width_m", "filled_g", "delivered_g",
     "delivered_seed_units", "seconds", "stops", "angle_deg", "volume_ml", "taps", "drop_m", "hopper_third", "room_c", "room_rh",
     "moisture_pct", "status", "reason", "notes"),
    folded=("hopper_third", "reason", "notes"), lines=along,
    remembers=("lot_id", "method", "trial_id", "treatment_id", "equipment_id", "setting", "opening_mm", "speed_km_h", "length_m",
               "width_m", "room_c", "room_rh", "status"),
    answers=(Answer("handling.flow", "treatment_id"), Answer("handling.seeder", "treatment_id")),
)  # fmt: skip


def handling(package, job=None, who=None):
    """Record how seed flows and meters; how even a row is, is told while you type.

    package : Package.  job : the job to begin with.  who : the name for the journal.
    """
    return JobPanel(package, "Handling: how it flows and meters", (RUN,), at_hand=AT_HAND, teaching=TEACHING, who=who, job=job)
