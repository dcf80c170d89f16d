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


ROOM = ("room_c", "room_rh", "moisture_pct", "status", "reason", "notes")
BEGIN = ("lot_id", "handling_id", "trial_id", "treatment_id", "equipment_id", "done_by", "done_at", "order_in_day", "replicate")
KEPT = ("lot_id", "trial_id", "treatment_id", "equipment_id", "room_c", "room_rh", "status")
RUN = Job(
    "Run the seeder", "handling_runs",
    (*BEGIN, "setting", "opening_mm", "meter_rpm", "speed_km_h", "length_m", "width_m", "filled_g", "delivered_g",
     "delivered_seed_units", "seconds", "stops", "hopper_third", *ROOM),
    given={"method": "seeder run"}, only={"method": "seeder run"}, folded=("hopper_third", "reason", "notes"), lines=along,
    remembers=(*KEPT, "setting", "opening_mm", "speed_km_h", "length_m", "width_m"),
    answers=(Answer("handling.seeder", "treatment_id"),),
)  # fmt: skip
FLOW = Job(
    "Measure flow or density", "handling_runs",
    ("method", *BEGIN, "filled_g", "volume_ml", "taps", "angle_deg", "drop_m", "seconds", "delivered_g", "stops", *ROOM),
    folded=("reason", "notes"), remembers=("method", *KEPT), answers=(Answer("handling.flow", "treatment_id"),),
)  # fmt: skip


def handling(package, job=None, who=None):
    """Record how seed flows and meters; how even a row is, is told while you type.

    package : Package.  job : the job to begin with.  who : the name for the journal.
    """
    return JobPanel(package, "Handling: how it flows and meters", (RUN, FLOW), at_hand=AT_HAND, teaching=TEACHING, who=who, job=job)
