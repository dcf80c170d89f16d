"""Which treatment lies where: layouts from a seed, with what makes them balanced counted on the layout itself."""

from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.results import Check, Estimate, Layout, Refusal
from palea.calc.stats import design as designs
from palea.errors import UnfitValue

QUANTITY = "efficiency of blocks"
ALGORITHM = "palea.layout"
COLUMNS = ("block", "main_plot", "main", "treatment")
ALIKE = "Units of one block are alike before treatment; the order of treatments in it is chance alone."


def layout(arms, mains=None, design="randomised blocks", repeats=4, block_size=0, columns=0, seed=1):
    """Lay treatments out on units -> Layout, or Refusal where the design cannot hold them.

    arms : frame, one row a treatment: treatment; repeats (optional) for a completely randomised layout with unequal
    numbers.  mains : frame, one row a level of what whole main plots get: main; for a split plot only.
    design : a word of the design list.  repeats : units of each treatment: blocks, or replicates of an alpha design; a
    Latin square has as many as treatments and takes none.  block_size : units an incomplete block (alpha).
    columns : width of the field or shelf in units, filled row by row; 0: a block (or row of the square) a line.
    seed : start of the random streams; the same seed and version give the same layout for ever.
    Raises UnfitValue for an unknown design, fewer than one repeat, or a treatment named twice.
    Source: Cochran & Cox 1957, Experimental Designs, ch. 4 and 7; alpha: Patterson & Williams 1976, Biometrika 63:83.
    """
    names = _names(arms["treatment"], "treatment")
    plan = PLANS.get(design)
    if plan is None:
        msg = f"design is “{design}”; allowed are {', '.join(PLANS)}."
        raise UnfitValue(msg)
    if repeats < 1:
        msg = f"repeats is {repeats}; allowed is 1 or more."
        raise UnfitValue(msg)
    given = {"arms": arms, "mains": mains, "repeats": repeats, "block_size": block_size, "seed": seed}
    refused = _refused(design, names, given)
    if refused:
        return refused
    units = _placed(plan(names, given), columns, square=plan is _square)
    checks, estimates = _checks(units, names), _efficiency(units, names)
    return Layout(
        units=units, method=_method(units, design, seed), assumptions=(ALIKE,) if units["block"].any() else (),
        warnings=tuple(f"Not balanced: {check.says}" for check in checks if not check.holds),
        design=design, seed=seed, algorithm=ALGORITHM, version=designs.VERSION, checks=checks, estimates=estimates,
    )  # fmt: skip


def _names(column, what):
    names = column.astype(str).to_numpy()
    doubled = pd.Index(names)[pd.Index(names).duplicated()]
    if len(doubled):
        msg = f"The {what} {doubled[0]} is named twice; name each once and give the number of repeats."
        raise UnfitValue(msg)
    return names


def _refused(design, names, given):
    """Why this design cannot hold these treatments; None where it can."""
    plan = PLANS[design]
    if len(names) < 2 and plan is not _split:
        return _refusal("There is only one treatment, so there is nothing to compare.", "Add its control.")
    if plan is _split and (given["mains"] is None or len(given["mains"]) < 2):
        return _refusal("Nothing tells main plots apart.", "Name two or more levels of what whole main plots get.")
    if plan is _alpha:
        return _no_alpha(len(names), given["block_size"], given["repeats"])
    if plan is _square and len(names) > 12:
        return _refusal(
            f"A Latin square of {len(names)} treatments takes {len(names) ** 2} units.",
            "Use randomised blocks, or an alpha design with small blocks.",
        )
    return None


def _no_alpha(treatments, size, replicates):
    fits = [k for k in range(2, treatments // 2 + 1) if treatments % k == 0]
    if not fits:
        return _refusal(
            f"{treatments} treatments cannot be shared out in blocks of one size.",
            "Add a treatment (a second control is never lost), or use randomised blocks.",
        )
    if size not in fits:
        told = ", ".join(map(str, fits))
        return _refusal(f"{treatments} treatments do not fill blocks of {size}.", f"Block sizes that fit: {told}.")
    return _refusal("One replicate has nothing to compare within.", "Ask for 2 or more.") if replicates < 2 else None


def _refusal(missing, remedy):
    return Refusal(quantity=QUANTITY, missing=missing, remedy=remedy)


def _random(names, given):
    repeats = given["arms"]["repeats"].to_numpy(int) if "repeats" in given["arms"] else None
    repeats = np.full(len(names), given["repeats"]) if repeats is None else repeats
    return _frame(treatment=names[designs.completely_randomised(repeats, given["seed"])])


def _blocks(names, given):
    plan = designs.complete_blocks(len(names), given["repeats"], given["seed"])
    return _frame(treatment=names[plan.ravel()], block=np.repeat(np.arange(len(plan)) + 1, len(names)))


def _square(names, given):
    return _frame(treatment=names[designs.latin_square(len(names), given["seed"]).ravel()])


def _split(names, given):
    mains = _names(given["mains"]["main"], "main level")
    main, sub = designs.split_plot(len(mains), len(names), given["repeats"], given["seed"])
    block, place, _ = np.indices(main.shape)
    return _frame(
        treatment=names[sub.ravel()], main=mains[main.ravel()], block=block.ravel() + 1,
        main_plot=(block * len(mains) + place).ravel() + 1,
    )  # fmt: skip


def _alpha(names, given):
    """Replicates of incomplete blocks; `block` numbers the incomplete ones, `main_plot` the replicates around them."""
    plan = designs.alpha_design(len(names), given["block_size"], given["repeats"], given["seed"])
    replicate, block, _ = np.indices(plan.shape)
    return _frame(
        treatment=names[plan.ravel()], block=(replicate * plan.shape[1] + block).ravel() + 1,
        main_plot=replicate.ravel() + 1,
    )  # fmt: skip


PLANS = MappingProxyType({
    "completely randomised": _random, "randomised blocks": _blocks, "Latin square": _square, "split plot": _split,
    "alpha": _alpha,
})  # fmt: skip


def _frame(**columns):
    blank = {"block": 0, "main_plot": 0, "main": ""}
    return pd.DataFrame(blank | columns, index=range(len(columns["treatment"])))[list(COLUMNS)]


def _placed(units, columns, *, square):
    """Numbered in walking order and given a row and a column of the field or shelf, from 1."""
    at = np.arange(len(units))
    width = columns or _width(units, square=square)
    text = {name: pd.array(units[name].astype(str), dtype=pd.StringDtype("pyarrow")) for name in ("main", "treatment")}
    placed = units.assign(unit=at + 1, row=at // width + 1, column=at % width + 1, **text)
    return placed[["unit", "block", "main_plot", "row", "column", "main", "treatment"]]


def _width(units, *, square):
    if square:
        return round(len(units) ** 0.5)
    if units["block"].any():
        return int(units["block"].value_counts().max())
    return max(round(len(units) ** 0.5), 1)


def _checks(units, names):
    """What was wanted of the layout, counted on the layout."""
    blocks, mains = units["block"].any(), units["main"].ne("").any()
    times = units["treatment"].value_counts().reindex(names, fill_value=0)
    found = [Check("Every treatment lies on the same number of units.", bool(times.min() == times.max()))]
    if mains:
        found += _split_checks(units)
    elif blocks and units["main_plot"].any():
        found += _alpha_checks(units, names)
    elif blocks:
        found.append(Check("Every treatment lies once in every block.", _once(units, "block", names)))
    elif len(units) == len(names) ** 2 and units["row"].nunique() == len(names) == units["column"].nunique():
        found += [
            Check("Every treatment lies once in every row.", _once(units, "row", names)),
            Check("Every treatment lies once in every column.", _once(units, "column", names)),
        ]
    return tuple(found)


def _once(units, by, names):
    times = pd.crosstab(units[by], units["treatment"]).reindex(columns=names, fill_value=0)
    return bool((times == 1).all(axis=None))


def _split_checks(units):
    plots = units.drop_duplicates("main_plot")
    once = pd.crosstab(plots["block"], plots["main"])
    inside = pd.crosstab(units["main_plot"], units["treatment"])
    return [
        Check("Every main level lies once in every block.", bool((once == 1).all(axis=None))),
        Check("Every treatment lies once in every main plot.", bool((inside == 1).all(axis=None))),
    ]


def _alpha_checks(units, names):
    meet = _meetings(units, names)
    spread = int(meet.max() - meet.min())
    return [
        Check("Every treatment lies once in every replicate.", _once(units, "main_plot", names)),
        Check(f"Two treatments meet in a block {meet.min()} to {meet.max()} times, not more than one apart.", spread <= 1),
    ]


def _codes(units, names):
    codes = pd.Index(names).get_indexer(units["treatment"])
    return codes.reshape(units["block"].nunique(), -1)


def _meetings(units, names):
    return designs.concurrences(_codes(units, names), len(names))[np.triu_indices(len(names), 1)]


def _efficiency(units, names):
    if units["main"].ne("").any() or not (units["block"].any() and units["main_plot"].any()):
        return ()
    value = 100 * designs.efficiency(_codes(units, names), len(names))
    return (Estimate(QUANTITY, MappingProxyType({}), value, n_units=len(units)),)


def _method(units, design, seed):
    return f"{len(units)} units, {design}, seed {seed}, {ALGORITHM} version {designs.VERSION}."
