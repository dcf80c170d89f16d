"""Answers of the planning stage, held against worked numbers and against the numbers from which the demo was made."""

import math

import pytest

import palea
from palea.analyses import planning
from palea.calc.results import Curves, Layout, Refusal
from palea.figures import draw
from palea.words import say


def ask(recipe, **given):
    return recipe.compute(**recipe.settle(given))


def values(result):
    return {e.quantity: e.value for e in result.estimates}


@pytest.mark.parametrize(
    ("asked", "units"),
    [
        # (z_a + z_b)^2 (p1 q1 + p2 q2) DE / (m d^2), two-sided 5 %, power 80 %: by hand from Fleiss 1981, ch. 3, and
        # DE = 1 + (m - 1) rho (Kish 1965), z = 1.959964 and 0.841621, rounded up.
        ({"level_a": 66.0, "level_b": 60.0, "seeds": 8, "rho": 0.05}, 171),
        ({"level_a": 66.0, "level_b": 60.0, "seeds": 8, "rho": 0.10}, 216),
        ({"level_a": 80.0, "level_b": 70.0}, 18),
        ({"level_a": 85.0, "level_b": 70.0}, 7),
    ],
)
def test_units_needed_are_those_of_the_formula(asked, units):
    assert values(ask(planning.SIZE, trials=0, **asked))["units needed"] == units


def test_what_is_at_hand_is_told_beside_what_is_needed():
    """From the same formula turned round: 16 plots see 18 points from 60 % (rho 0.05, 8 plants a plot)."""
    result = ask(planning.SIZE, level_a=66.0, level_b=60.0, seeds=8, rho=0.05, have=16, trials=200)
    assert values(result)["smallest difference seen"] == pytest.approx(18, abs=0.5)
    assert result.warnings == (
        "To see 6 points of the share you need about 171 units a treatment; you have 16, which can see 18 points.",
    )


def test_a_margin_that_is_not_given_is_asked_for():
    result = ask(planning.SIZE, kind="equivalence")
    assert isinstance(result, Refusal)
    assert "margin" in result.missing


def test_power_rises_with_units_and_says_what_it_runs_over():
    result = ask(planning.POWER, sizes_asked="16; 171", seeds=8, rho=0.05)
    assert isinstance(result, Curves)
    few, many = (dict(zip(c.time.round(6), c.value, strict=True)) for c in result.curves)
    at = min(many, key=lambda d: abs(d - 6))
    assert many[at] == pytest.approx(80, abs=4), "171 plots see about 6 points in 4 of 5 trials, as above"
    assert few[at] < 20
    assert "difference in points" in say(result, {})[0]
    assert "Difference in points" in str(draw(result, [], {}).to_dict())


def test_sizes_that_are_no_numbers_are_named():
    with pytest.raises(palea.PaleaError, match="“8; many”"):
        ask(planning.POWER, sizes_asked="8; many")


def test_a_layout_is_the_same_from_the_same_seed_and_says_so():
    one, two, other = (ask(planning.LAYOUT, treatments="T01; T03; T05", repeats=6, seed=s) for s in (3, 3, 4))
    assert isinstance(one, Layout)
    assert one.units.equals(two.units)
    assert not one.units.equals(other.units)
    assert one.units.groupby("block")["treatment"].agg(set).map(len).eq(3).all()
    told = say(one, {})
    assert told[0].startswith("Randomised blocks: 18 units of 3 treatments in 6 blocks; seed 3, palea.layout version ")
    for block, part in one.units.groupby("block"):
        assert f"Block {block}: {', '.join(part['treatment'])}." in told


def test_a_layout_is_drawn_unit_by_unit():
    result = ask(planning.LAYOUT, treatments="T01; T03", mains="open; fenced", design="split plot", repeats=3)
    drawn = draw(result, say(result, {}), {})
    told = drawn.to_dict()
    rows = [row for data in told["datasets"].values() for row in data if "treatment" in row and "unit" in row]
    assert len({row["unit"] for row in rows}) == 12
    assert {row["where"] for row in rows} == {f"block {b}, {m}" for b in (1, 2, 3) for m in ("open", "fenced")}
    assert "Block 1, " in drawn.description


def test_a_check_that_fails_is_told_as_failing():
    from dataclasses import replace

    from palea.calc.results import Check

    result = replace(ask(planning.LAYOUT), checks=(Check("Every treatment lies once in every block.", holds=False),))
    assert "Not so here: every treatment lies once in every block." in say(result, {})


def test_the_demo_takes_the_seeds_that_it_sows(journey):
    """67 980 seed units over all trials, 14 360, 21 580 and 21 880 of them clean: counted by hand from the plan of the
    demo (dishes x 25, plots x 120, rows x 80).
    """
    result = palea.run("planning.seed", journey).result
    units = result.units
    assert units["seed_units"].sum() == 67_980
    clean = units[~units["treatment"].str.endswith("-T01")].groupby("lot")["seed_units"].sum()
    assert clean.to_dict() == {"AV-0": 14_360, "CC-0": 21_580, "AM-0": 21_880}
    bare = units[~units["treatment"].str.endswith("-T01")].groupby("lot")["bare_g"].sum()
    # seeds x thousand-seed weight of the truth; 2 %: the weights are means of eight weighings a lot
    assert bare.to_dict() == pytest.approx({"AV-0": 38.772, "CC-0": 2.158, "AM-0": 19.692}, rel=0.02)
    left = {e.of["lot"]: e.value for e in result.estimates if e.quantity == "seed left"}
    assert set(left) == {"AV-0", "CC-0", "AM-0"}
    assert all(value > 0 for value in left.values())


def test_a_lot_that_does_not_hold_it_is_told(journey):
    movements = journey["movements"]
    little = movements.assign(mass_g=movements["mass_g"].mask(movements["movement_id"].eq("CC-0-m01"), 10.0))
    from palea.derived.facts import Facts
    from palea.derived.planned import lots, needs

    facts = Facts(journey.replacing("movements", little))
    result = planning.NEEDED.compute(facts[needs], facts[lots])
    short = next(e for e in result.estimates if e.of["lot"] == "CC-0" and e.quantity == "seed left")
    assert short.value < 0
    assert any("the lot holds 10 g, of which 8 g are the keep-sample" in told for told in result.warnings)
    assert not math.isnan(short.value)
