"""What a treatment costs, by hand on small tables. All numbers here are derived by hand."""

import numpy as np
import pytest

from palea.checks.examples import examined, lot, run, several
from palea.derived import priced
from palea.derived.facts import Facts


def unit(treatment, lot_id):
    return {"units": [{"unit_id": f"U-{treatment}-{lot_id}", "treatment_id": treatment, "lot_id": lot_id, "sown_n": 25,
                       "seeds_each": 1, "status": "in use"}]}  # fmt: skip


def weighed(lot_id, grams):
    """One hundred units of a lot that weigh so many g."""
    return examined(lot_id, "mass of units", {"mass": grams}, out_of=100, unit="g")


def costs(*rows, about="AV-T03"):
    return {"costs": [
        {"cost_id": f"K{n}-{about}", "about_table": "treatments", "about_id": about, "basis": basis, "amount": amount,
         "currency": currency}
        for n, (basis, amount, *rest) in enumerate(rows) for currency in (rest or ["EUR"])
    ]}  # fmt: skip


BOUGHT = lot("AV-0", price=95.0, currency="EUR", price_basis="per kg of product")
# 100 g of pods at 5 g a thousand are 20 000; 40 g of seed at 2.5 g a thousand are 16 000: 0.8 a pod.
CLEANED = several(
    BOUGHT, lot("AV-1"), run("R1", "AV-0", "AV-1", in_g=100.0, out_g=40.0, hands_on_min=30), weighed("AV-0", 0.5),
    weighed("AV-1", 0.25), unit("AV-T03", "AV-1"), unit("AV-T01", "AV-0"),
)  # fmt: skip


def price_of(frames, *more, treatment="AV-T03"):
    rows = Facts(frames(several(CLEANED, *more)))[priced.prices]
    return rows[rows["treatment"] == treatment].to_dict("records")


def test_seed_is_priced_as_received_and_followed_through_cleaning(frames):
    (row,) = price_of(frames)
    assert row | {} == row
    assert [row[n] for n in ("price", "received_g", "clean_g", "recovery")] == pytest.approx([95, 5, 2.5, 0.8])
    assert [row[n] for n in ("per_received", "per_clean", "campaign")] == [0, 0, 0]
    (untouched,) = price_of(frames, treatment="AV-T01")
    assert [untouched[n] for n in ("received_g", "clean_g", "recovery")] == pytest.approx([5, 5, 1])


def test_work_goes_where_its_basis_says(frames):
    """30 minutes for 0.1 kg are 5 h a kg: 160 of wages at 32 an hour."""
    (row,) = price_of(frames, costs(("per hour", 32.0), ("per kg as received", 25.0), ("per kg clean seed", 20.0),
                                    ("per campaign", 300.0), ("in all", 50.0)))  # fmt: skip
    assert [row[n] for n in ("per_received", "per_clean", "campaign")] == pytest.approx([185, 20, 350])


def test_a_cost_of_product_is_brought_to_clean_seed(frames):
    """A coat that makes 2.5 g of seed into 5 g: 10 a kg of product are 20 a kg of seed."""
    coat = several(run("R2", "AV-1", "AV-2", kind="coat"), lot("AV-2"), weighed("AV-2", 0.5), unit("AV-T06", "AV-2"))
    (row,) = price_of(frames, coat, costs(("per kg product", 10.0), about="AV-T06"), treatment="AV-T06")
    assert row["per_clean"] == pytest.approx(20)
    assert row["clean_g"] == pytest.approx(2.5)


@pytest.mark.parametrize("row", [("per ha", 10.0), ("per batch", 10.0), ("per kg clean seed", None)])
def test_a_cost_that_cannot_be_told_leaves_the_treatment_unpriced(frames, row):
    assert price_of(frames, costs(row)) == []


def test_hours_without_minutes_leave_it_unpriced(frames):
    tables = several(CLEANED, costs(("per hour", 32.0)))
    for each in tables["runs"]:
        each["hands_on_min"] = None
    rows = Facts(frames(tables))[priced.prices]
    assert rows["treatment"].tolist() == ["AV-T01"]


def test_seed_priced_by_live_seed_is_not_priced_here(frames):
    tables = several(CLEANED)
    tables["lots"] = [row | {"price_basis": "per kg PLS"} for row in tables["lots"]]
    assert Facts(frames(tables))[priced.prices].empty


def test_two_currencies_are_named_together(frames):
    (row,) = price_of(frames, costs(("per campaign", 300.0, "GBP")))
    assert row["currency"] == "EUR and GBP"


def test_nothing_at_all_prices_nothing(frames):
    facts = Facts(frames({}))
    for view in (priced.stations, priced.masses, priced.hours, priced.prices, priced.against_fresh, priced.compared):
        assert len(facts[view]) == 0, view.name
    assert facts[priced.masses]["recovery"].dtype == np.float64
