"""Views behind the rules on lots, runs and instruments, each held against numbers worked out by hand."""

import pandas as pd
import pytest

from palea.checks.examples import dish, examined, lot, moved, run, several
from palea.derived.calibration import held_until, overdue
from palea.derived.facts import Facts
from palea.derived.hazards import dangers
from palea.derived.ledger import arrivals, weighings
from palea.derived.recovery import one_seeded, recovery
from palea.derived.spoken import amounts, dimensions, lacking, surely_before, unsaid
from palea.derived.tests_of_lots import counted, counting, share_of, sorted_units, thousand

TEXT = pd.StringDtype("pyarrow")


def text(*values):
    return pd.Series(list(values), dtype=TEXT)


def test_a_date_comes_surely_before_another_only_where_their_spans_are_apart():
    first, then = text("2025-02", "2025-02", "2025-02-03", None), text("2025-03-01", "2025-02-28", "2025-02-03", "2025")
    assert surely_before(first, then).tolist() == [True, False, False, False]


def test_a_blank_with_a_reason_is_said(frames):
    runs = frames({"runs": [{"run_id": "R1"}, {"run_id": "R2", "why_blank": "room_c: not recorded; reason: lost"},
                            {"run_id": "R3", "why_blank": "my_reason: lost"}, {"run_id": "R4", "reason": "x"}]})["runs"]
    assert unsaid(runs, "reason").tolist() == [True, False, True, False]


def test_what_a_row_lacks_is_named_by_its_titles(frames):
    steps = frames({"run_steps": [{"run_id": "R1", "step": 1, "action": "brush", "duration_s": 9.0}, {
        "run_id": "R1", "step": 2, "action": "wait"}, {"run_id": "R1", "step": 3, "action": "look"}]})["run_steps"]
    asked = {"brush": ["equipment_id", "duration_s"], "wait": ["duration_s"]}
    assert lacking(steps, "run_steps", steps["action"], asked).tolist() == ["“With”", "“Duration”", ""]


def test_amounts_come_in_the_base_unit_of_their_dimension_only():
    unit, amount = text("kg", "mg", "mL", None), pd.Series([2.0, 500.0, 3.0, 4.0])
    assert amounts(amount, unit, "mass").fillna(-1).tolist() == [2000.0, 0.5, -1.0, -1.0]
    assert dimensions(unit).fillna("").tolist() == ["mass", "mass", "volume", ""]


def test_the_mass_of_a_thousand_is_of_all_groups(frames):
    """Two groups of 100 at 0.50 and 0.54 g: 5.2 g a thousand, CV 100 * 0.2828 / 5.2 = 5.44 %. Derived by hand."""
    facts = Facts(frames(several(lot("AV-0", seed_unit="legume"), examined(
        "AV-0", "mass of units", {"mass": 500.0}, {"mass": 540.0}, unit="mg", out_of=100))))
    (row,) = facts[thousand].to_dict("records")
    assert row["tsw_g"] == pytest.approx(5.2)
    assert row["cv_pct"] == pytest.approx(5.44, abs=0.005)
    assert (row["groups"], row["seed_unit"]) == (2, "legume")


def test_withdrawn_tests_and_percentages_are_no_counts(frames):
    fill = {"filled": 84, "empty": 16}
    facts = Facts(frames(several(
        lot("A"), lot("B"), lot("C"), examined("A", "fill", fill, {"filled": 80, "empty": 10}, out_of=100),
        examined("B", "fill", fill, out_of=100, status="withdrawn"), examined("C", "fill", fill, unit="%", reported=True),
    )))
    assert share_of(facts[counted], "fill", ("filled",)).to_dict("index") == {"A": {"k": 164.0, "n": 200.0}}
    assert facts[sorted_units]["total"].tolist() == [100.0, 90.0]


def test_quantities_that_sort_units_are_told_by_their_items():
    assert {"fill", "viability", "breakage"} <= set(counting())
    assert not {"purity", "mass of units", "wash water", "label"} & set(counting())


def brushed(**pods):
    """100 g of pods at 5 g a thousand, 80 % filled; 40 g of seed at 2.5 g a thousand came out."""
    return several(
        lot("AV-0", seed_unit="legume"), lot("AV-1", seed_unit="seed"), run("R1", "AV-0", "AV-1", out_g=40.0),
        examined("AV-0", "mass of units", {"mass": 0.5}, unit="g", out_of=100),
        examined("AV-1", "mass of units", {"mass": 0.25}, unit="g", out_of=100),
        examined("AV-0", "fill", {"filled": 80, "empty": 20}, out_of=100), dish(lot_id="AV-0", **pods),
    )


def test_recovery_by_number(frames):
    """100 g / 5 g = 20 000 pods, 16 000 of them filled; 40 g / 2.5 g = 16 000 seeds. Derived by hand."""
    (row,) = Facts(frames(brushed()))[recovery].to_dict("records")
    assert (row["units_in"], row["filled_in"], row["units_out"]) == (20_000, 16_000, 16_000)
    assert pd.isna(row["filled_out"])
    assert row["single"]


def test_units_that_may_hold_several_seeds_are_not_one_seeded(frames):
    facts = Facts(frames(brushed(seeds_each=1.4)))
    assert facts[one_seeded].empty
    assert not facts[recovery]["single"].any()


def test_seed_is_there_from_its_first_arrival(frames):
    facts = Facts(frames(several(moved("received", "A", "2025-02", 5), moved("received", "A", "2025-03-01", 5),
                                 moved("moved to lot", "A", "2025-04-01", 1, counterpart_lot_id="B"))))
    since = facts[arrivals].set_index("lot")["since"].astype(str)
    assert since.str[:10].to_dict() == {"A": "2025-02-01", "B": "2025-04-01"}


def test_the_book_is_a_span_where_the_order_within_a_day_is_not_known(frames):
    facts = Facts(frames(several(
        moved("received", "A", "2025-02-01", 100, moisture_pct=10), moved("sown", "A", "2025-03-01", 20),
        moved("sown", "A", "2025-05-01", 7), moved("weighed", "A", "2025-03-01", 80, moisture_pct=5))))
    (row,) = facts[weighings].to_dict("records")
    assert (row["least_mass_g"], row["most_mass_g"]) == (80, 100)
    assert row["dry_g"] == pytest.approx(76)
    assert pd.isna(row["least_dry_g"])
    assert row["most_dry_g"] == pytest.approx(90)


def test_an_instrument_is_overdue_by_its_last_calibration_before_the_day(frames):
    held = Facts(frames({"calibrations": [
        {"equipment_id": "B1", "done_on": "2023-01-10", "quantity": "mass", "due_on": "2024-01-31"},
        {"equipment_id": "B1", "done_on": "2024-02-10", "quantity": "mass", "due_on": "2025-01-31"},
        {"equipment_id": "B2", "done_on": "2024-02-10", "quantity": "mass"},
    ]}))[held_until]  # fmt: skip
    used = text("B1", "B1", "B1", "B2", "B1", "B9")
    on = text("2023-05-01", "2024-02-05", "2024-03-01", "2030-01-01", "2022-12-31", "2024-01-01")
    assert overdue(used, on, held)["due_on"].to_dict() == {1: "2024-01-31"}


def test_drops_of_acid_for_a_ph_are_no_bath_of_acid(frames):
    steps = [{"run_id": r, "step": 1, "action": a, "material_id": m}
             for r, a, m in (("R1", "soak in acid", "HCL"), ("R2", "set ph", "HCL"), ("R3", "flame", None), ("R4", "mix", "GAS"))]
    facts = Facts(frames({"run_steps": steps, "materials": [
        {"material_id": "HCL", "role": "acid"}, {"material_id": "GAS", "role": "fuel"}]}))
    assert facts[dangers]["run"].tolist() == ["R1", "R3", "R4"]
