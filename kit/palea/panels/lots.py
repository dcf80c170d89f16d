"""The lots stage on screen: what came in the bag, what was tested, what was drawn, and what is left."""

from palea import schema
from palea.panels.job import Answer, Job, only_where
from palea.panels.jobs import JobPanel
from palea.panels.lines import readings

AT_HAND = (
    "The bag, its collection sheet, the permit, and what is known of earlier treatment.",
    "For a test: raw readings alone (grams, counts, tins); percentages are computed from them.",
)
TEACHING = """\
This stage keeps where each lot of seed came from, what was tested on it, and every gram that was drawn. From that follow
purity, thousand-seed weight, moisture, live seed, what a live seed costs, and what is left.
An example: a bag of 1800 g comes in. You write species, place and day, weigh the bag, set 60 g aside as a keep-sample and
draw 13 g for a purity test. Begin with the people and the species: choose “Name a person” below."""

RECEIVED = {
    "movements.kind": "received", "movements.moved_by": lambda typed: typed.get("movements.moved_by", ""),
}  # fmt: skip
RECEIVE = Job(
    "Receive a lot", "lots",
    ("lot_id", "taxon_id", "seed_unit", "source_kind", "movements.moved_at", "movements.mass_g", "movements.moisture_pct",
     "movements.counterpart_person", "movements.moved_by", "movements.equipment_id", "collected_from", "collected_to",
     "country", "place", "mother_plants", "prior_treatment", "prior_treatment_text", "permit", "permit_may_share", "price",
     "currency", "price_basis", "priced_on", "latitude", "longitude", "coordinate_uncertainty_m", "status", "notes"),
    given=RECEIVED, folded=("latitude", "longitude", "coordinate_uncertainty_m", "status", "notes"),
    headings={"movements.moved_at": "The bag as it came", "collected_from": "Where it grew", "price": "What it cost"},
    remembers=("country", "currency", "price_basis"),
    answers=(Answer("lots.balance", "lot_id"),),
)  # fmt: skip
KEEP = Job(
    "Set a keep-sample aside", "lots", ("keep_of", "lot_id", "movements.moved_at", "movements.mass_g", "movements.drawn_how",
                                        "movements.moved_by", "movements.equipment_id", "seed_unit", "taxon_id", "notes"),
    given={
        "fraction": "keep-sample", "source_kind": "made here", "status": "in use", "movements.kind": "moved to lot",
        "movements.lot_id": lambda typed: typed.get("keep_of", ""),
        "movements.counterpart_lot_id": lambda typed: typed.get("lot_id", ""),
    },
    only={"fraction": "keep-sample"}, folded=("notes",), answers=(Answer("lots.balance", "keep_of"),),
)  # fmt: skip
DRAW = Job(
    "Draw, weigh or move seed", "movements",
    ("lot_id", "kind", "movement_id", "moved_at", "mass_g", "seed_units", "moisture_pct", "drawn_how", "primary_samples",
     "run_id", "trial_id", "counterpart_lot_id", "counterpart_person", "moved_by", "equipment_id", "notes"),
    folded=("counterpart_person", "notes"), remembers=("lot_id", "kind", "drawn_how", "equipment_id"),
    answers=(Answer("lots.balance", "lot_id"),),
)  # fmt: skip
COUNTED = tuple(schema.words("test_quantity", stage="lots"))
TEST = Job(
    "Test a lot", "tests",
    ("lot_id", "quantity", "test_id", "movement_id", "method", "tested_at", "tested_by", "equipment_id", "temperature_c",
     "rh_pct", "material_id", "status", "reason", "notes"),
    folded=("movement_id", "temperature_c", "rh_pct", "material_id", "reason", "notes"),
    remembers=("lot_id", "equipment_id", "status"), lines=readings,
    answers=(
        Answer("lots.tsw", "lot_id", only_where("quantity", ("mass of units",))),
        Answer("lots.purity", "lot_id", only_where("quantity", ("purity",))),
        Answer("lots.moisture", "lot_id", only_where("quantity", ("moisture",))),
        Answer("lots.viability", "lot_id", only_where("quantity", COUNTED)),
        Answer("lots.pure_live_seed", "lot_id", only_where("quantity", COUNTED)),
    ),
)  # fmt: skip
STORE = Job(
    "Store a lot", "storage",
    ("lot_id", "storage_id", "from_at", "to_at", "place", "temperature_c", "rh_pct", "container", "sealed", "notes"),
    folded=("notes",), remembers=("place", "temperature_c", "rh_pct", "container", "sealed"),
)  # fmt: skip
SPECIES = Job(
    "Name a species", "taxa",
    ("taxon_id", "scientific_name", "authorship", "family", "name_as_received", "identified_by", "voucher",
     "place_sensitivity", "taxon_uri", "notes"),
    folded=("taxon_uri", "notes"),
)  # fmt: skip
PERSON = Job(
    "Name a person or a firm", "people",
    ("person_id", "kind", "name", "role", "organisation", "orcid", "ror", "consent_to_publish"), folded=("orcid", "ror"),
)  # fmt: skip
INSTRUMENT = Job(
    "Enter an instrument", "equipment",
    ("equipment_id", "kind", "maker", "model", "serial", "bowl_diameter_mm", "capacity_g", "pid", "notes"),
    folded=("bowl_diameter_mm", "capacity_g", "pid", "notes"),
)  # fmt: skip
CALIBRATE = Job(
    "Calibrate an instrument", "calibrations",
    ("equipment_id", "done_on", "quantity", "due_on", "reference", "found", "uncertainty", "unit", "done_by", "notes"),
    folded=("notes",), remembers=("equipment_id", "quantity", "reference", "unit"),
)  # fmt: skip


def lots(package, job=None, who=None):
    """Receive, test, draw and store seed; what follows is told while you type.

    package : Package.  job : the job to begin with, as the list of jobs names it.  who : the name for the journal.
    Returns a widget; what is typed is on disk as a draft at once, and `panel.package` is the package as last saved.
    """
    jobs = (RECEIVE, KEEP, TEST, DRAW, STORE, SPECIES, PERSON, INSTRUMENT, CALIBRATE)
    return JobPanel(package, "Lots: what came, what it is worth, what is left", jobs, at_hand=AT_HAND, teaching=TEACHING,
                    who=who, job=job, first=tuple(j.title for j in (PERSON, SPECIES, RECEIVE, TEST)))  # fmt: skip

