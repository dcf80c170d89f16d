"""Sentences for Effects: the primary contrast of a species first, then its other contrasts, then its groups.

The verdict words are those of `calc.terms.Verdict` and no others. A companion, the same contrast of sown units, is told
in one breath with its main effect and earns no verdict, so that neither can be quoted without the other.
"""

from dataclasses import replace

from palea.calc.terms import Verdict
from palea.words import contrast, naming, numbers, prose, values

NOT_THE_SAME = "This is not evidence that they are the same."


def say(result, names):
    """A sentence an effect and a group."""
    return [sentence for _, sentence in lines(result, names)]


def lines(result, names):
    """(taxon, sentence) by species and environment: primary contrast, other contrasts, groups."""
    several = values.several_environments(result.estimates)
    told = []
    for here in contrast.settings(result):
        effects = [sentence(e, result, names, several) for e in contrast.main_effects(result, *here)]
        own = values.by_group(g for g in contrast.told_groups(result) if contrast.setting(g) == here)
        groups = [values.sentence(group, names, several) for group in own]
        told += [(here[0], text) for text in effects + groups]
    return told


def headlines(result, names):
    """{taxon: sentences of its primary contrasts, else of its first}: what a figure has room for."""
    several = values.several_environments(result.estimates)
    found = {}
    for here in contrast.settings(result):
        effects = contrast.main_effects(result, *here)
        first = [e for e in effects if e.primary] or effects[:1]
        found.setdefault(here[0], []).extend(sentence(e, result, names, several) for e in first)
    return found


def sentence(effect, result, names, several=False):
    """All that is said of one contrast: the difference, the verdict, its companion, one batch, how it was adjusted."""
    one_batch = naming.one_batch(effect.quantity) if contrast.from_one_batch(effect, result) else ""
    primary = "Primary contrast" if effect.primary else ""
    if not numbers.known(effect.value):
        a, b = _sides(effect, names)
        verdict = contrast.verdict_words(effect) or Verdict.NOT_JUDGED
        asked = f"{_where(effect, names, several)}{a} against {b}, {_what(effect)}: {verdict}"
        return prose.together(primary, asked, effect.reason)
    claimed = _change if contrast.is_claimed(effect) else _difference
    tell = _ratio if effect.scale in contrast.RATIOS else _number if effect.scale == contrast.PLAIN else claimed
    sides = _sides(effect, names)
    told = _changing(effect, *sides, names) if effect.change else tell(effect, result, *sides)
    found = f"{_where(effect, names, several and not effect.change)}{told}{_in_a_word(effect)}"
    said = contrast.in_words_already(effect)
    beside, why = _companion(effect, result), " ".join(values.other_reason(effect).replace(said, "").split())
    return prose.together(primary, found, _verdict(effect), beside, one_batch, why)


def _change(effect, result, a, b):
    """Claimed as a change: "a raised normal seedlings of filled units by 31 points against b, from 39 to 70 %"."""
    up, many = effect.value > 0, contrast.decimals(effect)
    step = contrast.size(effect, numbers.plain(abs(effect.value), many))
    ends = (effect.lower, effect.upper) if up else (-effect.upper, -effect.lower)
    span = numbers.interval(*ends, many)
    if naming.is_time(effect.quantity):
        called = naming.direction(effect.quantity, effect.value)
        told = f"{naming.title(effect.quantity)} {_levels(effect, result, 'against', 'a', 'b')}".strip()
        return f"{a} was {step} {called} than {b} ({told}; {_behind(effect, result, span)})"
    levels = _levels(effect, result, "to", "b", "a", before=", from ")
    verb = "raised" if up else "lowered"
    return f"{a} {verb} {_what(effect)} by {step} against {b}{levels} ({_behind(effect, result, span)})"


def _changing(effect, a, b, names):
    """How a difference changes: "the difference that a makes to q against b is 16 points lower in the dry than in the wet".

    Of two places in which a has more, the difference is smaller or larger; else it is lower or higher.
    """
    quantity, here, there, *each, _ = effect.change
    here, there = (naming.plain_name(names, place) for place in (here, there))
    what = naming.subject(quantity, effect.denominator)
    in_here, in_there = (contrast.size(effect, contrast.value(replace(effect, value=x))) for x in each)
    if effect.scale in contrast.RATIOS:
        told = f"{contrast.value(effect)} times as large in {here} as in {there}"
        span = contrast.bounds(effect, effect.lower, effect.upper)
        measured = "hazard ratio" if effect.scale == "hazard ratio" else "ratio"
        return f"the {measured} of {a} to {b} in {what} is {told} ({_behind(effect, None, span)})"
    up = effect.value > 0
    called = ("larger" if up else "smaller") if min(each) >= 0 else ("higher" if up else "lower")
    step = contrast.size(effect, numbers.plain(abs(effect.value), contrast.decimals(effect)))
    span = contrast.bounds(effect, effect.lower, effect.upper)
    apart = f"{step} {called} in {here} than in {there}" if not step.startswith("0 ") else f"{step} apart in {here} and {there}"
    difference = f"the difference that {a} makes to {what} against {b}"
    return f"{difference} is {apart}, {in_here} against {in_there} ({_behind(effect, None, span)})"


def _number(effect, result, a, b):
    """A number that belongs to two sides and is no difference: "area from which it pays, a against b: 10 ha (...)"."""
    span = numbers.interval(effect.lower, effect.upper, contrast.decimals(effect)) if numbers.known(effect.lower) else ""
    told = values.amount(effect, effect.value)
    return f"{_what(effect)}, {a} against {b}: {told} ({_behind(effect, result, span)})"


def _difference(effect, result, a, b):
    """No change is claimed: "the difference in normal seedlings of filled units between a and b is +3 points (...)"."""
    step = contrast.size(effect, contrast.value(effect))
    levels = _levels(effect, result, "against", "a", "b", before=", ")
    span = contrast.bounds(effect, effect.lower, effect.upper)
    return f"the difference in {_what(effect)} between {a} and {b} is {step}{levels} ({_behind(effect, result, span)})"


def _ratio(effect, result, a, b):
    """Of a time "a took 2.9 times as long as b (2.6 to 3.2)", else "q of a was 1.4 times that of b"."""
    times = f"{contrast.value(effect)} times"
    span = contrast.bounds(effect, effect.lower, effect.upper)
    if naming.is_time(effect.quantity) and effect.scale == "ratio":
        title = naming.title(effect.quantity)
        levels = _levels(effect, result, "against", "a", "b", before=f"; {title} ") or f"; {title}"
        return f"{a} took {times} as long as {b} ({_behind(effect, result, span + levels)})"
    kind = "" if effect.scale == "ratio" else f"the {effect.scale.removesuffix(' ratio')} of "
    levels = _levels(effect, result, "against", "a", "b", before="; ")
    return f"{kind}{_what(effect)} of {a} was {times} that of {b} ({_behind(effect, result, span + levels)})"


def _in_a_word(effect):
    """What the sentence ends on, ": better" or ": later, which the plan calls better"; "" where it ends on neither."""
    called = ""
    if contrast.is_claimed(effect):
        called = naming.direction(effect.quantity, effect.value, contrast.no_difference(effect))
    if not (naming.is_time(effect.quantity) or " " in called):  # "more" alone repeats what was just said
        called = ""
    if effect.verdict in (Verdict.BETTER, Verdict.WORSE):
        return f": {called}, which the plan calls {effect.verdict}" if called else f": {effect.verdict}"
    return f": {called}" if called else ""


def _verdict(effect):
    """The verdict as a sentence, with the margin where one matters; better and worse were said before."""
    inner = contrast.bounds(effect, effect.inner_lower, effect.inner_upper)
    inner = f"{numbers.percent_of(2 * effect.confidence - 1)} interval {inner}"
    stated = f"The margin is {contrast.margin(effect)}" if contrast.margin(effect) else ""
    match effect.verdict:
        case Verdict.EQUIVALENT | Verdict.NO_WORSE:
            return f"{contrast.verdict_words(effect)} ({inner})"
        case Verdict.LESS_THAN_MATTERS:
            return f"It {effect.verdict}: the {inner} lies within {contrast.margin(effect)}"
        case Verdict.NOT_SHOWN:
            shown = f"No difference was shown: the data fit anything from {_fitting(effect)}"
            return prose.together(shown, NOT_THE_SAME, stated)
        case Verdict.NOT_JUDGED:
            return prose.together(effect.verdict, stated)
    return stated


def _fitting(effect):
    """The interval as what the data fit: "-6 to +11 points", "0.9 to 1.1 times as long"."""
    span = contrast.bounds(effect, effect.lower, effect.upper)
    if effect.scale in contrast.RATIOS:
        return f"{span} times as {'long' if naming.is_time(effect.quantity) else 'much'}"
    return contrast.size(effect, span)


def _companion(effect, result):
    """The same contrast of sown units: "of sown units the difference is +15 points (+8 to +22)" and why."""
    beside = contrast.companion(effect, result)
    if beside is None or not numbers.known(beside.value):
        return ""
    span = f" ({contrast.bounds(beside, beside.lower, beside.upper)})" if numbers.known(beside.lower) else ""
    step = contrast.size(beside, contrast.value(beside))
    told = "that changes by" if effect.change else "the difference is"
    return f"{naming.of_what(beside.denominator)} {told} {step}{span}; that counts empties"


def _behind(effect, result, span):
    """What stands in brackets: interval, odds ratio beside, replication."""
    said = [f"{numbers.percent_of(effect.confidence)} interval {span}" if numbers.known(effect.lower) else ""]
    odds = contrast.odds_ratio(effect, result) if result else None
    if odds is not None and numbers.known(odds.value):
        said.append(f"odds ratio {contrast.value(odds)}, {contrast.bounds(odds, odds.lower, odds.upper)}")
    return "; ".join(part for part in (*said, naming.replication(effect)) if part)


def _levels(effect, result, between, first, then, before=""):
    """Both groups' values: "39 to 70 %", "15.9 against 5.5 days"; "" where a group is not there."""
    sides = [contrast.group_of(effect, side, result) for side in (first, then)]
    if any(g is None or not numbers.known(g.value) for g in sides):
        return ""
    many = max(values.decimals(g) for g in sides)
    one, other = (numbers.plain(g.value, many) for g in sides)
    return f"{before}{one} {between} {numbers.with_unit(other, sides[1].unit)}"


def _what(effect):
    return f"{naming.subject(effect.quantity, effect.denominator)}{values.by_day(effect)}"


def _sides(effect, names):
    return naming.called(names, effect.of["a"]), naming.called(names, effect.of["b"])


def _where(effect, names, several):
    where = naming.place(effect.of, names, several)
    return f"in {where}, " if where else ""
