"""What went otherwise than planned, run by run and step by step, with its reason or a gap for it."""

from palea import schema
from palea.documents.page import Paragraph
from palea.record.steps import joined
from palea.record.story import gap
from palea.words.prose import inside

ASIDE = {"", "none", "no", "-", "not told"}  # what people write where there is nothing to tell


def told(story, runs):
    """A Paragraph on these runs, where any of them went otherwise."""
    phrases = [phrase for run in runs for phrase in _of_run(story, run)]
    if phrases:
        yield Paragraph(("Otherwise than planned: ", joined(phrases, "; ", "; "), "."))


def _of_run(story, run):
    key = run["run_id"]
    deviating = [step for step in story.steps(key) if odd(step["deviation"])]
    if odd(run["deviations"]):
        why = [_why(step, key) for step in deviating]
        yield (f"{key}: {_inside(run['deviations'].strip().rstrip('.'))}", *why)
        return
    for step in deviating:
        action = inside(schema.word("step_action", step["action"])["title"])
        yield (f"{key}, step {step['step']} ({action}): {step['deviation'].strip().rstrip('.')}", _why(step, key))


def _why(step, key):
    reason = step["reason"].strip().rstrip(".") if step["reason"] else gap("run_steps", [step], "reason", key)
    return (" (", reason, ")")


def _inside(words):
    """Words as they stand inside a sentence, a leading “A” included."""
    return f"a{words[1:]}" if words.startswith("A ") else inside(words)


def odd(words):
    """Whether words on deviations tell of one."""
    return bool(words) and words.strip().lower().rstrip(".") not in ASIDE
