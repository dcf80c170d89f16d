"""Sentences for a Layout: how it was drawn, what makes it balanced, and the plan itself, line by line in walking order."""

from palea.words import numbers, prose


def say(result, names):
    """How it was drawn, its checks, then a sentence a block (or row)."""
    return [sentence for _, sentence in lines(result, names)]


def lines(result, names):
    """("", sentence) of each: a layout is of no single species."""
    drawn = prose.stop(f"{prose.capital(result.design)}: {_size(result)}; {_origin(result)}")
    again = "The same treatments, seed and version give the same layout again."
    checks = [check.says if check.holds else f"Not so here: {prose.inside(check.says)}" for check in result.checks]
    efficiency = [_efficiency(e) for e in result.estimates]
    return [("", text) for text in (f"{drawn} {again}", *checks, *efficiency, *_plan(result, names))]


def _size(result):
    """"24 units of 6 treatments in 4 blocks"."""
    units = result.units
    told = f"{prose.counted(len(units), 'unit')} of {prose.counted(units['treatment'].nunique(), 'treatment')}"
    blocks, plots = units["block"].max(), units["main_plot"].max()
    told += f" in {prose.counted(blocks, 'block')}" if blocks else ""
    return told + (f" and {prose.counted(plots, *_around(units))}" if plots else "")


def _around(units):
    """What main plots are called: where they carry no level of their own they are the replicates around small blocks."""
    return ("main plot", "main plots") if units["main"].ne("").any() else ("replicate", "replicates")


def _origin(result):
    return f"seed {result.seed}, {result.algorithm} version {result.version}"


def _efficiency(estimate):
    value = numbers.with_unit(numbers.plain(estimate.value), estimate.unit)
    return f"Blocks this small keep {value} of what complete blocks would tell about treatments."


def _plan(result, names):
    """"Block 1: A, C, B." A line a main plot where there are main plots with a level, else a block, else a row."""
    units = result.units
    mains = units["main"].ne("").any()
    by = "main_plot" if mains else "block" if units["block"].any() else "row"
    for number, part in units.groupby(by, sort=True):
        at = f"Block {part['block'].iloc[0]}, {names.get(part['main'].iloc[0], part['main'].iloc[0])}" if mains else ""
        yield f"{at or f'{prose.capital(by)} {number}'}: {', '.join(part['treatment'])}."
