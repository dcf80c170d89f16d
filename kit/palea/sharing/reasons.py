"""Why a published number does not come out again: in a word, in a sentence, and by a test of it wherever there is one.

A reason is not guessed. That data were changed shows in their hash, and, where the journal tells how, the numbers are
computed once more with what stood there before. That a version or an option was changed shows when another one gives the
published numbers. What is left is a number that was altered, or software that computes otherwise.
"""

from dataclasses import dataclass

from palea import schema
from palea.analyses import catalogue, earlier
from palea.errors import PaleaError
from palea.sharing import since
from palea.sharing.compare import agree, compare
from palea.sharing.recorded import run_again
from palea.tables import outside

DATA, VERSION, OPTION = "data changed", "version changed", "option changed"
ALTERED, SOFTWARE, NOT_RUN, NOT_KEPT = "number altered", "software differs", "not run", "not kept"
WORDS = "words changed"
MOST_TRIED = 12  # other options that are tried
LARGEST = 1024**2  # bytes of kept sentences that are read


@dataclass(frozen=True)
class Reason:
    """kind : one of the words above.  told : what speaks for it, in sentences."""

    kind: str
    told: str


@dataclass(frozen=True)
class Case:
    """One analysis whose numbers do not come out.

    recorded : Recorded.  was : rows of `results` as published.  outcome : what came out.  altered : files that the
    manifest finds altered.  then, now : versions of software by name, {} where the package does not say.
    earlier_states : {lines of the journal: the package before them}, shared by the cases of one rerun, since each is checked anew.
    """

    package: object
    recorded: object
    was: object
    outcome: object
    altered: tuple
    then: dict
    now: dict
    earlier_states: dict


def why(case):
    """The Reason of a Case."""
    found = _not_kept(case) or _data(case)
    if not found and not _sentences_agree(case):  # else data, version and options are those that gave the kept sentences
        found = _version(case) or _option(case)
    found = found or _altered(case) or _software(case)
    refused = f" It cannot be judged now: {case.outcome.result.missing}" if case.outcome.refused else ""
    return Reason(found.kind, found.told + refused)


def within_tolerance(then, now):
    """The Reason of numbers that agree, but not to the last figure."""
    changed = software(then, now)
    told = f"other software ({changed})" if changed else "additions in another order"
    return Reason(SOFTWARE, f"The last figures differ, as they do with {told}.")


def software(then, now):
    """What differs between two environments, in words; "" where nothing does."""
    return ", ".join(f"{name} {then[name]}, now {now.get(name, 'none')}" for name in then if then[name] != now.get(name))


def _not_kept(case):
    return None if len(case.was) else Reason(NOT_KEPT, "No number of it was published; what comes out now stands as extra.")


def _data(case):
    if case.recorded.still_fits(case.package) is not False:
        return None
    lines = since.lines(case.package, case.recorded)
    told = f"The data that it rests on were changed after it was run. {since.told(case.package, case.recorded, lines)}"
    before = _before(case, lines)
    if before is not None:
        comes = case.recorded.still_fits(before) and _gives(case, before)
        told += " With what stood there before, the published numbers come out." if comes else (
            " Even with what stood there before, the published numbers do not come out: more was changed than the journal says."
        )
    return Reason(DATA, told)


def _before(case, lines):
    """The package before these lines of the journal; None where they do not tell it."""
    key = tuple(line.get("line") for line in lines)
    if lines and key not in case.earlier_states:
        case.earlier_states[key] = since.undone(case.package, lines)
    return case.earlier_states.get(key)


def _version(case):
    mine = case.recorded
    others = [r.version for r in (*catalogue.RECIPES, *earlier.KEPT) if r.id == mine.recipe and r.version != mine.version]
    for version in others:
        if _gives(case, version=version):
            return Reason(
                VERSION,
                f"The row says version {mine.version} of {mine.recipe}; the published numbers come out with version {version}.",
            )
    return None


def _option(case):
    for options in _others(case):
        if _gives(case, options=options):
            named = {name: value for name, value in options.items() if value != case.outcome.options.get(name)}
            told = ", ".join(f"{name} “{value}” in place of “{case.outcome.options.get(name)}”" for name, value in named.items())
            return Reason(OPTION, f"With the options of the row other numbers come out; the published ones come out with {told}.")
    return None


def _others(case):
    """Options that might have been meant: those that the journal kept, then one at a time as usual or another word, then all
    as usual.
    """
    recipe, mine = case.outcome.recipe, dict(case.outcome.options)
    usual = {name: option.default for name, option in recipe.options.items()}
    listed = [_in_journal(case)]
    for name, option in recipe.options.items():
        listed.append(mine | {name: option.default})
        words = schema.words(option.vocabulary) if option.vocabulary else (True, False) if option.type is bool else ()
        listed += [mine | {name: word} for word in words]
    listed.append(usual)
    fresh = [options for n, options in enumerate(listed) if options and options not in (mine, *listed[:n])]
    return fresh[:MOST_TRIED]


def _in_journal(case):
    """Options of this analysis before they were changed by hand; None where the journal tells of no such change."""
    for line in case.package.journal():
        of_it = line.get("table") == "analyses" and since.loaded(line.get("row")) == [case.recorded.analysis_id]
        if of_it and line.get("column") == "options":
            old = since.loaded(line.get("old"))
            return old if isinstance(old, dict) else None
    return None


def _altered(case):
    """That a number was altered, where something shows it."""
    signs = []
    path = case.package.table_path("results")
    if path in case.altered:
        signs.append(f"the manifest says that {path} is not the file that was shared")
    elif "results" in case.package.resources and outside.is_foreign(case.package, "results"):
        signs.append(f"the hash of {path} is not the one that was kept")
    if _sentences_agree(case):
        signs.append("the sentences kept beside it say what comes out now")
    lines = [line for line in case.package.journal() if _of_results(line, case.recorded.analysis_id)]
    signs += [f"the journal says that {since.change(line)}" for line in lines[-1:]]
    if not signs:
        return None
    return Reason(ALTERED, f"Data, version and options are the ones recorded, so a number was altered: {'; '.join(signs)}.")


def _of_results(line, analysis_id):
    key = since.loaded(line.get("row"))
    return line.get("table") == "results" and bool(line.get("column")) and isinstance(key, list) and key[:1] == [analysis_id]


def _sentences_agree(case):
    kept = _sentences(case)
    return bool(case.outcome.sentences) and all(sentence in kept for sentence in case.outcome.sentences)


def _sentences(case):
    try:
        path = case.package.file(f"analyses/{case.recorded.analysis_id}/sentences.md")
        return path.read_text(encoding="utf-8") if path.is_file() and path.stat().st_size <= LARGEST else ""
    except (PaleaError, OSError, UnicodeDecodeError):
        return ""


def _software(case):
    same = "Data, version and options are the ones recorded"
    changed = software(case.then, case.now)
    if changed:
        return Reason(SOFTWARE, f"{same}; the software is another ({changed}), or a number was altered.")
    if case.then:
        return Reason(ALTERED, f"{same}, and so is the software, so a number was altered.")
    return Reason(ALTERED, f"{same}, so a number was altered, or other software computed it; the package does not say which did.")


def _gives(case, package=None, **other):
    """Whether the published numbers come out of another package, version or options."""
    try:
        outcome = run_again(package or case.package, case.recorded, **other)
    except PaleaError:
        return False
    return agree(compare(case.was, outcome.results))
