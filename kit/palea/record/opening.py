"""The head of the record: what was done in a few sentences and the chief answers; how to cite it, and the licence."""

from palea import schema
from palea.derived.counting import dishes
from palea.documents.page import Listing, Note, Paragraph, Part
from palea.record import lots, results
from palea.record.spread import several
from palea.words.prose import counted, inside, listed, stop


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
    """The Part that says in short what was done and what came of it."""
    answers = results.answers(story)
    blocks = [Paragraph(tuple((sentence, " ") for sentence in _done(story) if sentence))]
    if answers:
        blocks += [
            Paragraph("The primary questions, as declared before the first count, came out like this:"),
            Listing(tuple(answers)),
        ]
    return Part("In short", tuple(blocks), "in-short")


def _done(story):
    """Seed, treatments, runs and trials, counted."""
    received = lots.received(story)
    species = list(dict.fromkeys(lot["taxon_id"] for lot in received if lot["taxon_id"]))
    names = _and([story.species(taxon) for taxon in species])
    yield (
        (
            f"{_cap(several(len(received), 'seed lot'))} of ",
            *names,
            f" {'was' if len(received) == 1 else 'were'} taken in.",
        )
        if received
        else ""
    )
    runs = story.rows("runs")
    kinds = {}
    for run in runs:
        kinds.setdefault(story.value("runs", run, "kind"), []).append(run)
    outside = [run for run in runs if run["place_kind"] == "contractor"]
    by_them = f" ({several(len(outside), 'run')} by a contractor)" if outside else ""
    if runs:
        told = listed(f"{several(len(of_kind), 'run')} of {kind}" for kind, of_kind in kinds.items())
        yield f"From them came, in {told}{by_them}, {several(len(story.rows('treatments')), 'treatment')}."
    yield from (_sown(story, trial) for trial in story.rows("trials"))


def _and(names):
    return tuple(
        x for i, name in enumerate(names) for x in ("" if i == 0 else " and " if i == len(names) - 1 else ", ", name)
    )


def _cap(words):
    return words[:1].upper() + words[1:]


def _sown(story, trial):
    every = story.facts[dishes]
    mine = every[every["trial"].eq(trial["trial_id"])]
    if mine.empty:
        return ""
    seeds = mine["sown"].sum()
    kinds = listed(
        dict.fromkeys(units_of(u["kind"]) for u in story.rows("units", trial_id=trial["trial_id"]) if u["sown_n"])
    )
    where = listed([e for e in dict.fromkeys(mine["environment"]) if e]) if len(set(mine["environment"])) > 1 else ""
    return (
        f"Trial {trial['trial_id']} ({inside(trial['title'].rstrip('.'))}) asked with {len(mine)} {kinds}"
        f" and {counted(seeds, 'seed')}{' in ' + where if where else ''}: {stop(trial['question'])}"
    )


def units_of(kind):
    """What a kind of unit is called where there are several.

    >>> units_of("dish"), units_of("plot")
    ('dishes', 'plots')
    """
    title = inside(schema.word("unit_kind", kind)["title"])
    return f"{title}es" if title.endswith(("sh", "ch", "s", "x")) else f"{title}s"


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
