"""Sentences for Values: one a group, with its interval and what stands behind it."""

import math

from palea.words import naming, numbers, prose

GROUP_KEYS = ("treatment", "lot", "environment")


def say(result, names):
    """A sentence a group."""
    return [sentence for _, sentence in lines(result, names)]


def lines(result, names):
    """(taxon, sentence) of each group, in the order of the result; taxon is "" where the group has none."""
    several = several_environments(result.estimates)
    return [(group[0].of.get("taxon", ""), sentence(group, names, several)) for group in by_group(result.estimates)]


def by_group(estimates):
    """Estimates of one group together, as tuples, in the order in which the groups appear."""
    found = {}
    for e in estimates:
        found.setdefault(tuple(sorted(e.of.items())), []).append(e)
    return list(map(tuple, found.values()))


def sentence(estimates, names, several=False):
    """One group with all its quantities, what stands behind them, and what a single batch means.

    "Armeria maritima, hand (AM-T02): normal seedlings 58 % of filled units (95 % interval 50 to 66; 4 batches ...)."
    """
    known = [e for e in estimates if numbers.known(e.value)]
    one = one_batch(known)
    reasons = dict.fromkeys(other_reason(e) for e in estimates)
    who = subject(estimates[0], names, several)
    if not known:
        verdict = next((e.verdict for e in estimates if e.verdict), "")
        return prose.together(_of_whom(who, verdict or "no value"), *reasons)
    told = _alone(known[0]) if len(known) == 1 else _listed(known)
    return prose.together(_of_whom(who, told), one, *reasons)


def _of_whom(who, told):
    """"Who: what is told"; what is of nobody in particular stands by itself."""
    return f"{who}: {told}" if who else told


def one_batch(estimates):
    """What a single batch behind these means, where they are of a trial; other stages say it in their own reasons."""
    single = [e for e in estimates if e.n_batches == 1 and naming.of_trial(e.quantity)]
    return naming.one_batch(single[0].quantity) if single else ""


def _alone(estimate):
    return f"{_of_quantity(estimate)}{brackets(estimate)}"


def _listed(estimates):
    """Several quantities of a group; the title once for shares of different things."""
    parts = [
        f"{_of_quantity(e, titled=before is None or before.quantity != e.quantity)}{_short_interval(e)}"
        for before, e in zip((None, *estimates), estimates, strict=False)
    ]
    confidence = next((e.confidence for e in estimates if numbers.known(e.lower)), None)
    level = f"{numbers.percent_of(confidence)} intervals" if confidence else ""
    behind = "; ".join(part for part in (level, naming.replication(estimates[0])) if part)
    return f"{', '.join(parts)}{f' ({behind})' if behind else ''}"


def _of_quantity(estimate, *, titled=True):
    """Its value: "normal seedlings 58 % of filled units by day 42", the title only where `titled`."""
    title = naming.title(estimate.quantity) if titled else ""
    share = naming.of_what(estimate.denominator)
    told = " ".join(part for part in (title, amount(estimate, estimate.value), share) if part)
    return f"{told}{by_day(estimate)}"


def _short_interval(estimate):
    if not numbers.known(estimate.lower):
        return ""
    return f" ({numbers.interval(estimate.lower, estimate.upper, decimals(estimate))})"


def other_reason(estimate):
    """The reason an estimate carries, without the one-batch sentence, which is said by itself."""
    return naming.without_one_batch(estimate.quantity, estimate.reason)


def short_sentence(estimate, names, several=False):
    """One group without its remarks: "Armeria maritima, AM-T02: normal seedlings 58 % of filled units (...)"."""
    value = amount(estimate, estimate.value)
    share = naming.of_what(estimate.denominator)
    told = f"{naming.title(estimate.quantity)} {value} {share}".strip()
    who = subject(estimate, names, several)
    return prose.stop(prose.capital(_of_whom(who, f"{told}{by_day(estimate)}{brackets(estimate)}")))


def subject(estimate, names, several=False):
    """The group in words: where, and what it is called; "" for what is of no group."""
    where = naming.place(estimate.of, names, several)
    return prose.capital(", ".join(part for part in (where, group_name(estimate.of, names)) if part))


def group_name(of, names):
    """What a group is called: its treatment, else its lot, else its environment, else nothing."""
    key = next((of[k] for k in GROUP_KEYS if of.get(k)), "")
    return naming.called(names, key) if key else ""


def amount(estimate, number):
    """A number of this estimate with unit and sensible digits."""
    text = numbers.plain(number, decimals(estimate))
    return numbers.with_unit(text, estimate.unit)


def decimals(estimate):
    """Decimals that value and interval of this estimate are worth; a count without interval has none."""
    if estimate.unit == "1" and not numbers.known(estimate.lower) and float(estimate.value).is_integer():
        return 0
    return numbers.places(estimate.value, estimate.lower, estimate.upper, share=bool(estimate.denominator))


def brackets(estimate):
    """Interval and replication in brackets, with a space before; "" where there is neither."""
    span = ""
    if numbers.known(estimate.lower):
        bounds = numbers.interval(estimate.lower, estimate.upper, decimals(estimate))
        span = f"{numbers.percent_of(estimate.confidence)} interval {bounds}"
    inner = "; ".join(part for part in (span, naming.replication(estimate)) if part)
    return f" ({inner})" if inner else ""


def by_day(estimate):
    """The day on which a quantity was read, with a space before: " by day 42"; "" where it is of no day."""
    return "" if math.isnan(estimate.time) else f" by day {numbers.short(estimate.time)}"


def several_environments(estimates):
    """Whether the answer covers more than one environment, so that each sentence must name its own."""
    return len({e.of.get("environment") for e in estimates}) > 1
