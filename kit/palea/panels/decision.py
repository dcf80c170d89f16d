"""The decision stage on screen: what was found, what it costs, what it keeps in reserve, and the prices that are put in."""

from palea.panels.ask import AskPanel
from palea.panels.job import Job
from palea.panels.jobs import JobPanel

QUESTIONS = (
    "decision.contrasts", "decision.equivalence", "decision.losses", "decision.cost", "decision.cost_curve", "decision.reserve",
    "decision.mixture", "evidence.pool",
)  # fmt: skip
AT_HAND = (
    "Prices with their date, hours, the area to be sown, and your own number for the chance of a failed season.",
    "Every stage that was measured stands beside the one you ask about; a stage that was not measured is named.",
)
COST = Job(
    "Enter a price", "costs",
    ("cost_id", "about_table", "about_id", "what", "basis", "amount", "currency", "price_date", "batch_capacity_g",
     "scale_from_g", "scale_to_g", "notes"),
    folded=("batch_capacity_g", "scale_from_g", "scale_to_g", "notes"),
    remembers=("about_table", "basis", "currency", "price_date"),
)  # fmt: skip


def prices(package, who=None):
    """Enter what things cost. package : Package.  who : the name for the journal."""
    return JobPanel(package, "Decision: what things cost", (COST,), at_hand=AT_HAND[:1], who=who)


def decision(package, first=None):
    """Ask which treatment is worth its price, and what it keeps in reserve. first : id of the recipe to begin with."""
    return AskPanel(package, "Decision: which treatment, for which species and site", QUESTIONS, at_hand=AT_HAND, first=first)
