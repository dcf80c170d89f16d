"""A contractor's coat on screen: what was sent, what was asked, what came back, and what is told of it."""

from palea.panels.coating import CHECK, MATERIAL
from palea.panels.job import Answer, Job
from palea.panels.jobs import JobPanel
from palea.panels.lots import DRAW, KEEP, RECEIVE

AT_HAND = (
    "The delivery note, the bag as it came back, and a balance.",
    "The keep-sample of what was sent: without it nothing is left to compare with. Seed that travelled uncoated is better still.",
)
TEACHING = """\
This stage records a coat that somebody else put on: what was sent, what was asked for, what came back, and for every part
of the recipe whether it is told, withheld and by whom, or was not asked for. What can be measured is measured: build-up,
seeds in a unit, wash water, dust, and germination against the seed that was kept.
An example: 1000 g are sent and 2300 g come back; the recipe is withheld by the contractor, who is named."""

SEND = Job(
    "Record the contractor's run", "runs",
    ("run_id", "kind", "contractor", "asked_for", "disclosure", "started_at", "ended_at", "done_by", "batch_label",
     "keep_lot_id", "protocol_id", "version", "status", "reason", "deviations", "notes"),
    given={"place_kind": "contractor"}, only={"place_kind": "contractor"},
    folded=("protocol_id", "version", "reason", "deviations", "notes"), remembers=("contractor", "kind", "disclosure"),
    answers=(Answer("coating.balance"),),
)  # fmt: skip
CAME_BACK = Job(
    "Enter what came back", "lots",
    ("lot_id", "taxon_id", "seed_unit", "movements.run_id", "movements.moved_at", "movements.mass_g", "movements.moisture_pct",
     "movements.moved_by", "prior_treatment", "prior_treatment_text", "status", "notes"),
    given={"source_kind": "made by contractor", "movements.kind": "made"}, only={"source_kind": "made by contractor"},
    folded=("notes",), answers=(Answer("coating.build_up"), Answer("coating.units")),
)  # fmt: skip


def outsourced(package, job=None, who=None):
    """Record a coat of unknown or partly known recipe: sent, asked, returned, told, measured.

    package : Package.  job : the job to begin with.  who : the name for the journal.
    """
    jobs = (SEND, CAME_BACK, MATERIAL, CHECK, KEEP, DRAW, RECEIVE)
    return JobPanel(package, "Outsourced: a coat that somebody else put on", jobs, at_hand=AT_HAND, teaching=TEACHING, who=who,
                    job=job)  # fmt: skip
