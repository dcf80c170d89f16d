"""What cannot be true of where units stand: places, codes, main plots and their parts, the lots they were sown from."""

import pandas as pd

from palea.checks.examples import several
from palea.checks.rule import rule
from palea.derived.ladder import chambers, level_of
from palea.derived.lookup import beside, codes, texts


def units(*rows, trial=None, **more):
    """Units of trial F1, one a mapping, with what they share."""
    usual = {"trial_id": "F1", "kind": "plot", "sown_n": 120, "seeds_each": 1, "status": "in use"} | more
    named = [{"unit_id": f"P{n}"} | usual | row for n, row in enumerate(rows, 1)]
    return {"trials": [{"trial_id": "F1"} | (trial or {})], "units": named}


@rule(
    "planning.place-taken",
    severity="warning",
    reads=("units",),
    at="units.grid_row",
    says="{kind} {unit_id} stands at row {grid_row}, column {grid_column}, where {other} stands too.",
    remedy="Correct the place of one of the two; on paper each has its own.",
    fires=units({"grid_row": 1, "grid_column": 2}, {"grid_row": 1, "grid_column": 2}),
    nearly=units({"grid_row": 1, "grid_column": 2}, {"grid_row": 2, "grid_column": 1}),
)
def place_taken(units):
    """No two units share a place. A main plot holds its parts, and each chamber or site has places of its own."""
    by = ["trial_id", "environment_id", "grid_row", "grid_column"]
    alone = units[
        units["grid_row"].notna() & units["grid_column"].notna() & ~units["unit_id"].isin(units["parent_unit_id"].dropna().unique())
    ]
    shared = alone[pd.Series(codes(*(alone[c] for c in by)), index=alone.index).duplicated(keep=False)]
    first = shared.groupby(by, dropna=False)["unit_id"].transform("first")
    return shared.assign(other=first)[shared.duplicated(by)]


@rule(
    "planning.code-twice",
    severity="error",
    reads=("units",),
    at="units.code",
    says="{kind} {unit_id} carries the code {code}, and so does {other}: a blind count cannot tell them apart.",
    remedy="Look at the dishes, and give one of them a code of its own.",
    fires=units({"code": "D031"}, {"code": "D031"}),
    nearly=units({"code": "D031"}, {"code": "D031", "trial_id": "F2"}),
)
def code_twice(units):
    """Within a trial a code names one unit."""
    coded = units[units["code"].notna()]
    first = coded.groupby(["trial_id", "code"])["unit_id"].transform("first")
    return coded.assign(other=first)[coded.duplicated(["trial_id", "code"])]


@rule(
    "planning.part-of-other-trial",
    severity="error",
    reads=("units",),
    at="units.parent_unit_id",
    says="{kind} {unit_id} is said to be part of {parent_unit_id}, which is a {parent_kind} of trial {parent_trial}.",
    remedy="A part belongs to a main plot of its own trial; correct the main plot named.",
    fires=units({"kind": "main plot"}, {"parent_unit_id": "P1", "trial_id": "F2"}),
    nearly=units({"kind": "main plot"}, {"parent_unit_id": "P1"}),
)
def part_of_other_trial(units):
    """Parts lie in main plots of the same trial."""
    if units["parent_unit_id"].isna().all():
        return None
    known = units.drop_duplicates("unit_id").set_index("unit_id")
    told = units.assign(
        parent_kind=texts(units["parent_unit_id"], known["kind"]),
        parent_trial=texts(units["parent_unit_id"], known["trial_id"]),
    )
    other = told["parent_trial"].ne(told["trial_id"]) | ~told["parent_kind"].isin(_holding(units))
    return told[told["parent_kind"].notna() & other.fillna(value=False)]


def _holding(units):
    """Kinds of unit that hold others: those without seed of their own."""
    return set(units.loc[units["treatment_id"].isna() & units["kind"].eq("main plot"), "kind"])


@rule(
    "planning.part-in-other-block",
    severity="error",
    reads=("units",),
    at="units.block",
    says="{kind} {unit_id} stands in block {block}, but the main plot {parent_unit_id} that it is part of in block "
    "{of}.",
    remedy="Correct the block of one of the two.",
    fires=units({"kind": "main plot", "block": "1"}, {"parent_unit_id": "P1", "block": "2"}),
    nearly=units({"kind": "main plot", "block": "1"}, {"parent_unit_id": "P1", "block": "1"}),
)
def part_in_other_block(units):
    """A split plot is nested: block, main plot, plot."""
    if units["parent_unit_id"].isna().all():
        return None
    block = units.drop_duplicates("unit_id").set_index("unit_id")["block"]
    told = units.assign(of=texts(units["parent_unit_id"], block))
    return told[told["of"].ne(told["block"]).fillna(value=False)]


def _fenced(*levels, rung="main plot"):
    plots = [{"kind": "main plot"}, {"kind": "main plot"}, {"parent_unit_id": "P1"}, {"parent_unit_id": "P2"}]
    return several(
        units(*plots),
        {"trial_factors": [{"trial_id": "F1", "factor": "fence", "applied_to": rung}]},
        {"unit_levels": [{"unit_id": u, "factor": "fence", "level": level} for u, level in levels]},
    )


@rule(
    "planning.level-missing",
    severity="gap",
    reads=("units", "unit_levels", level_of, "trial_factors"),
    at="units.unit_id",
    needs="unit_levels",
    says="{kind} {unit_id} has no level of {factor}, which other units of trial {trial_id} have.",
    remedy="Enter its level under levels of units, on the main plot where it holds for all parts.",
    fires=_fenced(("P1", "open"), ("P3", "open")),
    nearly=_fenced(("P1", "open"), ("P2", "fenced")),
)
def level_missing(units, unit_levels, level_of, trial_factors):
    """A factor that some units of a trial carry is told of all: once, at the main plot where there is one."""
    del trial_factors
    if unit_levels.empty:
        return None
    trial = texts(unit_levels["unit_id"], units.set_index("unit_id")["trial_id"])
    used = unit_levels.assign(trial_id=trial)[["trial_id", "factor"]].drop_duplicates().dropna()
    due = units[["unit_id", "trial_id", "kind", "parent_unit_id"]].reset_index(names="line").merge(used, on="trial_id")
    both = due.merge(level_of, left_on=["unit_id", "factor"], right_on=["unit", "factor"], how="left")
    blank = both[both["level"].isna()].set_index("line")
    # A main plot without a level leaves its parts without one too: told once, at the main plot.
    return blank[~blank["parent_unit_id"].isin(blank["unit_id"])]


@rule(
    "planning.level-on-a-part",
    severity="warning",
    reads=("unit_levels", "units", "trial_factors"),
    at="unit_levels.unit_id",
    says="{factor} of trial {trial_id} is applied to whole main plots, but {unit_id}, a part of {parent}, has a level "
    "of its own.",
    remedy="Enter the level at the main plot; if it truly varies within main plots, correct what it is applied to.",
    fires=_fenced(("P1", "open"), ("P2", "fenced"), ("P3", "fenced")),
    nearly=_fenced(("P3", "open"), ("P4", "fenced"), rung="plot"),
)
def level_on_a_part(unit_levels, units, trial_factors):
    """What is applied to a main plot is judged there, so its level belongs there."""
    known = units.drop_duplicates("unit_id").set_index("unit_id")
    told = unit_levels.assign(
        trial_id=texts(unit_levels["unit_id"], known["trial_id"]),
        parent=texts(unit_levels["unit_id"], known["parent_unit_id"]),
    )
    rung = trial_factors.drop_duplicates(["trial_id", "factor"])
    both = told.reset_index(names="line").merge(rung, on=["trial_id", "factor"]).set_index("line")
    return both[both["applied_to"].eq("main plot") & both["parent"].notna()]


@rule(
    "planning.environment-of-other-trial",
    severity="error",
    reads=("units", "environments"),
    at="units.environment_id",
    needs="environments",
    says="{kind} {unit_id} of trial {trial_id} is held under {environment_id}, which belongs to trial {of}.",
    remedy="Each trial has environments of its own; name the one of this trial.",
    fires=several(units({"environment_id": "E1"}), {"environments": [{"environment_id": "E1", "trial_id": "F2"}]}),
    nearly=several(units({"environment_id": "E1"}), {"environments": [{"environment_id": "E1", "trial_id": "F1"}]}),
)
def environment_of_other_trial(units, environments):
    """A unit's environment is one of its own trial."""
    of = environments.drop_duplicates("environment_id").set_index("environment_id")["trial_id"]
    told = units.assign(of=texts(units["environment_id"], of))
    return told[told["of"].ne(told["trial_id"]).fillna(value=False)]


def _incubators(*chamber_and_day):
    rows = [
        {"environment_id": f"E{n}", "trial_id": "G2", "chamber": c, "run_no": r, "day_c": day, "night_c": day}
        for n, (c, r, day) in enumerate(chamber_and_day)
    ]
    return {"trials": [{"trial_id": "G2"}], "environments": rows}


@rule(
    "planning.temperature-unreplicated",
    severity="warning",
    reads=("trials", chambers),
    at="trials.trial_id",
    needs="environments",
    says="Trial {trial_id} compares {temperatures} temperatures, and {day_night} was run in one incubator once: "
    "temperature "
    "is not replicated, and its effect cannot be told from the incubator's.",
    remedy="Swap the incubators and run again; until then temperature is described and not judged.",
    fires=_incubators(("I1", 1, 20), ("I1", 2, 20), ("I2", 1, 30)),
    nearly=_incubators(("I1", 1, 20), ("I2", 2, 20), ("I2", 1, 30), ("I1", 2, 30)),
)
def temperature_unreplicated(trials, chambers):
    """An effect of temperature is judged between incubator runs: each temperature needs two. Told once a trial."""
    several_kept = chambers[chambers["temperatures"].gt(1) & chambers["runs"].lt(2)].drop_duplicates("trial")
    return beside(trials, "trial_id", several_kept, "trial")


@rule(
    "planning.latin-repeat",
    severity="error",
    reads=("units", "trials"),
    at="units.treatment_id",
    says="{kind} {unit_id}: treatment {treatment_id} stands twice in {line_kind} {line} of trial {trial_id}, a Latin "
    "square.",
    remedy="Correct the layout as it was sown; if it was sown so, the design is no Latin square and its title has to "
    "change.",
    fires=units(
        {"grid_row": 1, "grid_column": 1, "treatment_id": "A"},
        {"grid_row": 1, "grid_column": 2, "treatment_id": "A"},
        trial={"design": "Latin square"},
    ),
    nearly=units(
        {"grid_row": 1, "grid_column": 1, "treatment_id": "A"},
        {"grid_row": 1, "grid_column": 2, "treatment_id": "B"},
        {"grid_row": 2, "grid_column": 1, "treatment_id": "B"},
        {"grid_row": 2, "grid_column": 2, "treatment_id": "A"},
        trial={"design": "Latin square"},
    ),
)
def latin_repeat(units, trials):
    """In a Latin square each treatment stands once in each row and once in each column. Told once a repeat."""
    squares = trials.loc[trials["design"].eq("Latin square").fillna(value=False), "trial_id"]
    sown = units[units["trial_id"].isin(squares) & units["treatment_id"].notna()]
    found = {}
    for column, name in (("grid_row", "row"), ("grid_column", "column")):
        again = sown[sown[column].notna() & sown.duplicated(["trial_id", column, "treatment_id"])]
        for index, at in again[column].items():
            found.setdefault(index, (name, at))
    told = sown.loc[list(found)]
    return told.assign(line_kind=[k for k, _ in found.values()], line=[at for _, at in found.values()])


RULES = (
    place_taken,
    code_twice,
    part_of_other_trial,
    part_in_other_block,
    level_missing,
    level_on_a_part,
    environment_of_other_trial,


    temperature_unreplicated,
    latin_repeat,



)
