"""What a reader needs and does not get: the checklist by stage, what is withheld, and what the checks found."""

from collections import Counter, defaultdict

from palea.checks.checklist import State
from palea.documents.page import Column, Grid, Listing, Paragraph, Part, Row
from palea.record.lots import ids_told
from palea.words.prose import capital, counted, listed

SHOWN = 6  # subjects of one open item that are named; the rest is counted


def part(story):
    """The Part on completeness: counts by stage, then every item that is not reported, then open findings."""
    answers = story.answers
    blocks = [
        Paragraph(
            "Each item is a question whose answer somebody needs to repeat the work, asked of every lot, material,"
            " run or trial that it concerns. Essential and recommended items are counted apart; no score is made"
            " of them, and that something is reported does not say that it is good."
        )
    ]
    if answers:
        blocks.append(_counts(answers))
    for state in (State.WITHHELD, State.NOT_RECORDED, State.MISSING):
        told = [answer for answer in answers if answer.state is state]
        if told:
            blocks.append(
                Part(f"{capital(state)} ({len(told)})", (Listing(tuple(_items(story, told))),), f"items-{state.name}")
            )
    return Part("What is not reported", (*blocks, Paragraph(_findings(story))), "missing")


def _counts(answers):
    heads = ("Stage", "Weight", *(Column(capital(state), "right") for state in State))
    count = Counter((a.stage, a.weight, a.state) for a in answers)
    pairs = dict.fromkeys((a.stage, a.weight) for a in answers)
    rows = tuple(
        Row((capital(stage), weight, *(str(count[stage, weight, state]) for state in State))) for stage, weight in pairs
    )
    return Grid("Reporting checklist: how many answers there are, by stage", heads, rows, "checklist")


def _items(story, answers):
    """One line a question: how often it is open, for whom or what, and who withholds it."""
    by_question = defaultdict(list)
    for answer in sorted(answers, key=lambda a: a.weight):  # essential before recommended
        by_question[answer.stage, answer.weight, answer.question].append(answer)
    for (stage, weight, question), same in by_question.items():
        columns = listed(dict.fromkeys(column for answer in same for column in answer.columns))
        where = f"{same[0].where}: {columns}" if columns else same[0].where
        yield (f"{question} ", _subjects(same), f" ({stage}, {weight}{'; ' if where else ''}{where})", _by(story, same))


def _subjects(same):
    named = list(dict.fromkeys(answer.subject for answer in same if answer.subject))
    if not named:
        return ""
    shown = ids_told(named[:SHOWN])
    rest = len(named) - SHOWN
    return f"{shown} and {rest} more." if rest > 0 else f"{shown}."


def _by(story, same):
    people = dict.fromkeys(story.person(answer.by) for answer in same if answer.by)
    return f" Withheld by {listed(people)}." if people else ""


def _findings(story):
    """How many findings stand open, by severity."""
    from palea.checks.run import findings_of
    from palea.findings import SEVERITIES

    count = Counter(finding.severity for finding in findings_of(story.package))
    if not count:
        return "palea check finds nothing to say against these data."
    told = listed(counted(count[severity], severity) for severity in SEVERITIES if count[severity])
    return f"palea check lists {told} in these data; the command shows each with its row and what to do about it."
