"""`palea analyse`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json, records
from palea.cli.progress import Bar

FEW_TRIALS = 2  # with more, other processes are started before it is known how much there is to do


@app.command()
@answers
def analyse(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    trial: Annotated[str | None, typer.Option(help="Only this trial.")] = None,
    recipe: Annotated[str | None, typer.Option(help="Only this recipe; `palea recipes` lists them.")] = None,
    option: Annotated[list[str] | None, typer.Option(help="NAME=VALUE, for a single recipe; may be repeated.")] = None,
    who: Annotated[str | None, typer.Option(help="Who runs it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
    processes: Annotated[int | None, typer.Option(
        min=1, help="How many answer at a time; as many as there are cores, up to four, unless said. The answers are the same.",
    )] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Run the analyses of a package and keep results, figures and sentences in it, as in `palea analyse my-trial`."""
    import palea
    from palea.analyses.keep import analysis_id
    from palea.analyses.plan import questions
    from palea.analyses.run import Subjects
    from palea.analyses.workers import answered

    opened = palea.open_package(package)
    subjects = Subjects(opened)
    whole = trial is None and recipe is None and not option and len(opened["trials"]) > FEW_TRIALS
    with Bar(stages=1) as step:
        step("Looking at what there is to ask")
        asked = None if whole else questions(subjects, trial, recipe, _options(option))
        outcomes = answered(subjects, asked, processes, step)
    palea.keep(opened, outcomes, palea.now(who, now))
    if as_json:
        print_json({"analyses": [
            {
                "analysis_id": analysis_id(o), "recipe": o.recipe.id, "version": o.recipe.version, "trial_id": o.trial,
                "results": records(o.results.assign(analysis_id=analysis_id(o))), "sentences": o.sentences,
                "warnings": o.warnings,
            }
            for o in outcomes
        ]})
        return
    for o in outcomes:
        typer.echo(f"\n{o.recipe.title} ({', '.join(filter(None, (o.trial, o.recipe.id)))})")
        typer.echo("\n".join(f"  {s}" for s in o.sentences))
        typer.echo("\n".join(f"  Bear in mind: {w}" for w in o.warnings))


def _options(given):
    from palea.errors import RecipeError

    settled = {}
    for text in given or ():
        name, equals, value = text.partition("=")
        if not equals:
            msg = f"“{text}” is no option. Write it as NAME=VALUE."
            raise RecipeError(msg)
        settled[name.strip()] = _value(value.strip())
    return settled


def _value(text):
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text
