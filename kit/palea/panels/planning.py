"""The planning stage on screen: treatments, trials, what is asked of them, under which conditions, and procedures."""

from palea.panels.job import Answer, Job
from palea.panels.jobs import JobPanel
from palea.panels.lines import Lines

AT_HAND = (
    "The question in one sentence, the margin that matters, and the lots that there are.",
    "What is meant is written before anything is wetted: a margin typed after the first count earns no verdict.",
)
TEACHING = """\
This stage keeps what is meant: treatments one factor apart, trials with their outcomes, the contrasts that will be judged,
and written procedures. From that follow which factors differ, how many dishes or plots are needed, and how much seed.
An example: brush-cleaned seed with a film is asked against brush-cleaned bare seed, equivalence within 15 points."""


def actives(package, texts):  # noqa: ARG001 - lines of every job are made of both
    """The sheet of what a treatment carries."""
    return Lines(package, "treatment_actives", ("material_id", "amount", "unit", "basis", "of_seed_unit"), least=2)


def outcomes(package, texts):  # noqa: ARG001
    """The sheet of what is judged in a trial, and on which day."""
    return Lines(package, "trial_outcomes", ("outcome", "criterion", "at_day", "denominator", "primary"), least=3)


def steps(package, texts):  # noqa: ARG001
    """The sheet of a procedure's steps, with what each sets and the range that it allows."""
    return Lines(package, "protocol_steps", STEP, key="step", least=4)


STEP = (
    "action", "cycle", "equipment_kind", "material_id", "amount", "unit", "basis", "lowest_amount", "highest_amount",
    "temperature_c", "duration_s", "speed_rpm", "passes", "ph", "end_point",
)  # fmt: skip
TREATMENT = Job(
    "Write a treatment", "treatments",
    ("treatment_id", "label", "hull", "clean_method", "clean_to", "coat_class", "intended_build_up_pct", "route", "soak_then",
     "redried_to_pct", "held_days", "role", "purpose", "rationale", "notes"),
    folded=("soak_then", "redried_to_pct", "held_days", "rationale", "notes"), lines=actives,
    answers=(Answer("decision.contrasts", "treatment_id"),),
)  # fmt: skip
TRIAL = Job(
    "Open a trial", "trials",
    ("trial_id", "title", "question", "design", "alpha", "planned_at", "germinated_when", "time_zero", "status", "notes"),
    folded=("notes",), remembers=("design", "alpha", "germinated_when", "time_zero"), lines=outcomes,
    answers=(Answer("planning.seed"),),
)  # fmt: skip
FACTOR = Job("Name a factor of a trial", "trial_factors", ("trial_id", "factor", "applied_to"), remembers=("trial_id",))
CONTRAST = Job(
    "Declare a contrast", "contrasts",
    ("trial_id", "contrast_id", "a", "b", "asks_about", "outcome", "kind", "wanted", "margin", "margin_unit", "primary",
     "at_day", "environment_id", "across", "declared_at", "notes"),
    folded=("at_day", "environment_id", "across", "notes"),
    remembers=("trial_id", "outcome", "kind", "margin", "margin_unit", "declared_at"),
)  # fmt: skip
CONDITIONS = Job(
    "Describe conditions", "environments",
    ("trial_id", "environment_id", "site_id", "chamber", "run_no", "day_c", "night_c", "light_hours", "substrate",
     "water_per_unit_ml", "water_potential_mpa", "potential_source", "osmoticum", "osmoticum_g_per_kg", "renewed_every_d",
     "moved_about", "notes"),
    folded=("notes",), remembers=("trial_id", "chamber", "light_hours", "substrate", "water_per_unit_ml", "moved_about"),
)  # fmt: skip
SITE = Job(
    "Describe a site", "sites",
    ("site_id", "name", "country", "latitude", "longitude", "coordinate_uncertainty_m", "place_sensitivity", "altitude_m",
     "soil", "climate", "habitat", "seedbed", "notes"),
    folded=("climate", "habitat", "notes"),
)  # fmt: skip
PROCEDURE = Job(
    "Write a procedure", "protocols",
    ("protocol_id", "version", "title", "stage", "run_kind", "authors", "licence", "issued_on", "replaces", "scale", "notes"),
    folded=("replaces", "notes"), remembers=("authors", "licence"), lines=steps,
)  # fmt: skip


def planning(package, job=None, who=None):
    """Write treatments, trials, contrasts, conditions and procedures; which factors differ is told while you type.

    package : Package.  job : the job to begin with.  who : the name for the journal.
    """
    jobs = (TREATMENT, TRIAL, CONTRAST, FACTOR, CONDITIONS, SITE, PROCEDURE)
    return JobPanel(package, "Planning: what is asked, and of what", jobs, at_hand=AT_HAND, teaching=TEACHING, who=who, job=job)
