"""`palea plan`: answers for the desk before anything is wetted, with formula and units beside them."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json, records

plans = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
app.add_typer(
    plans, name="plan",
    help="Plan a trial: how units lie, how many there must be, whether the seed will do, as in `palea plan size --have 16`.",
)  # fmt: skip

AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")]


@plans.command()
@answers
def layout(
    treatments: Annotated[str, typer.Option(help="Names of the treatments, separated by semicolons.")],
    mains: Annotated[str, typer.Option(help="For a split plot: what whole main plots get.")] = "",
    design: Annotated[str, typer.Option(help="How treatments are given to units.")] = "randomised blocks",
    repeats: Annotated[int, typer.Option(help="Units of each treatment: blocks, or replicates.")] = 4,
    block_size: Annotated[int, typer.Option(help="Units an incomplete block (alpha design).")] = 0,
    columns: Annotated[int, typer.Option(help="Width of field or shelf in units; 0: a block a line.")] = 0,
    seed: Annotated[int, typer.Option(help="The same seed gives the same layout.")] = 1,
    figure: Annotated[Path | None, typer.Option(help="Write the plan to print as SVG to this file.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite that file.")] = False,
    as_json: AsJson = False,
):  # fmt: skip
    """Draw a balanced layout from a seed, as in `palea plan layout --treatments "T01; T03; T05" --repeats 8`."""
    from palea.analyses.planning import LAYOUT

    result, options = _asked(
        LAYOUT, treatments=treatments, mains=mains, design=design, repeats=repeats, block_size=block_size,
        columns=columns, seed=seed,
    )  # fmt: skip
    if figure:
        _draw(result, figure, replace=replace)
    checks = [{"says": check.says, "holds": check.holds} for check in result.checks]
    _tell(LAYOUT, options, result, as_json, units=records(result.units), checks=checks)


@plans.command()
@answers
def size(
    level_a: Annotated[float, typer.Option(help="Share expected with the treatment, in %.")] = 85.0,
    level_b: Annotated[float, typer.Option(help="Share expected of its control, in %.")] = 70.0,
    seeds: Annotated[int, typer.Option(help="Seeds a dish, or plants a plot.")] = 25,
    rho: Annotated[float, typer.Option(help="How alike seeds of one dish are; 0: not at all.")] = 0.02,
    have: Annotated[int, typer.Option(help="Units of each treatment that there are; 0: not said.")] = 0,
    kind: Annotated[str, typer.Option(help="superiority, no worse or equivalence.")] = "superiority",
    margin: Annotated[float, typer.Option(help="Smallest difference that matters, in points.")] = 0.0,
    wanted: Annotated[str, typer.Option(help="Whether higher or lower is better.")] = "higher",
    dishes: Annotated[int, typer.Option(help="Dishes of a batch, where batches are the units.")] = 1,
    batch_sd: Annotated[float, typer.Option(help="How far batches differ: standard deviation of logits.")] = 0.0,
    power: Annotated[float, typer.Option(help="Chance of seeing what is there.")] = 0.8,
    alpha: Annotated[float, typer.Option(help="Two-sided level of the test.")] = 0.05,
    trials: Annotated[int, typer.Option(help="Trials made up for the power; 0: none.")] = 1000,
    seed: Annotated[int, typer.Option(help="Start of the made-up trials.")] = 1,
    as_json: AsJson = False,
):
    """Say how many dishes or plots a question needs, as in `palea plan size --level-a 66 --level-b 60 --have 16`."""
    from palea.analyses.planning import SIZE

    result, options = _asked(
        SIZE, level_a=level_a, level_b=level_b, seeds=seeds, rho=rho, have=have, kind=kind, margin=margin, wanted=wanted,
        dishes=dishes, batch_sd=batch_sd, power=power, alpha=alpha, trials=trials, seed=seed,
    )  # fmt: skip
    _tell(SIZE, options, result, as_json, results=_rows(result))


@plans.command(name="seed")
@answers
def seed_(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    spare: Annotated[float, typer.Option(help="Share of seed added to all, as 0.1 for a tenth.")] = 0.0,
    as_json: AsJson = False,
):
    """Say what all trials take of each lot and whether it holds that, as in `palea plan seed my-trial`; exit 1: it does not."""
    import palea

    outcome = palea.run("planning.seed", palea.open_package(package), spare=spare)
    _refuse_if_asked_in_vain(outcome.result)
    short = any(e.quantity == "seed left" and e.value < 0 for e in outcome.result.estimates)
    _tell(
        outcome.recipe, outcome.options, outcome.result, as_json, names=outcome.names, fits=not short,
        results=_rows(outcome.result), units=records(outcome.result.units),
    )  # fmt: skip
    raise typer.Exit(1 if short else 0)


def _asked(recipe, **given):
    """(result, options) of a question that needs no package; RecipeError or UnfitValue for what cannot be asked."""
    options = recipe.settle(given)
    result = recipe.compute(**options)
    _refuse_if_asked_in_vain(result)
    return result, options


def _refuse_if_asked_in_vain(result):
    """A refusal is no answer: its sentences go to standard error, exit 2."""
    from palea.calc.results import Refusal

    if isinstance(result, Refusal):
        note(f"{result.missing} {result.remedy}".strip())
        raise typer.Exit(2)


def _rows(result):
    from palea.analyses.rows import rows_of

    return records(rows_of(result).dropna(axis="columns", how="all"))


def _tell(recipe, options, result, as_json, names=None, **more):
    from palea.words import say

    sentences = say(result, names or {})
    if as_json:
        print_json({
            "recipe": recipe.id, "version": recipe.version, "options": dict(options), **more, "sentences": sentences,
            "warnings": list(result.warnings), "assumptions": list(result.assumptions), "method": result.method,
            "source": recipe.source,
        })  # fmt: skip
        return
    told = [*sentences, *(f"Bear in mind: {w}" for w in result.warnings), *result.assumptions]
    typer.echo("\n".join(told))
    typer.echo(f"How: {result.method}\nSource: {recipe.source}")


def _draw(result, file, *, replace):
    from palea.figures import draw, to_svg
    from palea.words import say

    _check_free(file, replace=replace)
    file.write_text(to_svg(draw(result, say(result, {}), {})), encoding="utf-8")
    note(f"Written: {file}")


def _check_free(file, *, replace):
    from palea.errors import PaleaError

    if file.exists() and not replace:
        msg = f"{file} is there already. Name another file, or say --replace."
        raise PaleaError(msg)


@plans.command()
@answers
def units(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    trial: Annotated[str, typer.Argument(help="The trial whose units are laid out.")],
    lots: Annotated[list[str], typer.Option("--treatment", help="TREATMENT=LOT,LOT; without lots it is unsown. Once a treatment.")],
    environment: Annotated[str, typer.Option(help="Conditions or site that the units lie in.")] = "",
    kind: Annotated[str, typer.Option(help="dish, tray, pot, plot or row.")] = "plot",
    seeds: Annotated[int, typer.Option(help="Seed units a unit.")] = 0,
    design: Annotated[str, typer.Option(help="How treatments are given to units.")] = "randomised blocks",
    repeats: Annotated[int, typer.Option(help="Units of each treatment: blocks, or replicates.")] = 4,
    columns: Annotated[int, typer.Option(help="Width of field or shelf in units; 0: a block a line.")] = 0,
    block_size: Annotated[int, typer.Option(help="Units an incomplete block (alpha design).")] = 0,
    mains: Annotated[str, typer.Option(help="For a split plot: what whole main plots get.")] = "",
    main_factor: Annotated[str, typer.Option(help="The factor that those are levels of.")] = "",
    seed: Annotated[int, typer.Option(help="The same seed gives the same layout.")] = 1,
    who: Annotated[str | None, typer.Option(help="Who plans it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
    figure: Annotated[Path | None, typer.Option(help="Write the plan to print as SVG to this file.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite that file.")] = False,
):  # fmt: skip
    """Lay a trial out and keep its units: `palea plan units T F3 --treatment T01=L1,L2 --treatment T03=L3 --seeds 120`."""
    import palea
    from palea.bench import entry, plan

    given = {name: of.split(",") if of else [] for name, _, of in (text.partition("=") for text in lots)}
    laid = plan.lay_out(
        palea.open_package(package), trial, given, environment=environment, kind=kind, seeds=seeds, design=design,
        repeats=repeats, columns=columns, block_size=block_size, mains=mains, main_factor=main_factor, seed=seed,
    )  # fmt: skip
    if figure:
        _check_free(figure, replace=replace)  # before anything is kept
    entry.save(laid.proposal, palea.now(who, now), "entry", f"Units of {trial} laid out.")
    if figure:
        _draw(laid.layout, figure, replace=replace)
    note(f"{len(laid.layout.units)} units of {trial} were laid out; lock the plan with: palea plan lock {package} {trial}")


@plans.command()
@answers
def lock(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    trial: Annotated[str, typer.Argument(help="The trial whose plan is locked.")],
    who: Annotated[str | None, typer.Option(help="Who locks it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Lock the plan of a trial with time and hash, as in `palea plan lock my-trial F3`; later edits are changes to it."""
    import palea
    from palea.bench import plan

    saved = plan.lock(palea.open_package(package), trial, palea.now(who, now))
    when, told = plan.locked_as(saved, trial)
    typer.echo(f"The plan of {trial} is locked: {when}, {told}.")


@plans.command()
@answers
def changes(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    trial: Annotated[str, typer.Argument(help="The trial.")],
    as_json: AsJson = False,
):
    """List what was changed in a plan since it was locked, as in `palea plan changes my-trial F3`; exit 1: something was."""
    import palea
    from palea.bench import plan
    from palea.errors import PaleaError

    opened = palea.open_package(package)
    when, was = plan.locked_as(opened, trial)
    if not when:
        msg = f"The plan of {trial} was never locked, so nothing can be told apart from it. Lock it with: palea plan lock."
        raise PaleaError(msg)
    told, whole = list(plan.changes_to(opened, trial)), plan.stands(opened, trial)
    if as_json:
        print_json({"trial_id": trial, "locked_at": when, "hash": was, "stands": whole, "changes": told})
    else:
        typer.echo("\n".join([f"Locked {when}, {was}.", *(told or ["Nothing was changed since."])]))
    raise typer.Exit(0 if whole else 1)
