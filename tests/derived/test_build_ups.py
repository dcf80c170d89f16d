"""How coats grew, cycle by cycle, beside what was planned."""

import pytest

from palea.checks.examples import lot, run, several
from palea.derived.build_ups import build_ups
from palea.derived.facts import Facts

SEED_G = 20.0


def step(number, action, cycle, material, amount, **more):
    return {"step": number, "action": action, "cycle": cycle, "material_id": material, "amount": amount, "unit": "g"} | more


@pytest.fixture
def facts(frames):
    """A run that coats 20 g: per kg, 50 g of powder a cycle were planned (40 to 60); 1.1 g and 0.9 g were put on."""
    plan = [
        step(n, "powder", n, "filler", 50.0, protocol_id="P", version="1", basis="per kg seed put in", lowest_amount=40.0,
             highest_amount=60.0) for n in (1, 2)
    ]  # fmt: skip
    return Facts(frames(several(
        lot("AV-0"), lot("AV-1", fraction="main"),
        run("R1", "AV-0", "AV-1", kind="coat", in_g=SEED_G, protocol_id="P", version="1"),
        {"run_steps": [{"run_id": "R1", "basis": "in all"} | step(1, "powder", 1, "filler", 1.1),
                       {"run_id": "R1", "basis": "in all"} | step(2, "powder", 2, "filler", 0.9)]},
        {"protocol_steps": plan, "materials": [{"material_id": "filler", "role": "filler"}]},
        {"treatments": [{"treatment_id": "T", "coat_class": "encrusted"}]},
        {"units": [{"unit_id": "D", "lot_id": "AV-1", "treatment_id": "T", "kind": "dish", "trial_id": "G1"}]},
    )))  # fmt: skip


def test_mass_put_on_adds_up_and_stands_beside_the_plan_for_the_same_mass_of_seed(facts):
    """Derived by hand: 1.1 of 20 g is 5.5 %, with 0.9 g 10 %; 50 g a kg are 5 % a cycle, 40 and 60 are 4 and 6 %."""
    grown = facts[build_ups]
    assert grown["done"].tolist() == pytest.approx([5.5, 10.0])
    assert grown["planned"].tolist() == pytest.approx([5.0, 10.0])
    assert grown[["lowest", "highest"]].to_numpy().tolist() == [pytest.approx([4.0, 6.0]), pytest.approx([8.0, 12.0])]


def test_an_amount_that_was_not_written_down_leaves_what_follows_open(frames, facts):
    rows = {t: facts[t].to_dict("records") for t in ("lots", "movements", "runs", "run_steps", "protocol_steps", "materials",
                                                     "treatments", "units")}  # fmt: skip
    rows["run_steps"][0]["amount"] = None
    assert Facts(frames(rows))[build_ups]["done"].isna().all()


def test_no_coats_no_rows(frames):
    assert Facts(frames({}))[build_ups].empty


def test_the_coats_of_the_demo_grew_to_what_was_meant(journey):
    """Against the invented truth: intended build-ups of the design are 5, 60 to 150 and 1100 % of bare seed."""
    facts = Facts(journey)
    last = facts[build_ups].dropna(subset=["done"]).sort_values("cycle").groupby("batch").last()
    meant = facts["treatments"].set_index("treatment_id")["intended_build_up_pct"]
    told = last.assign(meant=last["treatment"].map(meant))
    plain = told[told["treatment"].isin(["AV-T05", "AV-T06", "AM-T05", "AM-T06", "CC-T06", "CC-T08"])]
    assert len(plain) >= 12
    assert (plain["done"] / plain["meant"]).between(0.85, 1.15).all()
