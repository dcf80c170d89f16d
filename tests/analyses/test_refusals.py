"""Errors that people really make with seed trials, and that each is told in words that say what to do.

A row is an error, a package that has it, and the sentence expected of it: the reason of an answer, a warning printed with
one, or a finding of the check with its remedy. The errors are those of a practitioner's year (common practice, no source);
the sentences stand in refused.json beside this file. Packages: the small invented trial, made sound and then wrong in
one thing; the invented journey; and the journey with fifty planted mistakes, each opened once.
"""

import json
from functools import cache
from pathlib import Path

import pytest

import palea
from palea.checks.run import findings_of
from palea.shipped import folder
from palea.stamp import Stamp
from palea.tables.beginning import new_package

HERE = Path(__file__).parent
SAID = json.loads((HERE / "refused.json").read_text(encoding="utf-8"))
SMALL = json.loads((HERE.parent / "bench" / "small.json").read_text(encoding="utf-8"))

LOTS = ("AV-T01-1", "AV-T01-2", "AV-T03-1", "AV-T03-2")
SOUND = {
    "lots": [{"lot_id": "AV-0", "taxon_id": "AV", "seed_unit": "legume", "source_kind": "wild harvest"}],
    "movements": [
        {"movement_id": "M-0", "lot_id": "AV-0", "kind": "received", "moved_at": "2025-01-15", "mass_g": 100.0},
        *({"movement_id": f"M-{lot}", "lot_id": "AV-0", "kind": "moved to lot", "moved_at": "2025-02-01", "counterpart_lot_id": lot,
         "mass_g": 1.0} for lot in LOTS),
    ],
    "visits": [{"visit_id": "G1-D07", "looked_for": "normal; abnormal; dead; empty; hard"}],
    "treatments": [{"treatment_id": "AV-T01", "label": "in the hull", "role": "untouched", "hull": "on"},
                   {"treatment_id": "AV-T03", "label": "by hand", "role": "test", "hull": "off", "clean_method": "hand"}],
    "trial_outcomes": [{"trial_id": "G1", "outcome": "normal seedlings", "denominator": "filled"}],
    "contrasts": [{"contrast_id": "C1", "trial_id": "G1", "a": "AV-T03", "b": "AV-T01", "asks_about": "hull",
                   "outcome": "normal seedlings", "kind": "superiority", "wanted": "higher", "declared_at": "2025-02-01"}],
}  # fmt: skip
END = {"visit_id": "G1-D07", "observer": "sorrel", "taxon_id": "AV", "method": "cut"}


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """The small trial with one received lot behind it, a declared contrast, and all seeds followed to their end."""
    stamp = Stamp("sorrel", "2025-03-12T09:00:00+00:00")
    package = new_package(tmp_path_factory.mktemp("refused") / "small", "Small trial (invented)", stamp, invented=True)
    for table, rows in (*SMALL.items(), *SOUND.items()):
        package = package.having(table, rows)
    units = [row["unit_id"] for row in SMALL["units"]]
    came = {u: sum(row["count"] for row in SMALL["counts"] if row["unit_id"] == u) for u in units}
    ends = [END | {"unit_id": u, "outcome": name, "count": n} for u in units
            for name, n in (("dead", 25 - came[u] - 5 * ("T01" in u)), ("empty", 5 * ("T01" in u)), ("hard", 0))]  # fmt: skip
    return package.having("counts", ends)


@pytest.fixture(scope="module")
def told_of_broken():
    """Findings of the planted mistakes."""
    return _found(palea.open_package(folder("datapackages_demo") / "broken"))


@pytest.fixture(scope="module")
def told_of_journey(journey):
    """Findings of the sound journey."""
    return _found(journey)


@pytest.fixture(scope="module")
def answers(journey):
    """Ask a recipe of the invented journey, each once."""
    return cache(lambda recipe, trial=None: _answered(palea.run(recipe, journey, trial=trial)))


def _found(package):
    return tuple(f"{f.message} {f.remedy}" for f in findings_of(package))


def _answered(outcome):
    """All that is said with an answer: its sentences, warnings and assumptions, and what the check doubts in its rows."""
    return (*outcome.sentences, *outcome.result.warnings, *outcome.result.assumptions, *outcome.doubts)


FINAL, TIME, WATER, WARMTH = "germination.final", "germination.time", "germination.water", "germination.temperature"
CONTRAST = {"contrast_id": "C1"}
MARGIN = CONTRAST | {"kind": "equivalence", "margin": 15, "margin_unit": "%"}
OTHER_LOT = {
    "lots": [{"lot_id": "AV-9", "taxon_id": "AV", "seed_unit": "legume", "source_kind": "wild harvest"}],
    "movements": [{"movement_id": "M-9", "lot_id": "AV-9", "kind": "received", "moved_at": "2025-01-15", "mass_g": 9.0},
                  *({"movement_id": f"M-{lot}", "lot_id": "AV-9"} for lot in LOTS[:2])],
}  # fmt: skip
BRUSHED = {"treatments": [{"treatment_id": "AV-T03", "label": "brushed", "clean_method": "brush machine"}]}
UNITS = [row["unit_id"] for row in SMALL["units"]]
ALL_BUT_ONE = {"units": [{"unit_id": u, "status": "excluded", "reason": "Lid off.", "outcome_known": "false"} for u in UNITS[5:]]}
ONE_BATCH = {"units": [{"unit_id": u, "lot_id": LOTS[2]} for u in UNITS[6:]]}
PLACES = [{"environment_id": f"G1-{day}", "trial_id": "G1", "chamber": f"I{day}", "run_no": 1, "day_c": day, "night_c": day,
           "water_potential_mpa": 0} for day in (20, 30)]  # fmt: skip
IN_TWO_CHAMBERS = {
    "equipment": [{"equipment_id": f"I{day}", "kind": "incubator"} for day in (20, 30)], "environments": PLACES,
    "units": [{"unit_id": u, "environment_id": f"G1-{20 + 10 * (n % 2)}"} for n, u in enumerate(UNITS)],
}  # fmt: skip
DRY = [PLACES[0], PLACES[1] | {"day_c": 20, "night_c": 20, "water_potential_mpa": -0.4}]
IN_WATER_AND_DRY = IN_TWO_CHAMBERS | {"environments": DRY}
OF_SOWN = {"trial_outcomes": [{"trial_id": "G1", "outcome": "normal seedlings", "denominator": "sown units"}]}
LATE = {"visit_id": "G1-D10", "trial_id": "G1", "visited_at": "2025-03-11", "visited_by": "sorrel", "looked_for": "normal; dead",
        "counting": "new", "blind": "true"}
ON_TIME = {
    "trial_outcomes": [{"trial_id": "G1", "outcome": "t50"}],
    "contrasts": [CONTRAST | {"outcome": "t50", "wanted": "lower"}],
    "visits": [LATE],
    "counts": [END | {"visit_id": visit, "unit_id": u, "outcome": name, "count": n}
               for at, u in enumerate(UNITS) for visit, name, n in (
                   ("G1-D07", "normal", 3 + 6 * (at > 3)), ("G1-D10", "normal", 2 + 5 * (at > 3)), ("G1-D07", "dead", 0))],
}  # fmt: skip
BLANKED = [END | {"unit_id": u, "outcome": name, "count": None, "missing": "not looked"}
           for u in UNITS for name in ("dead", "empty", "hard")]  # fmt: skip
NOT_CUT = {"counts": BLANKED}
MORE = [SMALL["units"][7] | {"unit_id": f"G1-AV-T03-2-{n}", "code": f"D1{n}", "grid_column": 3, "grid_row": n} for n in (3, 4, 5)]
ONE_NOT_CUT = {"units": MORE, "counts": [
    *(END | {"unit_id": unit["unit_id"], "outcome": name, "count": n} for unit in MORE
      for name, n in (("normal", 9), ("abnormal", 0), ("dead", 16), ("empty", 0), ("hard", 0))), *BLANKED[12:15]]}  # fmt: skip
NOTHING_COUNTED = {"counts": [row | {"count": None, "missing": "not looked"} for row in SMALL["counts"]]}
TWO_PRIMARIES = {
    "trial_outcomes": ON_TIME["trial_outcomes"],
    "contrasts": [CONTRAST | {"primary": "true"},
                  SOUND["contrasts"][0] | {"contrast_id": "C2", "outcome": "t50", "primary": "true"}],
}  # fmt: skip
LIVING = (("fill", "filled", 97), ("fill", "empty", 3), ("viability", "viable", 93), ("viability", "dead", 7))
HARD_AS_DEAD = {
    "tests": [{"test_id": f"Q-{q}", "lot_id": "AV-0", "quantity": q, "method": "cut", "status": "valid",
               "tested_at": "2025-01-20", "tested_by": "sorrel"} for q in ("fill", "viability")],
    "readings": [{"test_id": f"Q-{q}", "replicate": 1, "item": item, "value": n, "unit": "1", "out_of": 100}
                 for q, item, n in LIVING],
}  # fmt: skip

# what is wrong -> (rows that make the sound trial wrong, the recipe that is asked; "" for the check)
IN_THE_SMALL_TRIAL = {
    "one dish of a treatment": (ALL_BUT_ONE, FINAL),
    "a control that was not sown": ({"contrasts": [CONTRAST | {"b": "AV-T02"}]}, FINAL),
    "a control that is not from the same lot": (OTHER_LOT, FINAL),
    "two factors changed together": (BRUSHED, FINAL),
    "the method's effect taken for the hull's": (BRUSHED, ""),
    "one batch taken as proof of a recipe": (ONE_BATCH, FINAL),
    "no margin for equivalence": ({"contrasts": [CONTRAST | {"kind": "equivalence"}]}, FINAL),
    "a margin chosen after the data": ({"contrasts": [MARGIN | {"declared_at": "2025-03-20"}]}, FINAL),
    "not shown taken for equal": ({}, FINAL),
    "emptiness removed in cleaning taken for germination gained": ({}, FINAL + " beside"),
    "empty units counted as failures": (OF_SOWN, FINAL),
    "filled seed told from the dishes in which all came up": (NOT_CUT, FINAL),
    "a dish that nobody cut": (ONE_NOT_CUT, FINAL),
    "no dish counted at all": (NOTHING_COUNTED, FINAL),
    "several primary contrasts": (TWO_PRIMARIES, FINAL),
    "hard seed counted as dead": (HARD_AS_DEAD, ""),
    "times compared although finals differ": (ON_TIME, TIME),
    "one incubator taken as proof of a temperature": (IN_TWO_CHAMBERS, WARMTH),
    "fewer water potentials than hydrotime needs": (IN_WATER_AND_DRY, WATER),
    "fewer temperatures than thermal time needs": (IN_TWO_CHAMBERS, WARMTH),
}  # fmt: skip


# planted in the journey, each found by the check
PLANTED = (
    "seeds counted as replicates", "new and running totals mixed up", "more germinated than sown", "a running total that goes down",
    "a blank typed as zero", "a visit dated before sowing", "day and month swapped", "a share of filled seed taken for one of sown",
    "germination above what is alive", "mass of the dispersal unit taken for that of the seed", "thinned seedlings counted as dead",
    "percentages without counts", "an active compared between routes at different doses", "one dish, told before the analysis",
    "one incubator, told before the analysis", "a margin after the data, told before the analysis",
    "the recipe as it was meant reported for what was applied", "a treatment that was not done", "a soak without its water control",
    "a contractor's coat recorded as coated", "a withheld recipe that nobody withholds", "an acid without its basis",
    "a dose without its basis", "millilitres of a powder", "wet seed weighed as product", "a result older than its data",
    "plants weighed together without their number", "one favourable answer kept out of many",
)  # fmt: skip
# true of the invented journey, or left out of it: recipe and trial
OF_THE_JOURNEY = {
    "routes at different doses": (FINAL, "G1"),
    "survivors' size compared without their number": ("growth.compare", "F1"),
    "coat mass counted as live seed": ("handling.seeder", "H1"),
    "fewer doses than a curve needs": ("germination.dose", "G1"),
    "nominal dose told beside what was found": ("coating.dose", None),
    "the hull's emptiness beside the difference of filled seed": (FINAL, "G1"),
    "one batch behind runs of a seeder": ("handling.seeder", "H1"),
    "one batch behind plots": ("emergence.final", "F1"),
    "viable seed known from a sample": ("emergence.final", "F1"),
}
# wrong in one more thing each, laid into the journey together and found by the check
LAID_IN = (
    "wild seedlings counted as sown ones", "a control that was not handled", "wet mass counted as build-up",
    "the history of a lot lost when it changed containers", "an amount without a unit", "an amount without a basis",
    "a price of what mass", "treated and untreated run at different speeds",
)  # fmt: skip


@pytest.fixture(scope="module")
def told_of_wild(journey):
    """Findings of the journey without unsown plots, without sham, with blanks where a number is not known without them."""
    units, treatments, moves, steps, lots, runs = (
        journey[name] for name in ("units", "treatments", "movements", "run_steps", "lots", "handling_runs")
    )
    of_coat = moves["run_id"].eq("R-AV-T06-1").fillna(value=False) & moves["kind"].eq("made")
    moved = moves.index[moves["kind"].eq("moved to lot")][0]
    wet = steps.index[steps["run_id"].eq("R-AV-T06-1") & steps["action"].eq("wet")]
    changed = {
        "units": units[~units["sown_n"].eq(0).fillna(value=False)],
        "treatments": treatments.assign(role=treatments["role"].mask(treatments["role"].eq("handled sham"), "test")),
        "movements": moves.assign(moisture_pct=moves["moisture_pct"].mask(of_coat),
                                  counterpart_lot_id=moves["counterpart_lot_id"].mask(moves.index == moved)),
        "run_steps": steps.assign(unit=steps["unit"].mask(steps.index == wet[0]), basis=steps["basis"].mask(steps.index == wet[1])),
        "lots": lots.assign(price_basis=lots["price_basis"].mask(lots["lot_id"].eq("AV-0"))),
        "handling_runs": runs.assign(speed_km_h=runs["speed_km_h"].mask(runs["handling_id"].str.startswith("H1-CC-T08"), 6.0)),
    }  # fmt: skip
    package = journey
    for table, frame in changed.items():
        package = package.replacing(table, frame)
    return _found(package)


def _spoken(package, recipe):
    return _answered(palea.run(recipe.split()[0], package, trial="G1")) if recipe else _found(package)


@pytest.mark.parametrize("error", IN_THE_SMALL_TRIAL)
def test_the_small_trial_made_wrong_is_told(error, sound):
    rows, recipe = IN_THE_SMALL_TRIAL[error]
    package = sound
    for table, changed in rows.items():
        package = package.having(table, changed)
    spoken = _spoken(package, recipe)
    assert [line for line in spoken if SAID[error] in line], "\n".join(spoken)


def test_the_sound_trial_is_judged(sound):
    """None of the sentences is said of it, but for those that are always said where nothing was shown."""
    always = {name for name, (rows, _) in IN_THE_SMALL_TRIAL.items() if not rows}
    spoken = [line for recipe in (FINAL, TIME, "") for line in _spoken(sound, recipe)]
    for error in IN_THE_SMALL_TRIAL.keys() - always:
        assert not [line for line in spoken if SAID[error] in line], error


@pytest.mark.parametrize("error", PLANTED)
def test_a_planted_error_is_told(error, told_of_broken):
    assert [line for line in told_of_broken if SAID[error] in line], SAID[error]


@pytest.mark.parametrize("error", LAID_IN)
def test_an_error_laid_into_the_journey_is_told(error, told_of_wild, told_of_journey):
    assert [line for line in told_of_wild if SAID[error] in line], SAID[error]
    assert not [line for line in told_of_journey if SAID[error] in line], "it is said of the sound journey too"


@pytest.mark.parametrize("error", OF_THE_JOURNEY)
def test_what_the_journey_cannot_show_is_told_with_its_answer(error, answers):
    spoken = answers(*OF_THE_JOURNEY[error])
    assert [line for line in spoken if SAID[error] in line], "\n".join(spoken)


def test_no_error_is_without_its_sentence():
    assert sorted(SAID) == sorted([*IN_THE_SMALL_TRIAL, *PLANTED, *LAID_IN, *OF_THE_JOURNEY])


def test_a_sentence_says_what_to_do():
    """Each but the plain statements of what an answer rests on asks for something to be done, or says what would hold."""
    assert all(sentence.strip() and not sentence.endswith(",") for sentence in SAID.values())
