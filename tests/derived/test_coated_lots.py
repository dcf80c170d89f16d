"""Views behind the recipes on coats, soaks and preparations, each held against numbers worked out by hand."""

import numpy as np
import pandas as pd
import pytest

from palea.checks.examples import contrast, dish, examined, lot, percent, run, several, stepped, treated
from palea.derived.coat_doses import batch_doses, route_pairs
from palea.derived.coated_lots import (
    batch_settings,
    coated_batches,
    coating_flows,
    disintegration_times,
    dust_tests,
    opened_units,
    single_masses,
    unit_masses,
    washed_units,
)
from palea.derived.facts import Facts
from palea.derived.planned_steps import figures, planned_steps
from palea.derived.preparations import contents, preparation_parts, put_on

VIEWS = (coated_batches, unit_masses, washed_units, opened_units, single_masses, disintegration_times, dust_tests,
         batch_doses, route_pairs, coating_flows, planned_steps, batch_settings, preparation_parts)  # fmt: skip


@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.name)
def test_empty_tables_give_empty_views_with_all_columns(frames, view):
    found = Facts(frames({}))[view]
    assert found.empty
    assert {"treatment", "a", "material"} & set(found)


MATERIALS = [
    {"material_id": "water", "role": "solvent", "density_g_ml": 1.0},
    {"material_id": "pva", "role": "binder"},
    {"material_id": "glue", "role": "preparation", "density_g_ml": 1.02},
    {"material_id": "kaolin", "role": "filler"},
    {"material_id": "wax", "role": "wax", "density_g_ml": 0.99},
    {"material_id": "ga3", "role": "active", "active_fraction_w_w": 0.9, "molar_mass_g_mol": 346.4},
    {"material_id": "stock", "role": "preparation", "density_g_ml": 1.0},
    {"material_id": "weak", "role": "preparation", "density_g_ml": 1.0},
]


def part(material, of, amount, unit="g", basis="in all"):
    return {"material_id": material, "part_material_id": of, "amount": amount, "unit": unit, "basis": basis}


PARTS = [part("glue", "pva", 10.0), part("glue", "water", 90.0, "mL"), part("stock", "ga3", 2.0), part("stock", "water", 98.0),
         part("weak", "stock", 10.0, "mL"), part("weak", "water", 90.0, "mL")]  # fmt: skip


def coated(*steps, kind="coat", coat="film", actives=()):
    """100 g of bare seed at 10 % water coated to 108 g at 5 %: dry 90 and 102.6 g, a build-up of 14 %."""
    made = several(
        lot("AV-1", seed_unit="seed"), lot("AV-2", seed_unit="film-coated", fraction="main"),
        run("R1", "AV-1", "AV-2", out_g=108.0, kind=kind, protocol_id="P", version="1"), stepped("R1", *steps),
        treated("T", coat_class=coat), dish(lot_id="AV-2", treatment="T"),
        {"materials": MATERIALS, "material_parts": PARTS, "treatment_actives": list(actives)},
    )  # fmt: skip
    made["movements"][0]["moisture_pct"], made["movements"][1]["moisture_pct"] = 10.0, 5.0
    return made


GLUE = {"action": "wet", "material_id": "glue", "amount": 50.0, "unit": "mL", "basis": "in all", "speed_rpm": 300.0}
CLAY = {"action": "powder", "material_id": "kaolin", "amount": 100.0, "unit": "g", "basis": "per kg seed put in",
        "speed_rpm": 310.0, "equipment_id": "pan"}  # fmt: skip


def test_preparations_are_followed_to_what_was_bought(frames):
    """10 g of stock with 0.2 g GA3 in 100 g; 10 + 90 g in the glue. Derived by hand."""
    found = Facts(frames({"materials": MATERIALS, "material_parts": PARTS}))[contents]
    share = found.set_index(["material", "part"])["share"]
    assert share["weak", "ga3"] == pytest.approx(0.002)
    assert share["weak", "water"] == pytest.approx(0.998)
    assert share["glue", "pva"] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("entered", "expected"),
    [
        (part("glue", "pva", 10.0, percent("w/w"), "w/w"), 0.1),
        (part("glue", "pva", 10.2, "%", "w/v"), 0.1),
        (part("glue", "pva", 102.0, "g/L", "w/v"), 0.1),
        (part("glue", "pva", 100.0, "g", "per kg of preparation"), 0.1),
        (part("glue", "pva", 102.0, "g", "per L of preparation"), 0.1),
        (part("glue", "pva", 10.0, "%", None), np.nan),
        (part("glue", "pva", 10.0, "mL"), np.nan),
    ],
)
def test_strengths_become_grams_in_a_gram(frames, entered, expected):
    """At 1.02 g/mL: 10.2 % w/v = 102 g/L = 10 % w/w. A bare % and a volume of unknown density lead nowhere."""
    found = Facts(frames({"materials": MATERIALS, "material_parts": [entered]}))[contents]
    assert found["share"].tolist() == pytest.approx([expected], nan_ok=True)


def test_a_loop_of_preparations_does_not_hang(frames):
    found = Facts(frames({"materials": MATERIALS, "material_parts": [part("weak", "stock", 1.0), part("stock", "weak", 1.0)]}))
    assert found[contents].empty
    assert len(found[preparation_parts]) == 2


def test_a_diluted_stock_is_told_by_what_it_holds(frames):
    found = Facts(frames({"materials": MATERIALS, "material_parts": PARTS}))[preparation_parts]
    weak = found[found["material"].eq("weak")].set_index("part")
    assert weak["amount"].to_dict() == pytest.approx({"water": 99.8, "ga3": 0.2})
    assert weak["unit"].unique().tolist() == ["g"]
    assert weak["purity"].to_dict() == {"water": 1.0, "ga3": 0.9}
    assert found["material"].drop_duplicates().tolist() == ["glue", "stock", "weak"]


def test_build_up_rests_on_dry_matter(frames):
    (row,) = Facts(frames(coated()))[coated_batches].to_dict("records")
    assert (row["bare_g"], row["coated_g"], row["coat_class"]) == (100, 108, "film")
    assert (row["bare_moisture"], row["coated_moisture"]) == pytest.approx((0.10, 0.05))


def test_a_sham_is_no_coat(frames):
    assert Facts(frames(coated(coat="none")))[coated_batches].empty


def test_masses_of_units_before_and_after(frames):
    both = several(coated(), examined("AV-1", "mass of units", {"mass": 0.27}, unit="g", out_of=100),
                   examined("AV-2", "mass of units", {"mass": 0.30}, unit="g", out_of=100))  # fmt: skip
    (row,) = Facts(frames(both))[unit_masses].to_dict("records")
    assert (row["bare_mg"], row["coated_mg"]) == pytest.approx((2.7, 3.0))


def test_tests_of_a_coated_lot_belong_to_its_batch(frames):
    """0.5 g of dust-tested seed at 3 mg a unit are 167 units; 2 mg of dust are 0.002 g."""
    facts = Facts(frames(several(
        coated(), examined("AV-2", "mass of units", {"mass": 0.30}, unit="g", out_of=100),
        examined("AV-2", "coat share", {"sample": 2.0, "without coat": 1.25}, unit="g"),
        examined("AV-2", "singles and multiples", {"no seed": 3, "one seed": 96, "two seeds": 1}, out_of=100),
        examined("AV-2", "unit mass", {"one unit": 0.003}, unit="g"),
        examined("AV-2", "disintegration time", {"time": 1.5}, unit="min"),
        {"tests": [{"test_id": "D", "lot_id": "AV-2", "quantity": "dust", "status": "valid"}], "readings": [
            {"test_id": "D", "replicate": 1, "item": "dust", "value": 2.0, "unit": "mg"},
            {"test_id": "D", "replicate": 1, "item": "sample", "value": 500.0, "unit": "mg"}]},
        examined("AV-1", "unit mass", {"one unit": 2.0}, unit="mg"),
    )))  # fmt: skip
    assert facts[washed_units][["batch", "sample_g", "without_coat_g"]].to_numpy().tolist() == [["R1", 2.0, 1.25]]
    (opened,) = facts[opened_units].to_dict("records")
    assert [opened[c] for c in ("taxon", "treatment", "batch", "none", "one", "two")] == ["AV", "T", "R1", 3, 96, 1]
    assert pd.isna(opened["broken"])
    assert facts[single_masses]["mass_mg"].tolist() == pytest.approx([3.0]), "bare seed is no coated unit"
    assert facts[disintegration_times]["time_s"].tolist() == [90.0]
    (dust,) = facts[dust_tests].to_dict("records")
    assert (dust["gain_g"], dust["n_units"]) == pytest.approx((0.002, 500 / 3))


def test_solids_and_settings_of_a_batch(frames):
    """50 mL of glue are 51 g with 5.1 g PVA; 100 g of clay a kg are 10 g on 100 g of seed. Derived by hand."""
    example = several(coated(GLUE, CLAY), {"equipment": [{"equipment_id": "pan", "bowl_diameter_mm": 150.0}]})
    facts = Facts(frames(example))
    (flow,) = facts[coating_flows].to_dict("records")
    assert (flow["seed_g"], flow["product_g"], flow["solids_g"]) == pytest.approx((90, 102.6, 15.1))
    assert not flow["moist"]
    (settings,) = facts[batch_settings].to_dict("records")
    assert (settings["liquid_g"], settings["powder_g"]) == pytest.approx((51, 10))
    assert (settings["speed_rpm"], settings["diameter_m"]) == pytest.approx((305, 0.15))


def test_what_a_bought_liquid_leaves_is_not_known(frames):
    wax = GLUE | {"material_id": "wax"}
    (flow,) = Facts(frames(coated(wax, CLAY)))[coating_flows].to_dict("records")
    assert pd.isna(flow["solids_g"])


def test_a_mass_without_water_content_is_taken_as_it_lay_and_said(frames):
    example = coated(GLUE)
    example["movements"][1]["moisture_pct"] = None
    (flow,) = Facts(frames(example))[coating_flows].to_dict("records")
    assert (flow["product_g"], flow["moist"]) == (108, True)


CARRIES = {"treatment_id": "T", "material_id": "ga3", "amount": 0.2, "unit": "g/kg", "basis": "per kg bare seed"}
SPRAY = {"action": "wet", "material_id": "weak", "amount": 10.0, "unit": "mL", "basis": "in all"}


@pytest.mark.parametrize(
    ("stated", "added_mg"),
    [({}, 18.0), ({"concentration": 0.25, "concentration_unit": percent("w/v")}, 25.0),
     ({"concentration": 2.5, "concentration_unit": "g/L"}, 25.0), ({"concentration": 0.25, "concentration_unit": "%"}, 18.0)],
)  # fmt: skip
def test_active_put_on_by_parts_or_by_the_strength_as_used(frames, stated, added_mg):
    """10 g with 0.2 % of GA3 salt that is 90 % GA3: 18 mg; a strength as used stands before it. Derived by hand."""
    (row,) = Facts(frames(coated(GLUE, SPRAY | stated, actives=[CARRIES])))[batch_doses].to_dict("records")
    assert row["added_mg"] == pytest.approx(added_mg)
    assert (row["intended_mg_kg"], row["seed_kg"], row["build_up_percent"]) == pytest.approx((200, 0.1, 14))


def test_what_stayed_is_never_more_than_all(frames):
    """12.6 g came on and 5.12 g of solids went in: something is moist, and no more than all can stay."""
    (row,) = Facts(frames(coated(GLUE, SPRAY, actives=[CARRIES])))[batch_doses].to_dict("records")
    assert row["stayed"] == 1.0


def test_an_assay_per_kg_of_bare_seed_is_put_on_the_product(frames):
    """114 mg/kg of bare seed are 100 mg/kg of product at a build-up of 14 %."""
    assay = examined("AV-2", "assayed active", {"active": 114.0}, unit="mg/kg", material_id="ga3")
    (row,) = Facts(frames(several(coated(GLUE, SPRAY, actives=[CARRIES]), assay)))[batch_doses].to_dict("records")
    assert row["assayed_mg_kg"] == pytest.approx(100)


def test_a_soak_gives_strength_and_uptake_and_puts_nothing_on(frames):
    soak = {"action": "soak", "material_id": "weak", "amount": 500.0, "unit": "mL", "basis": "in all"}
    meant = CARRIES | {"amount": 1800.0, "unit": "mg/L", "basis": "solution strength"}
    taken = examined("AV-2", "solution uptake", {"uptake": 500.0}, unit="mL/kg")
    (row,) = Facts(frames(several(coated(soak, kind="soak", coat="none", actives=[meant]), taken)))[batch_doses].to_dict("records")
    assert (row["strength_mg_l"], row["uptake_ml_g"]) == pytest.approx((1800, 0.5))
    assert row["build_up_percent"] == 0
    assert pd.isna(row["added_mg"])
    assert pd.isna(row["intended_mg_kg"])


def test_routes_are_compared_where_both_sides_carry_the_same(frames):
    other = several(lot("AV-3"), run("R2", "AV-1", "AV-3", kind="soak"), treated("S", coat_class="none"),
                    dish("D2", "AV-3", "S"), {"treatment_actives": [CARRIES | {"treatment_id": "S"}]})  # fmt: skip
    facts = Facts(frames(several(coated(GLUE, actives=[CARRIES]), other, contrast("S", "T", asks_about="route"),
                                 contrast("T", "S", asks_about="coat"))))  # fmt: skip
    assert facts[route_pairs].to_dict("records") == [{"taxon": "AV", "a": "S", "b": "T", "material": "ga3"}]


def test_a_figure_of_the_procedure_is_held_against_the_step_that_is_like_it(frames):
    """500 mL/kg on 100 g are 50 mL; the run put a step in between, and wrote its powder in kg. Derived by hand."""
    plan = [{"protocol_id": "P", "version": "1", "step": n} | step for n, step in enumerate((
        {"action": "wet", "material_id": "glue", "amount": 500.0, "unit": "mL", "basis": "per kg seed put in", "speed_rpm": 300.0,
         "lowest_amount": 450.0, "highest_speed_rpm": 320.0},
        {"action": "powder", "material_id": "kaolin", "amount": 10.0, "unit": "g", "basis": "in all"},
        {"action": "dry", "duration_s": 3600.0}), 1)]  # fmt: skip
    steps = (GLUE | {"amount": 55.0, "deviation": "slip", "reason": "pipette"}, {"action": "tumble", "duration_s": 60.0},
             CLAY | {"amount": 0.011, "unit": "kg", "basis": "in all"})  # fmt: skip
    found = Facts(frames(several(coated(*steps), {"protocol_steps": plan})))[planned_steps].set_index("what")
    assert found["planned"].to_dict() == pytest.approx({
        "step 1, wet, glue: amount": 50, "step 1, wet, glue: turning speed": 300, "step 2, powder, kaolin: amount": 10,
        "step 3, dry: duration": 3600,
    })  # fmt: skip
    assert found["done"].tolist() == pytest.approx([55, 11, np.nan, 300], nan_ok=True)
    assert found["lowest"].tolist() == pytest.approx([45, np.nan, np.nan, np.nan], nan_ok=True)
    assert found["highest"].tolist() == pytest.approx([np.nan, np.nan, np.nan, 320], nan_ok=True)
    assert found.loc["step 1, wet, glue: amount", ["unit", "reason"]].tolist() == ["mL", "pipette"]


def test_every_figure_with_bounds_is_compared():
    assert {"amount", "duration_s", "speed_rpm", "temperature_c", "ph", "passes"} <= set(figures())


def test_amounts_that_cannot_be_told_in_grams_stay_unknown(frames):
    used = (GLUE | {"material_id": "pva"}, GLUE | {"amount": None}, GLUE | {"material_id": None})
    found = Facts(frames(coated(*used)))[put_on]
    assert found["grams"].isna().tolist() == [True, True]
