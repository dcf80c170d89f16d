"""Views behind the recipes on lots and cleaning, each held against numbers worked out by hand."""

import pandas as pd
import pytest

from palea.checks.examples import contrast, dish, examined, lot, moved, run, several, stepped, treated
from palea.derived.cleaning_runs import asked, cleaning_runs, cleaning_times
from palea.derived.converted import converted
from palea.derived.facts import Facts
from palea.derived.lot_tests import (
    bags,
    counted_groups,
    counted_seeds,
    lot_movements,
    planned_draws,
    purity_parts,
    tins,
)
from palea.derived.made_for import made_for, run_seed

VIEWS = (counted_groups, purity_parts, tins, counted_seeds, bags, lot_movements, planned_draws, made_for, run_seed,
         cleaning_runs, cleaning_times, asked)  # fmt: skip


@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.name)
def test_empty_tables_give_empty_views_with_all_columns(frames, view):
    found = Facts(frames({}))[view]
    assert found.empty
    assert "taxon" in found or view in (planned_draws, run_seed)


def test_units_are_brought_to_one_and_a_share_is_no_count():
    unit = pd.Series(["kg", "mg", "%", "1", "mL", None], dtype=pd.StringDtype("pyarrow"))
    values = pd.Series([2.0, 500.0, 84.0, 84.0, 3.0, 1.0])
    assert converted(values, unit, "g").fillna(-1).tolist() == pytest.approx([2000.0, 0.5, -1.0, -1.0, -1.0, -1.0])
    assert converted(values, unit, "1").fillna(-1).tolist() == [-1.0, -1.0, -1.0, 84.0, -1.0, -1.0]


def test_groups_come_in_grams_with_their_count(frames):
    found = Facts(frames(several(
        lot("A", seed_unit="legume"), lot("B", seed_unit="seed"),
        examined("A", "mass of units", {"mass": 520.0}, {"mass": 510.0}, unit="mg", out_of=100),
        examined("B", "mass of units", {"mass": 0.27}, unit="g", out_of=100, reported=True),
    )))[counted_groups]  # fmt: skip
    assert found["mass_g"].tolist() == pytest.approx([0.52, 0.51])
    assert found["count"].tolist() == [100.0, 100.0]
    assert found["chaffy"].all()
    assert found["taxon"].tolist() == ["AV", "AV"]


def test_a_part_that_was_not_weighed_is_no_zero(frames):
    found = Facts(frames(several(
        lot("A"), examined("A", "purity", {"pure seed": 9.0, "sample": 10.0}, {"pure seed": 9.1, "other seed": 0, "inert": 0.8},
                           unit="g"))))[purity_parts]  # fmt: skip
    assert found["pure_g"].tolist() == [9.0, 9.1]
    assert found["other_g"].isna().tolist() == [True, False]
    assert found["sample_g"].isna().tolist() == [False, True]


def test_an_item_entered_twice_is_taken_as_it_stands_first(frames):
    twice = several(lot("A"), examined("A", "fill", {"filled": 84, "empty": 16}, out_of=100))
    twice["readings"].append(twice["readings"][0] | {"value": 85})
    found = Facts(frames(twice))[counted_seeds]
    assert found[["k", "n"]].to_numpy().tolist() == [[84, 100]]


def test_only_the_last_day_counts_for_what_changes(frames):
    meter = {"meter": 9.0}
    first = examined("A", "moisture", meter, unit="%", at="2025-02")
    then = examined("A", "moisture", {"meter": 5.0}, unit="%", at="2025-06-01")
    undated = examined("A", "moisture", {"meter": 7.0}, unit="%", at=None)
    for number, example in enumerate((first, then, undated)):
        for row in (*example["tests"], *example["readings"]):
            row["test_id"] += str(number)
    assert Facts(frames(several(lot("A"), first, then, undated)))[tins]["meter_pct"].tolist() == [5.0]
    assert Facts(frames(several(lot("A"), undated)))[tins]["meter_pct"].tolist() == [7.0]


def test_what_is_counted_and_of_what(frames):
    """Viability is of seeds, so of filled units; germination splits into what germinated and what waits."""
    grown = {"normal": 60, "abnormal": 5, "hard": 20, "fresh": 3, "dead": 12}
    found = Facts(frames(several(
        lot("A"), examined("A", "fill", {"filled": 84, "empty": 16}, out_of=100),
        examined("A", "viability", {"viable": 45, "dead": 5}), examined("A", "germination", grown, out_of=100),
    )))[counted_seeds]  # fmt: skip
    told = found.set_index("quantity")[["denominator", "k", "n"]].to_numpy().tolist()
    assert told == [["", 84, 100], ["filled", 45, 50], ["", 65, 100], ["", 23, 100]]


def test_waiting_seed_that_nobody_looked_for_is_not_there(frames):
    found = Facts(frames(several(lot("A"), examined("A", "germination", {"normal": 60}, out_of=100))))[counted_seeds]
    assert found["quantity"].tolist() == ["germinated"]


def test_bags_are_lots_in_use_that_were_bought_or_tested(frames):
    found = Facts(frames(several(
        lot("A", price=95.0, currency="EUR", price_basis="per kg PLS"), lot("B"), lot("C", status="used up", price=3.0),
        moved("received", "A", mass_g=1000), moved("sown", "A", "2025-03-01", 20))))[bags]  # fmt: skip
    (row,) = found.to_dict("records")
    assert (row["lot"], row["mass_g"], row["price"], row["per_g"], row["per_pure_live"]) == ("A", 980, 95, 1000, True)


def test_movements_come_in_order_with_both_sides_of_a_transfer(frames):
    found = Facts(frames(several(
        lot("A"), lot("B"), moved("weighed", "A", "2025-03-01", 79), moved("received", "A", "2025-02-01", 100, moisture_pct=10),
        moved("moved to lot", "A", "2025-03-01", 20, counterpart_lot_id="B"), moved("sown", "A", "2025-04-01"),
    )))[lot_movements]  # fmt: skip
    of_a = found[found["lot"].eq("A")]
    assert of_a["signed_g"].fillna(0).tolist() == [100, -20, 0, 0]
    assert of_a["weighed_g"].fillna(0).tolist() == [0, 0, 79, 0]
    assert of_a["moisture_pct"].fillna(0).tolist() == [10, 0, 0, 0]
    assert found.loc[found["lot"].eq("B"), "signed_g"].tolist() == [20]


def test_seed_that_is_planned_but_not_drawn(frames):
    """25 seeds at 2.7 g a thousand are 0.0675 g; a unit placed or drawn for is not waiting."""
    units = [{"unit_id": f"D{n}", "trial_id": trial, "lot_id": "A", "sown_n": 25, "status": "in use"} | more
             for n, (trial, more) in enumerate((("G1", {}), ("G1", {"placed_at": "2025-03-01"}), ("G2", {}),
                                                ("G1", {"status": "lost"})))]  # fmt: skip
    found = Facts(frames(several(
        lot("A"), {"units": units}, moved("sown", "A", trial_id="G2"),
        examined("A", "mass of units", {"mass": 0.27}, unit="g", out_of=100))))[planned_draws]  # fmt: skip
    assert found["grams"].tolist() == pytest.approx([0.0675])


def cleaned(**more):
    """300 g of pods at 10 % water and 5 g a thousand, 80 % filled, cleaned to 120 g of seed at 5 % and 2.5 g."""
    made = several(
        lot("AV-0", seed_unit="legume"), lot("AV-1", seed_unit="seed", fraction="main"),
        run("R1", "AV-0", "AV-1", in_g=300.0, out_g=120.0, hands_on_min=56.0, protocol_id="brush"),
        examined("AV-0", "mass of units", {"mass": 0.5}, unit="g", out_of=100),
        examined("AV-1", "mass of units", {"mass": 0.25}, unit="g", out_of=100),
        examined("AV-0", "fill", {"filled": 80, "empty": 20}, out_of=100),
        examined("AV-1", "breakage", {"whole": 88, "scratched": 8, "broken": 2, "in the hull": 2}, out_of=100),
        treated("AV-T03", clean_method="brush machine"), dish(lot_id="AV-1", treatment="AV-T03"),
    )  # fmt: skip
    made["movements"][0]["moisture_pct"], made["movements"][1]["moisture_pct"] = more.get("water", (10.0, 5.0))
    return made


def test_a_cleaning_run_in_dry_matter(frames):
    """Dry: 270 and 114 g; 4.5 and 2.375 g a thousand: 60 000 and 48 000 units whatever the water. Derived by hand."""
    (row,) = Facts(frames(cleaned()))[cleaning_runs].to_dict("records")
    assert (row["taxon"], row["treatment"], row["control"], row["batch"]) == ("AV", "AV-T03", False, "R1")
    assert (row["raw_g"], row["clean_g"]) == pytest.approx((270, 114))
    assert row["raw_g"] / row["raw_thousand_g"] == pytest.approx(60)
    assert row["clean_g"] / row["clean_thousand_g"] == pytest.approx(48)
    assert (row["filled_in"], row["damaged_k"], row["damaged_n"], row["minutes"]) == (0.8, 10, 100, 56)
    assert pd.isna(row["filled_out"])
    assert pd.isna(row["viable_in"])


def test_without_a_water_content_all_masses_are_taken_as_they_lay(frames):
    (row,) = Facts(frames(cleaned(water=(10.0, None))))[cleaning_runs].to_dict("records")
    assert (row["raw_g"], row["clean_g"], row["raw_thousand_g"]) == (300, 120, 5)


def test_a_run_of_which_nothing_was_sown_is_told_by_its_procedure(frames):
    more = several(cleaned(), lot("AV-2"), run("R2", "AV-0", "AV-2", protocol_id="brush"), lot("AV-3"),
                   run("R3", "AV-0", "AV-3", protocol_id="flame"))  # fmt: skip
    found = Facts(frames(more))[made_for]
    assert found.set_index("run")["treatment"].to_dict() == {"R1": "AV-T03", "R2": "AV-T03"}


def test_a_withdrawn_run_gives_no_seed(frames):
    example = cleaned()
    example["runs"][0]["status"] = "withdrawn"
    assert Facts(frames(example))[cleaning_runs].empty


def test_capacity_is_of_the_machine_and_not_of_the_balance(frames):
    example = several(
        cleaned(), stepped("R1", {"action": "weigh", "equipment_id": "S"}, {"action": "brush", "equipment_id": "B"}),
        {"equipment": [{"equipment_id": "S", "kind": "balance", "capacity_g": 200.0},
                       {"equipment_id": "B", "kind": "brush machine", "capacity_g": 300.0}]},
    )  # fmt: skip
    (row,) = Facts(frames(example))[cleaning_times].to_dict("records")
    assert (row["capacity_g"], row["sets_up"], row["raw_g"], row["minutes"]) == (300, True, 300, 56)


def test_a_contrast_on_cleaning_is_asked_of_runs(frames):
    hand = several(lot("CC-0", taxon="CC"), lot("CC-2", taxon="CC"), run("R2", "CC-0", "CC-2"),
                   treated("CC-T02", clean_method="hand"), dish("D2", "CC-2", "CC-T02"))  # fmt: skip
    declared = contrast("AV-T03", "CC-T02", outcome="recovery of filled units", margin=5.0, kind="equivalence")
    found = Facts(frames(several(cleaned(), hand, declared, contrast("AV-T03", "CC-T02"))))[asked]
    (row,) = found.to_dict("records")
    assert row["refused"] == "AV-T03 and CC-T02 were not cleaned from the same received lot."
    assert row["margin_late"], "declared on 2025-02-20, cleaned on 2025-02-01"
    assert row["taxon"] == "AV"


def test_what_came_out_of_a_run_is_parted(frames):
    """Main 90, multiples 5, fines 3: product 95, rest 3; one unknown water content makes its sum of dry matter unknown."""
    out = [moved("made", name, mass_g=grams, run_id="R1", moisture_pct=water)
           for name, grams, water in (("M", 5.0, 10.0), ("F", 3.0, None))]  # fmt: skip
    found = Facts(frames(several(
        lot("A"), lot("P", fraction="main"), lot("M", fraction="multiples"), lot("F", fraction="fines"),
        run("R1", "A", "P", kind="coat"), *out)))[run_seed]  # fmt: skip
    (row,) = found.to_dict("records")
    assert (row["seed_g"], row["product_g"], row["main_g"], row["rest_g"]) == (100, 95, 90, 3)
    assert pd.isna(row["product_dry_g"])
    assert pd.isna(row["rest_dry_g"])
    assert (row["lot"], row["main"]) == ("A", "P")
