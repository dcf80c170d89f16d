"""The head of the record: an abstract computed from the tables; how to cite the data, and their licence."""

from collections import Counter

from palea.checks.checklist import State
from palea.derived.counting import dishes
from palea.documents.page import Link, Listing, Note, Paragraph, Part
from palea.record import declared, lots, results, visits
from palea.record.spread import several
from palea.record.story import anchor
from palea.words.numbers import short
from palea.words.prose import capital, counted, listed, stop


def facts(story, stamp):
    """Pairs that stand under the title."""
    package = story.package
    people = [story.person(row["person_id"]) for row in story.rows("people", kind="person")]
    pairs = [
        ("Who", listed(people)),
        ("Trials", listed(row["trial_id"] for row in story.rows("trials"))),
        ("Licence", licence(package) or "not chosen yet: nobody may reuse these data before one is"),
        ("Schema", f"palea {package.schema_version}" if package.schema_version else ""),
        ("Record written", f"{stamp.day} by {stamp.who}" if stamp else ""),
    ]
    return tuple((term, told) for term, told in pairs if told)


def invented(story):
    """A Note where the package says that its data are invented; nothing else."""
    own = story.package.descriptor.get("palea") or {}
    if own.get("invented"):
        yield Note(
            "caution",
            (
                Paragraph(
                    "Nothing in this record happened. The people, firms, places and numbers are made up to"
                    " show what a record holds; do not cite it as evidence."
                ),
            ),
            "invented data",
        )


def part(story):
    """The abstract: what was done, in numbers, and what came of the primary questions, each with its interval."""
    blocks = [Paragraph(tuple((sentence, " ") for sentence in _done(story) if sentence))]
    primary = results.answers(story)
    if primary:
        blocks += [
            Paragraph("The primary contrasts, as declared in the plans, came out like this:"),
            Listing(tuple(_answer(story, answer) for answer in primary), small=True),
        ]
    blocks += [Paragraph(tuple(told))] if (told := list(_limits(story, primary))) else []
    return Part("Abstract", tuple(blocks), "abstract")


def _answer(story, answer):
    name = answer.contrast["contrast_id"]
    return (*results.short(story, answer), " (", Link(name, anchor("contrasts", name)), ").")


def _done(story):
    """Seed, treatments, runs, trials and units, counted."""
    received = lots.received(story)
    species = list(dict.fromkeys(lot["taxon_id"] for lot in received if lot["taxon_id"]))
    if received:
        grams = [
            m["mass_g"] for lot in received for m in story.rows("movements", lot_id=lot["lot_id"], kind="received")
        ]
        mass = f" ({short(sum(grams))} g)" if grams and None not in grams else ""
        was = "was" if len(received) == 1 else "were"
        yield (
            f"{capital(several(len(received), 'seed lot'))}{mass} of ",
            *_and([story.species(taxon) for taxon in species]),
            f" {was} taken in.",
        )
    yield from _runs(story)
    yield from _trials(story)


def _runs(story):
    runs = story.rows("runs")
    kinds = {}
    for run in runs:
        kinds.setdefault(story.value("runs", run, "kind"), []).append(run)
    outside = [run for run in runs if run["place_kind"] == "contractor"]
    by_them = f" ({several(len(outside), 'run')} by a contractor)" if outside else ""
    if runs:
        told = listed(f"{several(len(of_kind), 'run')} of {kind}" for kind, of_kind in kinds.items())
        yield f"From them came, in {told}{by_them}, {several(len(story.rows('treatments')), 'treatment')}."


def _trials(story):
    """How many trials with how many units and seeds."""
    sown = story.facts[dishes]
    kinds = Counter(u["kind"] for u in story.rows("units") if u["treatment_id"])
    trials = story.rows("trials")
    handled = [h for h in story.rows("handling_runs") if h["trial_id"]]
    if trials:
        told = [f"{n} {visits.units_of(kind)}" for kind, n in kinds.items()]
        told += [counted(len(handled), "handling run")] if handled else []
        seeds = f", {sown['sown'].sum():.0f} seeds" if len(sown) else ""
        what = "They" if story.rows("runs") else capital(several(len(story.rows("treatments")), "treatment"))
        yield f"{what} were compared in {several(len(trials), 'trial')} ({listed(told)}{seeds})."


def _limits(story, primary):
    """On how many batches the answers rest, and what is withheld or missing."""
    thin = [a for a in primary if a.judged and a.row["rung"] != declared.BATCH]
    if thin:
        many = several(len(thin), "of these answers", "of these answers")
        of = "all of these answers" if len(thin) == len(primary) else many
        rungs = listed(dict.fromkeys(visits.units_of(a.row["rung"]) for a in thin))
        was = "was" if len(thin) == 1 else "were"
        yield f"{capital(of)} {was} judged on {rungs} of few batches: they hold for those batches, not yet for the recipes. "
    states = Counter(a.state for a in story.answers if a.state not in {State.REPORTED, State.NOT_APPLICABLE})
    if states:
        told = listed(f"{n} {state}" for state, n in sorted(states.items()))
        yield from (
            f"Of what a reader needs to repeat the work, {told} (",
            Link("what is not reported", "missing"),
            ").",
        )


def _and(names):
    return tuple(
        x for i, name in enumerate(names) for x in ("" if i == 0 else " and " if i == len(names) - 1 else ", ", name)
    )


def licence(package):
    """Names of the licences, as text; "" for none."""
    given = package.descriptor.get("licenses") or ()
    return listed(one.get("name") or one.get("title") or one.get("path") for one in given)


def citation(story):
    """The Part on how to cite the data and under which licence they may be used."""
    package = story.package
    people = [story.person(row["person_id"]) for row in story.rows("people", kind="person")]
    year = str(package.descriptor.get("created", ""))[:4]
    version = package.descriptor.get("version")
    told = (
        f"{listed(people) or 'Unnamed'} ({year or 'no year'}). {stop(package.title)}"
        + (f" Version {version}." if version else "")
        + " Data package."
    )
    terms = licence(package)
    words = (
        f"The data may be used under {terms}." if terms else "No licence is chosen yet, so nobody may reuse the data."
    )
    return Part(
        "Data, licence and citation",
        (
            Paragraph(f"Cite as: {told}"),
            Paragraph(
                f"{words} The tables lie as CSV files in data/, their meaning in schema/, every change since the first"
                " entry in journal.jsonl."
            ),
        ),
        "data",
    )
