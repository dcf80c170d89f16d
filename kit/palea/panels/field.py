"""The field stage on screen: count plots and rows, tag and measure plants, keep what the weather was."""

from palea.panels import plots
from palea.panels.counting import Counting, Kind
from palea.panels.job import Job
from palea.panels.jobs import JobPanel

AT_HAND = (
    "The plot map in walking order and the pencil sheet of the day, with last time's numbers greyed beside each box.",
    "At a thinning: what stood before, what was taken out, what was kept, and the rule by which it was chosen.",
)
TEACHING = """\
This stage keeps what stands in each plot or row at each visit, what newly came up, what died and what was taken out, then
the size of tagged plants. From that follow emergence, survival, growth, and whether a treatment changed them.
An example: 12 stand in a plot, 3 of them new since last week. Type 3 under emerged and 12 under standing. Plants taken out
at a thinning did not die: they go under taken out.
This package has no plots yet. They come with a trial: treatments, lots, site and layout."""
PLOTS = Kind(
    "field", "Field: count plots and rows", AT_HAND, TEACHING, plots.lay_out, plots.trials_of, "survival.rows", "lines",
)  # fmt: skip
PLANT = Job(
    "Tag a plant", "plants",
    ("unit_id", "plant_id", "taxon_id", "tagged_at", "cohort", "x_mm", "y_mm", "fate", "fate_at", "notes"),
    folded=("x_mm", "y_mm", "notes"), remembers=("unit_id", "taxon_id", "tagged_at", "cohort"),
)  # fmt: skip
MEASURE = Job(
    "Measure a plant, or plants of a plot together", "measurements",
    ("plant_id", "unit_id", "measurement_id", "visit_id", "trait", "value", "unit", "n_plants_pooled", "destructive", "method",
     "equipment_id", "measured_by", "missing", "notes"),
    folded=("missing", "notes"), remembers=("visit_id", "trait", "unit", "destructive", "method", "equipment_id", "measured_by"),
)  # fmt: skip


def field(package, trial=None, who=None):
    """Count the plots or rows of a trial: choose or begin a visit, type, see mistakes beside their line, save.

    package : Package.  trial : its id; may be left out where the first one is meant.  who : the name for the journal.
    """
    return Counting(package, PLOTS, trial, who)


def growing(package, who=None, job=None):
    """Tag plants and measure them. package : Package.  who : the name for the journal.  job : the job to begin with."""
    return JobPanel(package, "Field: plants and their size", (PLANT, MEASURE), at_hand=AT_HAND[:1], who=who, job=job)
