"""A package made from an open dataset: the numbers are those of the source, and what it does not tell stays blank."""

import numpy as np
import pytest

import palea
from palea.checks import checklist, run
from palea.demo.published_plots import STAGES, write
from palea.shipped import folder

SHIPPED = folder("datapackages_demo") / "published/seed-treatment-plots"
TRUE = {
    "lots.sown-untested": "the source tests no seed",
    "lots.movement-lacks": "nothing was weighed",
    "lots.movement-unmeasured": "as above",
    "field.no-weather": "no weather is given",
}


@pytest.fixture(scope="module")
def package():
    return palea.open_package(SHIPPED)


def test_the_shipped_package_is_what_is_written(tmp_path):
    written = write(tmp_path / "p").folder
    names = [p.relative_to(SHIPPED) for p in SHIPPED.rglob("*") if p.is_file()]
    assert names
    assert [n for n in names if (written / n).read_bytes() != (SHIPPED / n).read_bytes()] == []


def test_it_says_only_what_is_true(package):
    told = {f.rule: f.severity for f in run.findings_of(package)}
    assert {"error", "warning"} & set(told.values()) == set()
    assert set(told) == set(TRUE)


def test_frictionless_calls_it_valid():
    import frictionless

    assert frictionless.validate(str(SHIPPED / "datapackage.json")).valid


@pytest.mark.parametrize(
    ("treatment", "mean", "error"), [("treated", 53.17857, 1.416133), ("untreated", 47.75, 1.672707)]
)
def test_the_means_are_those_of_the_source(package, treatment, mean, error):
    """Plants at VC in both counted rows, mean and standard error of 28 plots, computed from the authors' own tidy file."""
    units, counts = package["units"], package["counts"]
    mine = counts[
        counts["visit_id"].eq(STAGES[0])
        & counts["unit_id"].isin(units.loc[units["treatment_id"].eq(treatment), "unit_id"])
    ]
    count = mine["count"].to_numpy(float)
    assert len(count) == 28
    assert count.mean() == pytest.approx(mean, abs=5e-6)
    assert np.std(count, ddof=1) / np.sqrt(28) == pytest.approx(error, abs=5e-7)


def test_cultivars_are_numbered_and_no_product_is_named(package):
    assert {lot.removesuffix("-T") for lot in package["lots"]["lot_id"]} == {f"V{n}" for n in range(1, 8)}
    assert package["materials"][["supplier", "product"]].isna().all(axis=None)


def test_the_treatment_of_the_seed_scores_low(package):
    rows = {(r["stage"], r["weight"]): r for r in checklist.tally(checklist.evaluate(package))}
    essential = rows["coating", "essential"]
    assert essential["reported"] < essential["applicable"] / 3
