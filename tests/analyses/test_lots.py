"""Answers on lots in the demo, held against the numbers from which it was made (kit/palea/demo/truth.json)."""

import json

import pytest

import palea
from palea.shipped import HERE

SPECIES = json.loads((HERE / "demo" / "truth.json").read_text())["species"]
each = pytest.mark.parametrize("taxon", SPECIES)


@pytest.fixture(scope="module")
def answers(journey):
    kept = {}

    def ask(recipe):
        if recipe not in kept:
            kept[recipe] = palea.run(f"lots.{recipe}", journey)
        return kept[recipe]

    return ask


def _of(outcome, lot, quantity):
    (found,) = [e for e in outcome.result.estimates if e.of["lot"] == lot and e.quantity == quantity]
    return found


@each
def test_seed_weight_is_that_of_the_truth(answers, taxon):
    """Within 3 %: eight groups that vary by 2.2 % have a standard error below 1 %."""
    for lot, name in ((f"{taxon}-0", "tsw_in_hull_g"), (f"{taxon}-T03-1", "tsw_clean_g")):
        found = _of(answers("tsw"), lot, "thousand-seed weight")
        assert found.value == pytest.approx(SPECIES[taxon][name], rel=0.03)
        assert (found.n_units, found.n_seeds, found.unit) == (8, 800, "g")
        assert found.lower < found.value < found.upper


@each
def test_purity_is_that_of_the_truth(answers, taxon):
    found = _of(answers("purity"), f"{taxon}-0", "pure seed by mass")
    assert found.value == pytest.approx(100 * SPECIES[taxon]["pure_share"], abs=1.0)
    assert found.reason == "One replicate: no interval."


@each
def test_water_content_is_that_of_the_truth(answers, taxon):
    hull = _of(answers("moisture"), f"{taxon}-0", "water content")
    clean = _of(answers("moisture"), f"{taxon}-T03-2", "water content")
    assert hull.value == pytest.approx(SPECIES[taxon]["hull_moisture_pct"], abs=0.3)
    assert clean.value == pytest.approx(SPECIES[taxon]["moisture_pct"], abs=0.3)


def test_water_content_is_that_of_the_last_day(answers):
    """Truth: a lot in the dry store was read with a meter after 6 and 12 months, three readings each."""
    assert _of(answers("moisture"), "CC-T03-1-dry", "water content").n_units == 3


@each
def test_filled_and_viable_intervals_hold_the_truth(answers, taxon):
    """95 % intervals; all six lie inside with the demo's seed."""
    filled = _of(answers("viability"), f"{taxon}-0", "filled units")
    viable = _of(answers("viability"), f"{taxon}-0", "viable seed")
    assert filled.lower <= 100 * SPECIES[taxon]["filled_in_hull"] <= filled.upper
    assert viable.lower <= 100 * SPECIES[taxon]["viable_of_filled"] <= viable.upper
    assert viable.denominator == "filled"


@each
def test_pure_live_seed_and_its_price_are_the_product_of_the_truth(answers, taxon):
    """Purity x filled x viable; price of 1000 = price of a gram / (that x seeds a gram) x 1000. Derived by hand."""
    truth, outcome = SPECIES[taxon], answers("pure_live_seed")
    pure_live = truth["pure_share"] * truth["filled_in_hull"] * truth["viable_of_filled"]
    price = truth["price_eur_per_kg"] / 1000 * truth["tsw_in_hull_g"] / pure_live
    lot = f"{taxon}-0"
    assert _of(outcome, lot, "pure live seed").value == pytest.approx(100 * pure_live, rel=0.08)
    assert _of(outcome, lot, "price of 1000 live seeds").value == pytest.approx(price, rel=0.08)
    assert _of(outcome, lot, "price of 1000 live seeds").unit == "{EUR}/1000"


def test_the_book_is_what_came_less_what_went(answers, journey):
    """1800 g came; the sum of all that left AV-0 in the table of movements, added up here another way."""
    moved = journey["movements"]
    out = moved.loc[moved["lot_id"].eq("AV-0") & moved["kind"].ne("received"), "mass_g"].sum()
    found = _of(answers("balance"), "AV-0", "seed left by the book")
    assert found.value == pytest.approx(SPECIES["AV"]["received_g"] - out)
    assert _of(answers("balance"), "AV-0", "dry matter left by the book").reason.startswith("The water content")


def test_lots_that_are_gone_are_not_in_the_balance(answers, journey):
    gone = journey["lots"].loc[journey["lots"]["status"].eq("discarded"), "lot_id"]
    assert not {e.of["lot"] for e in answers("balance").result.estimates} & set(gone)
