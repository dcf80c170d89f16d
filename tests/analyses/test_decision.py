"""Answers of the decision stage in the demo, held against the numbers from which it was made.

The demo is one realisation of its truth. What is counted is held against the expectation by the 95 % interval that the
answer itself gives, widened by half where several are held at once; where a narrower check is possible the tolerance is
said beside it.
"""

import json

import pytest

import palea
from palea.derived import chain, priced, reserves
from palea.derived.facts import Facts
from palea.shipped import HERE

SPECIES = json.loads((HERE / "demo" / "truth.json").read_text())["species"]
SANDS = "F1-hollow-sands"


@pytest.fixture(scope="module")
def answers(journey):
    kept = {}

    def ask(recipe, trial=None, **options):
        key = (recipe, trial, *options.items())
        if key not in kept:
            kept[key] = palea.run(recipe, journey, trial=trial, **options)
        return kept[key]

    return ask


def found(outcome, quantity, **of):
    (one,) = [e for e in outcome.result.estimates if e.quantity == quantity and of.items() <= dict(e.of).items()]
    return one


def covers(estimate, truth, wider=1.5):
    half = wider * (estimate.upper - estimate.lower) / 2
    middle = (estimate.upper + estimate.lower) / 2
    return abs(truth - middle) <= half


# Of 100 units sown at Hollow Sands: filled x viable x germinable x emerging x standing x alive at the end, from the
# truth. Filled of cleaned seed is 97, of which the cut test calls some damaged (about 1 to 2), so it is held within 3.
LOSSES = {
    "AM-T01": {"filled": 70, "viable": 64.4, "germinated": 39.9, "emerged": 20.0, "established": 3.1},
    "AM-T07": {"viable": 89.2, "germinated": 55.3, "emerged": 24.7, "established": 10.6},
}


@pytest.mark.parametrize(("treatment", "stage"), [(t, s) for t, stages in LOSSES.items() for s in stages])
def test_losses_lie_where_the_demo_was_made_to_have_them(answers, treatment, stage):
    one = found(answers("decision.losses"), stage, treatment=treatment, environment=SANDS)
    assert covers(one, LOSSES[treatment][stage]), (one.value, one.lower, one.upper)
    assert one.denominator == "sown units"


def test_cleaned_seed_is_filled(answers):
    one = found(answers("decision.losses"), "filled", treatment="AM-T07", environment=SANDS)
    assert one.value == pytest.approx(97, abs=3)


def test_the_delaying_coat_gains_in_the_dry_weeks_and_not_before(answers):
    """T07 comes up after the spell that kills what came up early: 3.4 times as much is established as untouched."""
    outcome = answers("decision.losses")
    side = {"a": "AM-T07", "b": "AM-T01", "environment": SANDS}
    assert covers(found(outcome, "established", **side), 10.6 / 3.1)
    assert found(outcome, "step to standing", **side).lower > 1
    stages = ("filled", "viable", "germinated", "emerged", "standing", "established")
    steps = [found(outcome, f"step to {stage}", **side).value for stage in stages]
    product = 1.0
    for step in steps:
        product *= step
    assert product == pytest.approx(found(outcome, "established", **side).value)


def test_a_hectare_costs_what_the_truth_says(answers):
    """228 EUR untouched; 126 + 1200 a campaign with the waxy film; it pays from 1200 / (228 - 126) = 11.8 ha."""
    outcome = answers("decision.cost", area=12.0)
    bare = found(outcome, "cost of a hectare", treatment="AM-T01", environment=SANDS)
    waxy = found(outcome, "cost of a hectare", treatment="AM-T07", environment=SANDS)
    assert covers(bare, 228)
    assert covers(waxy, 126 + 1200 / 12)
    area = found(outcome, "break-even area", a="AM-T07", b="AM-T01", environment=SANDS)
    assert covers(area, 11.8)
    assert area.unit == "har"
    assert bare.unit == "{EUR}"


def test_the_brush_pays_for_kidney_vetch_and_never_for_hair_grass(answers):
    """AV: 195 against 141 EUR and 300 a campaign, so from 5.5 ha. CC: seed in the floret is so cheap that nothing pays."""
    outcome = answers("decision.cost", area=12.0)
    assert covers(found(outcome, "break-even area", a="AV-T03", b="AV-T01", environment=SANDS), 5.5)
    for treatment in ("CC-T03", "CC-T08", "CC-T17"):
        never = found(outcome, "break-even area", a=treatment, b="CC-T01", environment=SANDS)
        assert never.reason.startswith("It never pays"), treatment
    assert found(outcome, "break-even area", a="AM-T03", b="AM-T01", environment=SANDS).reason.startswith("It never pays")


def test_prices_are_those_of_the_truth(journey):
    """Prices exactly; weights within 3 %, recoveries within 4 % of r f0 / f1: runs of a few thousand units."""
    prices = Facts(journey)[priced.prices].set_index("treatment")
    for taxon, truth in SPECIES.items():
        row = prices.loc[f"{taxon}-T03"]
        assert row["price"] == truth["price_eur_per_kg"]
        assert row["received_g"] == pytest.approx(truth["tsw_in_hull_g"], rel=0.03)
        assert row["clean_g"] == pytest.approx(truth["tsw_clean_g"], rel=0.03)
        number = truth["brush_recovery"] * truth["filled_in_hull"] / truth["filled_clean"]
        assert row["recovery"] == pytest.approx(number, rel=0.04)
        assert (row["per_received"], row["campaign"]) == (25, 300)
    by_hand = prices.loc["AV-T02", "per_received"]
    assert by_hand == pytest.approx(32 * 4.5 * 1000 / 60, rel=0.25), "4.5 minutes a g at 32 an hour; single runs scatter"


def test_costs_fall_with_area_and_stay_for_seed_as_it_came(answers):
    outcome = answers("decision.cost_curve")
    curves = {(c.of["environment"], c.of["treatment"]): c for c in outcome.result.curves}
    bare, waxy = curves[SANDS, "AM-T01"], curves[SANDS, "AM-T07"]
    assert bare.value[0] == pytest.approx(bare.value[-1])
    assert (waxy.value[0] > bare.value[0], waxy.value[-1] < bare.value[-1]) == (True, True)
    assert "at 50 ha" in outcome.sentences[0]


def test_the_map_knows_the_arm_that_is_missing(answers):
    """In-floret seed of hair-grass with the wetting agent was never made; the step T01-T02-T03 was, T01-T03 is none."""
    outcome = answers("decision.contrasts")
    edges = {frozenset((r.a, r.b)): r.factor for r in outcome.result.units.itertuples(index=False)}
    assert edges[frozenset(("AM-T01", "AM-T02"))] == "hull"
    assert edges[frozenset(("AM-T02", "AM-T03"))] == "clean_method"
    assert frozenset(("AM-T01", "AM-T03")) not in edges
    assert edges[frozenset(("AM-T10", "AM-T11"))] == "route"
    assert edges[frozenset(("CC-T03", "CC-T09"))] == "product"
    assert edges[frozenset(("AM-T03", "AM-T04"))] == "handling"
    assert frozenset(("AM-T03", "AM-T11")) not in edges, "a soak and its active are two things"
    missing = found(outcome, "factors that differ", a="CC-T17", b="CC-T01")
    assert missing.value == 4
    assert "Missing: CC-T01 with" in missing.reason
    assert "active wetter" in missing.reason
    assert "clean method brush machine" not in missing.reason, "nobody brushes what is to stay in its floret"


def test_every_declared_contrast_is_told_by_its_one_factor(answers, journey):
    outcome = answers("decision.contrasts")
    for row in journey["contrasts"].to_dict("records"):
        one = found(outcome, "factors that differ", a=row["a"], b=row["b"])
        assert one.value == 1, one.reason
        assert row["asks_about"].replace("_", " ") in one.reason


def test_equivalence_holds_in_each_species_and_in_all(answers):
    """Hull and handling were made to change nothing; the chance that a species shows it is about 0.9 (a demo whose seed was
    chosen so that all do), and a claim for all rests on the largest p.
    """
    outcome = answers("decision.equivalence", trial="G1")
    effects = outcome.result.effects
    for taxon in SPECIES:
        one = found(outcome, "normal seedlings", taxon=taxon, a=f"{taxon}-T02", b=f"{taxon}-T01")
        assert one.verdict == "equivalent within m"
    together = [e for e in effects if "taxon" not in e.of]
    hull = next(e for e in together if e.of["a"] == "AV-T02")
    each = [e.p_value for e in effects if e.of.get("taxon") and e.of["a"].endswith("T02") and e.of["b"].endswith("T01")]
    assert hull.p_value == max(each)
    assert hull.verdict == "equivalent within m"


def test_equivalence_is_judged_where_it_was_declared_and_nowhere_else(answers, journey):
    """G2 declares it in five pairs of species and water, not at all temperatures in which the pair was sown."""
    declared = journey["contrasts"].query("trial_id == 'G2' and kind == 'equivalence'")
    effects = [e for e in answers("decision.equivalence", trial="G2").result.effects if "taxon" in e.of]
    told = sorted((e.of["environment"], e.of["a"], e.of["b"]) for e in effects)
    assert told == sorted(map(tuple, declared[["environment_id", "a", "b"]].astype(str).to_numpy()))


def test_brushed_kidney_vetch_leaves_less_in_reserve(answers):
    """Hard seed falls from 60 to 22 % of viable; with d = 0.90 of the rest germinating, waiting seed from 64 to 30 %."""
    outcome = answers("decision.reserve", trial="G1")
    hand = found(outcome, "waiting seed", treatment="AV-T02")
    brushed = found(outcome, "waiting seed", treatment="AV-T03")
    for one, hard in ((hand, "hard_of_viable"), (brushed, "hard_after_brush")):
        truth = SPECIES["AV"][hard] + (1 - SPECIES["AV"][hard]) * (1 - SPECIES["AV"]["germinable"])
        assert covers(one, 100 * truth)
    (difference,) = [
        e for e in outcome.result.effects
        if (e.quantity, e.scale, e.of["a"], e.of["b"]) == ("waiting seed", "difference", "AV-T03", "AV-T02")
    ]
    assert difference.upper < 0
    assert any("less held in reserve" in sentence for sentence in outcome.sentences)


def test_a_bag_weighs_the_two_seasons_of_its_places(answers, journey):
    """By itself it takes the pair of the primary contrast sown at most places: the waxy film and its blank."""
    seasons = Facts(journey)[reserves.seasons].set_index(["season", "portion"])["established"]
    early, late = (seasons.xs(name, level="portion") for name in ("AM-T05", "AM-T07"))
    outcome = answers("decision.mixture", bad_chance=0.0)
    best = [e for e in outcome.result.estimates if e.quantity == "established in the mean season"]
    assert best[0].value == pytest.approx(max(early["F2-long-spit"], late["F2-long-spit"]))
    dry = answers("decision.mixture", bad_chance=1.0)
    best = [e for e in dry.result.estimates if e.quantity == "established in the mean season"]
    assert best[0].value == pytest.approx(late[SANDS])
    share = next(e for e in dry.result.estimates if e.quantity == "share held back")
    assert share.value == 100
    grams = {e.of["treatment"]: e for e in dry.result.estimates if e.quantity == "mass in the bag"}
    portion = Facts(journey)[reserves.portions].set_index("portion").loc["AM-T07"]
    units = 10_000 / (portion["viable"] / 100)
    assert grams["AM-T07"].value == pytest.approx(units * portion["thousand_g"] / 1000 * (1 + portion["build_up"] / 100))
    assert portion["build_up"] == pytest.approx(5, abs=1.5), "5 % film intended"


def test_two_treatments_that_never_met_make_no_bag(answers):
    assert answers("decision.mixture", first="AM-T02", second="AV-T03").refused


def test_evidence_is_pooled_over_the_trials_that_asked_it(answers):
    """A soak in GA3 against its solvent was asked in G1 and G4. Built in: logit +1.60 on 0.62 of viable is 0.890, so 27.0
    points; 97 % of them normal, 92 % of filled seed viable: 24.1 points of filled.
    """
    outcome = answers("evidence.pool", a="AM-T11", b="AM-T12")
    assert {e.reason for e in outcome.result.groups} == {"G1", "G4"}
    mean = outcome.result.effects[0]
    assert mean.value == pytest.approx(24.1, abs=8), "three standard errors of 2.7: batches of two trials"
    assert answers("evidence.pool", a="AM-T02", b="AM-T01").refused, "one trial is no evidence of several"
    assert "nobody" in answers("evidence.pool", a="nobody").result.missing


def test_wild_seedlings_of_hair_grass_are_taken_off(journey):
    rows = Facts(journey)[chain.grown]
    mine = rows[(rows["treatment"] == "CC-T01") & (rows["stage"] == "emerged")]
    counts = journey["counts"]
    came = counts[counts["outcome"].eq("emerged") & counts["taxon_id"].eq("CC")].set_index("unit_id")["count"]
    unsown = journey["units"].query("treatment_id == 'unsown'")["unit_id"]
    raw, wild = (came[came.index.isin(units)].sum() for units in (mine["unit"], unsown))
    assert wild > 0
    assert mine["passed"].sum() == pytest.approx(raw - wild * len(mine) / len(unsown))


def test_losses_of_a_stage_with_more_out_than_in_are_refused(journey):
    """A count in a test above what was looked at stands as an error in the check, so nothing is decided on it."""
    readings = journey["readings"]
    here = readings["test_id"].eq("Q-AM-0-fill") & readings["item"].eq("filled")
    wrong = readings.assign(value=readings["value"].mask(here, 170))
    assert palea.run("decision.losses", journey.replacing("readings", wrong)).refused
