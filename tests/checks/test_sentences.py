"""The sentences of the rules as a person reads them: place, value and words, for the example that fires each rule."""

import pytest

from palea.checks.run import RULES
from palea.derived.facts import Facts

# rule, row as a spreadsheet shows it, column, value found there, sentence
SAID = [
    (
        "lots.collected-after-received",
        2,
        "collected_from",
        "2025-06",
        "Lot AV-0 was received on 2025-02-01, before it was collected on 2025-06.",
    ),
    (
        "lots.more-drawn-than-held",
        3,
        "mass_g",
        "60",
        "Lot AV-0 is drawn below nothing: after this movement 10 g more has left it than came in.",
    ),
    (
        "lots.run-gained-mass",
        2,
        "run_id",
        "R1",
        "Run R1: fractions weigh 30 g more, as dry matter, than the seed and material that went in.",
    ),
    (
        "lots.made-after-use",
        2,
        "lot_id",
        "AV-1",
        "Dish D1 was wetted on 2025-03-01, but its lot AV-1 was only made on 2025-04-01.",
    ),
    (
        "lots.lineage-loop",
        2,
        "lot_id",
        "A",
        "Lot A is its own ancestor: following where it came from leads back to it, by way of A, B.",
    ),
    ("lots.other-taxon", 3, "taxon_id", "CC", "Lot CC-1 is CC, but it was made from lot AM-0, which is AM."),
    (
        "coating.treatment-not-done",
        2,
        "treatment_id",
        "T17",
        "Treatment T17 means to bring WET, but the runs behind its lots used BIND.",
    ),
    (
        "coating.hazard-not-said",
        2,
        "hazards",
        None,
        "Concentrated acid is a material that can hurt (acid), and no hazard statement is recorded.",
    ),
    (
        "coating.withheld-by-nobody",
        2,
        "withheld_by",
        None,
        "What contractor's coat is made of is withheld, and nobody is named as withholding it.",
    ),
    (
        "planning.one-batch",
        2,
        "treatment_id",
        "AV-T05",
        "Only one batch stands behind AV-T05 in trial G1 (units: 1): the answer holds for that batch, not yet for the recipe.",
    ),
    ("planning.block-incomplete", 2, "trial_id", "G1", "Trial G1: block 2 lacks treatment B."),
    ("planning.two-factors", 2, "b", "B", "A against B changes hull and clean method at once, so neither can be told."),
    (
        "planning.other-collection",
        2,
        "b",
        "B",
        "A and B do not come from the same received lot, so the lot and the treatment changed together.",
    ),
    (
        "planning.margin-after-count",
        2,
        "declared_at",
        "2025-04-01",
        "Contrast A-B with its margin of 15 was declared on 2025-04-01, after the first count.",
    ),
    (
        "planning.asks-about-other",
        2,
        "asks_about",
        "coat",
        "Contrast A-B says it asks about coat, but A and B differ in hull.",
    ),
    ("germination.more-than-sown", 2, "sown_n", "25", "Dish D01: 27 seeds came up or were taken out, 25 were sown."),
    (
        "germination.counted-before-sowing",
        2,
        "visit_id",
        "V2025-03-15",
        "Unit D01 was counted on 2025-03-15, before its seed was wetted on 2025-03-20.",
    ),
    ("germination.cumulative-falls", 3, "count", "5", "Unit D01, normal: the running total falls from 7 to 5."),
    (
        "germination.rising-sheet",
        2,
        "unit_id",
        "D01",
        "Dish D01: counts 8, 15, 19, 19 never fall and add up to 61 of 25. Is this sheet cumulative?",
    ),
    (
        "germination.nothing-between",
        3,
        "visit_id",
        "V2025-03-08",
        "Visit V2025-03-08 of 2025-03-08: every count is 0 (1 in all), though seed came up before and after. Not visited, or none?",
    ),
    (
        "germination.not-cut",
        2,
        "unit_id",
        "D01",
        "Dish D01: 5 of 25 seeds are not accounted for. Empty, dead and dormant cannot be told apart.",
    ),
]


@pytest.mark.parametrize(("rule_id", "row", "field", "value", "sentence"), SAID, ids=[s[0] for s in SAID])
def test_a_finding_reads_as_it_should(rule_id, row, field, value, sentence, frames):
    rule = next(r for r in RULES if r.id == rule_id)
    (found,) = rule.findings(Facts(frames(rule.fires)))
    assert (found.row, found.field, found.value, found.message) == (row, field, value, sentence)


def test_no_rule_is_without_a_tested_sentence():
    assert {s[0] for s in SAID} == {r.id for r in RULES}
