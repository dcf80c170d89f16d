"""Whether the instruments behind tests and masses were in calibration on the day."""

from palea import schema
from palea.checks.examples import examined, lot, moved, several
from palea.checks.rule import rule
from palea.derived.calibration import held_until, overdue
from palea.derived.spoken import dimensions, surely_before, unsaid


def _calibrated(*, done="2024-01-10", due="2025-01-31", quantity="mass", **more):
    return {"calibrations": [{"equipment_id": "B1", "done_on": done, "due_on": due, "quantity": quantity} | more]}


_BALANCE = {"equipment": [{"equipment_id": "B1", "kind": "balance"}]}
_TESTED = several(lot("AV-0"), _BALANCE, examined("AV-0", "purity", at="2025-02-10", equipment_id="B1"))


@rule(
    "lots.instrument-overdue", severity="warning", reads=("tests", held_until), at="tests.equipment_id",
    says="Test {test_id} was done on {tested_at} with {equipment_id}, whose calibration ({calibrated}) held until {due_on}.",
    remedy="Enter the later calibration if there was one. Else check the instrument, and repeat the test if it was off.",
    fires=several(_TESTED, _calibrated()), nearly=several(_TESTED, _calibrated(due="2025-02")),
)  # fmt: skip
def instrument_overdue(tests, held_until):
    """The last calibration before the test still held on its day."""
    late = overdue(tests["equipment_id"], tests["tested_at"], held_until)
    return tests.loc[late.index].assign(due_on=late["due_on"], calibrated=late["quantity"])


@rule(
    "lots.balance-overdue", severity="warning", reads=("movements", held_until), at="movements.equipment_id",
    says="{equipment_id} was used on {moved_at} ({n} weighings of seed from then on), and its calibration held until {due_on}.",
    remedy="Enter the later calibration if there was one. Else check the balance with a known mass and note what it showed.",
    fires=several(lot("AV-0"), _BALANCE, _calibrated(), moved("received", "AV-0", "2025-02-10", 5, equipment_id="B1")),
    nearly=several(lot("AV-0"), _BALANCE, _calibrated(), moved("received", "AV-0", "2025-01", 5, equipment_id="B1")),
)  # fmt: skip
def balance_overdue(movements, held_until):
    """Told once a balance: every mass after that day rests on it."""
    late = overdue(movements["equipment_id"], movements["moved_at"], held_until)
    told = movements.loc[late.index].assign(due_on=late["due_on"])
    told = told.assign(n=told.groupby("equipment_id")["equipment_id"].transform("size"))
    return told.sort_values("moved_at", kind="stable").drop_duplicates("equipment_id")


@rule(
    "lots.calibration-backwards", severity="error", reads=("calibrations",), at="calibrations.due_on",
    says="{equipment_id} was calibrated on {done_on}, and its calibration is said to hold until {due_on}, which is before.",
    remedy="Look whether the two days were swapped, or a year is wrong.",
    fires=several(_BALANCE, _calibrated(due="2023-01-31")), nearly=several(_BALANCE, _calibrated(due="2024")),
)  # fmt: skip
def calibration_backwards(calibrations):
    """A calibration holds from its day on."""
    return calibrations[surely_before(calibrations["due_on"], calibrations["done_on"])]


@rule(
    "lots.calibration-unit-unfit", severity="error", reads=("calibrations",), at="calibrations.unit",
    says="{equipment_id}: a calibration of {quantity} is stated in {unit}, which is no unit of it.",
    remedy="Take unit and quantity from the certificate.",
    fires=several(_BALANCE, _calibrated(unit="mL")), nearly=several(_BALANCE, _calibrated(unit="mg")),
)  # fmt: skip
def calibration_unit_unfit(calibrations):
    """Mass is calibrated in a unit of mass; any unit of that dimension will do."""
    own = calibrations["quantity"].map({w: schema.word("calibrated", w)["unit"] for w in schema.words("calibrated")})
    return calibrations[dimensions(own).ne(dimensions(calibrations["unit"])).fillna(value=False)]


@rule(
    "lots.calibration-off", severity="warning", reads=("calibrations",), at="calibrations.found",
    says="{equipment_id} showed {found} {unit} for a true {reference} {unit} on {done_on}: {off} {unit} off, with an "
    "uncertainty of {uncertainty} {unit}.",
    remedy="Say in the notes how readings were corrected, or that the instrument was set right on that day.",
    fires=several(_BALANCE, _calibrated(unit="g", reference=100.0, found=100.5, uncertainty=0.01)),
    nearly=several(_BALANCE, _calibrated(unit="g", reference=100.0, found=100.02, uncertainty=0.01)),
)  # fmt: skip
def calibration_off(calibrations):
    """Three times the expanded uncertainty is no chance; a note about it answers the question. Common practice, no source."""
    told = calibrations.assign(off=(calibrations["found"] - calibrations["reference"]).abs().round(9))
    return told[(told["off"] > 3 * told["uncertainty"]) & (told["uncertainty"] > 0) & told["notes"].isna() & told["unit"].notna()]


@rule(
    "lots.test-without-reason", severity="gap", reads=("tests",), at="tests.reason",
    says="Test {test_id} of lot {lot_id} is {status}, and nobody said why.",
    remedy="Say what was wrong with it, so that a reader knows whether the lot or the test is in doubt.",
    fires=examined("AV-0", "fill", status="withdrawn"), nearly=examined("AV-0", "fill", status="valid"),
)  # fmt: skip
def test_without_reason(tests):
    """A test that is doubted, repeated or withdrawn has a reason."""
    return tests[tests["status"].notna() & tests["status"].ne("valid").fillna(value=False) & unsaid(tests, "reason")]


@rule(
    "lots.assay-of-what", severity="gap", reads=("tests",), at="tests.material_id",
    says="Test {test_id} of lot {lot_id} is an assay, and nothing says of which active.",
    remedy="Name the material that was looked for; the dose cannot be told without it.",
    fires=examined("AV-1", "assayed active"), nearly=examined("AV-1", "assayed active", material_id="GA3"),
)  # fmt: skip
def assay_of_what(tests):
    """An assay finds a substance."""
    return tests[tests["quantity"].isin(schema.words("test_quantity", gives="dose")) & unsaid(tests, "material_id")]


RULES = (instrument_overdue, balance_overdue, calibration_backwards, calibration_unit_unfit, calibration_off,
         test_without_reason, assay_of_what)  # fmt: skip
