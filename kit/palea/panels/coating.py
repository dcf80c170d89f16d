"""The coating stage on screen: preparations, a coating or soaking run step by step, and the checks of what came out."""

from palea import schema
from palea.panels.job import Answer, Job, only_where
from palea.panels.jobs import JobPanel
from palea.panels.lines import Lines, readings
from palea.panels.run import RunPanel

AT_HAND = (
    "The seed, weighed, with its water content; a handled sham from the same lot.",
    "Binder, filler and actives, with lot numbers, strengths and data sheets.",
    "The procedure; the local risk assessment; extraction for dust, gloves, eye protection.",
)
TEACHING = """\
This stage records what was put on the seed: each preparation with its parts, each cycle of liquid and powder, drying and
screening, and what came out. From that follow build-up, dose and losses.
An example: 15 g of seed take six cycles of 1.2 mL of binder and 1.5 g of filler; 24 g come out, a build-up of 60 %."""


def coating(package, who=None):
    """Coat or soak seed: open a procedure, tick its cycles as they are done, weigh what comes out, finish.

    package : Package.  who : the name for the journal. Returns a widget; a run can be left at any step and taken up again.
    """
    answers = (
        Answer("coating.so_far", options=lambda facts: {"run": facts.get("run_id", "")}), Answer("coating.solution"),
    )  # fmt: skip
    return RunPanel(package, "Coating: a run at the bench", "coating", at_hand=AT_HAND, teaching=TEACHING,
                    answers=answers, who=who)  # fmt: skip


def preparations(package, texts):  # noqa: ARG001 - lines of every job are made of both
    """The sheet of what a material made here is made of."""
    return Lines(package, "material_parts", ("part_material_id", "amount", "unit", "basis", "notes"), given={})


MATERIAL = Job(
    "Enter a material as it was bought", "materials",
    ("material_id", "name", "role", "disclosure", "withheld_by", "cas", "supplier", "product", "supplier_batch", "expires_on",
     "active_fraction_w_w", "form", "density_g_ml", "molar_mass_g_mol", "hazards", "ghs_edition", "sds", "identifier_uri", "notes"),
    folded=("withheld_by", "identifier_uri", "form", "notes"), remembers=("disclosure", "ghs_edition"),
)  # fmt: skip
PREPARE = Job(
    "Make a solution, slurry or blend", "materials",
    ("material_id", "name", "made_at", "made_by", "ph", "density_g_ml", "disclosure", "hazards", "sds", "notes"),
    given={"role": "preparation"}, only={"role": "preparation"}, folded=("hazards", "sds", "notes"), remembers=("disclosure",),
    lines=preparations, answers=(Answer("coating.solution", "material_id"),),
)  # fmt: skip
COATED = tuple(schema.words("test_quantity", stage="coating"))  # what is tested on a coat
CHECK = Job(
    "Check what came out", "tests",
    ("lot_id", "quantity", "test_id", "method", "tested_at", "tested_by", "equipment_id", "material_id", "temperature_c",
     "rh_pct", "status", "reason", "notes"),
    folded=("material_id", "temperature_c", "rh_pct", "reason", "notes"), remembers=("lot_id", "equipment_id", "status"),
    lines=readings, answers=(
        Answer("lots.tsw", "lot_id", only_where("quantity", ("mass of units",))),
        Answer("lots.moisture", "lot_id", only_where("quantity", ("moisture",))),
        Answer("coating.units", "", only_where("quantity", COATED)), Answer("coating.build_up", "", only_where("quantity", COATED)),
    ),
)  # fmt: skip


def preparing(package, who=None, job=None):
    """Materials as bought, preparations made here, and the checks of coated seed.

    package : Package.  who : the name for the journal.  job : the job to begin with.
    """
    return JobPanel(package, "Coating: materials, preparations, checks", (PREPARE, MATERIAL, CHECK), at_hand=AT_HAND[1:],
                    who=who, job=job)  # fmt: skip
