"""Declared contrasts of the field stage to effects with verdicts, whatever the quantity: shares, logs or times.

Every question is answered where it was asked; one that was judged at several sites is followed by how it changes.
"""

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from palea.calc.field.combined import Across
from palea.calc.results import Change, Estimate
from palea.calc.stats.contrasts import Question, answer
from palea.calc.stats.power import units_for_means, units_for_means_equivalence
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Kind, Rung, Verdict

INTERACTION = "How the difference {a} minus {b} changes: {first} against {second}."
POOLED = "Mean of the differences at {places}, each with the same weight, as declared."
COMPANION = "Beside the declared denominator ({}): sown units count empty ones too, so this carries no verdict."
UNASKED = "It was not declared as a question: an interval and no verdict."
WHAT_IF = "What if: the declared denominator is {}."
CALLED = {Rung.PLOT: "plots", Rung.MAIN_PLOT: "main plots", Rung.BATCH: "batches"}
MOST_UNITS = 100_000  # beyond it the number says only that it cannot be shown


def groups(places, scale, confidence):
    """An Estimate for every treatment of every place."""
    return tuple(_group(place, name, scale, confidence) for place in places.values() for name in place.behind)


def _group(place, name, scale, confidence):
    taxon, environment, quantity, denominator = place.key
    of = MappingProxyType({"taxon": taxon, "environment": environment, "treatment": name})
    rung, means = place.on(name)
    common = {"unit": scale.group_unit, "confidence": confidence, "denominator": denominator, **place.stands(name)}
    if not rung:
        return Estimate(quantity, of, np.nan, rung=str(Rung.PLOT), reason=means, **common)
    ends = [float(scale.group(end)) for end in means.told(name, t_quantile(confidence, means.df))]
    return Estimate(
        quantity, of, *ends, df=float(means.df), rung=rung, reason=place.one_batch(rung, name), **common
    )


def effects(places, asked, scale, confidence, *, pooled=False, absent=""):
    """Estimates of the declared contrasts, in order; each with how it changes between sites and, if `pooled`, its mean.

    places : {key: Place}.  asked : list of Asked.  pooled : whether a mean over the sites was declared.
    absent : why there may be no place for a question, where the calculation knows better than "nothing was counted".
    """
    posed = [_pose(each, places, absent) for each in asked]
    questions = [question for _, question, _ in posed if isinstance(question, Question)]
    answers = iter(answer([_within(q, scale) for q in questions], confidence))
    found = []
    for each, question, notes in posed:
        if isinstance(question, str):
            found.append(_not_judged(each, places, question, scale, confidence))
        else:
            found.append(_effect(each, places, question, next(answers), notes, scale, confidence))
    return (*found, *_over_sites(places, asked, scale, confidence, pooled=pooled))


def _within(question, scale):
    return replace(question, margin=float(scale.within(question.margin)))


def _pose(asked, places, absent):
    """(asked, Question or a sentence why there is none, notes)."""
    if asked.refused:
        return asked, asked.refused, ()
    if asked.across == "site":
        return _pose_sites(asked, places)
    place = places.get(asked.key)
    if place is None:
        of = f" of {asked.denominator}" if asked.denominator else ""
        return asked, absent or f"Nothing was counted for {asked.quantity}{of} in this environment.", ()
    if asked.across:
        return _pose_levels(asked, place)
    rung, means = place.on(asked.a, asked.b)
    if not rung:
        return asked, means, ()
    what_if = WHAT_IF.format(asked.declared) if asked.denominator != asked.declared and asked.denominator else ""
    notes = (what_if, place.one_batch(rung, asked.a, asked.b))
    return asked, _question(asked, means, (*place.key, rung), asked.asks_about), notes


def _question(asked, means, scope, asks_about):
    return Question(
        means, asked.a, asked.b, scope, asked.taxon, asked.kind, asked.margin, asked.wanted, asked.primary, asks_about,
        asked.margin_late, asked.elsewhere,
    )  # fmt: skip


def _pose_levels(asked, place):
    """How the difference changes between the levels of the main plots."""
    able = [(level, means) for level, means in place.levels.items() if {asked.a, asked.b} <= set(means.names)]
    if len(able) != 2:
        return asked, f"{asked.a} and {asked.b} stand at {len(able)} levels of the main plots; two are needed.", ()
    return _changes(asked, able, (*place.key, str(Rung.PLOT)))


def _pose_sites(asked, places):
    """How the difference changes between two sites."""
    able = [
        (key[1], means, rung)
        for key, place in places.items()
        if (key[0], *key[2:]) == (asked.taxon, asked.quantity, asked.denominator)
        for rung, means in [place.on(asked.a, asked.b)]
        if rung
    ]
    if len(able) != 2:
        return asked, f"{asked.a} and {asked.b} can be compared at {len(able)} sites; two are needed.", ()
    rung, joined = _lowest(rung for *_, rung in able), " against ".join(name for name, *_ in able)
    scope = (asked.taxon, joined, asked.quantity, asked.denominator, rung)
    return _changes(replace(asked, environment=joined), [each[:2] for each in able], scope)


def _lowest(rungs):
    """An answer over several places stands on the lowest rung that any of them stands on."""
    alike = set(rungs)
    return alike.pop() if len(alike) == 1 else str(Rung.PLOT)


def _changes(asked, able, scope):
    (first, one), (second, other) = able
    note = _interaction(asked.a, asked.b, first, second)
    means = Across((one, other), (1.0, -1.0), asked.a, asked.b, (first, second))
    return asked, _question(asked, means, scope, f"{asked.across} {asked.a}"), (note,)  # of no Dunnett family


def _effect(asked, places, question, answered, notes, scale, confidence):
    place = places.get(asked.key)
    stands = place.stands(asked.a, asked.b) if place else _stands_anywhere(places, asked)
    needed = _needed(question, answered, place, scale) if answered.verdict == Verdict.NOT_SHOWN else ""
    reason = " ".join(filter(None, (*notes, answered.reason, needed)))
    return Estimate(
        asked.quantity, asked.of, *_shown(answered, scale), scale=scale.name, unit=scale.unit, confidence=confidence,
        denominator=asked.denominator, df=float(answered.df), p_value=float(answered.p_value), rung=question.scope[-1],
        margin=asked.margin, kind=asked.kind, primary=asked.primary, asks_about=asked.across or asked.asks_about,
        verdict=answered.verdict, reason=reason, change=_change(asked.quantity, question.arms, scale),
        **_inner(answered, scale), **stands,
    )  # fmt: skip


def _change(quantity, means, scale):
    """What the means say of how a difference changes between two places; None where they say the difference itself."""
    if not (isinstance(means, Across) and means.places):
        return None
    each = (float(scale.shown(part.difference(means.a, means.b, 0.0)[0])) for part in means.parts)
    return Change(quantity, *means.places, *each, _interaction(means.a, means.b, *means.places))


def _interaction(a, b, first, second):
    return INTERACTION.format(a=a, b=b, first=first, second=second)


def _shown(answered, scale):
    return (float(scale.shown(x)) for x in (answered.value, *answered.outer))


def _inner(answered, scale):
    return dict(zip(("inner_lower", "inner_upper"), (float(scale.shown(x)) for x in answered.inner), strict=True))


def _stands_anywhere(places, asked):
    sums = [place.stands(asked.a, asked.b) for key, place in places.items() if key[0] == asked.taxon and key[2:] ==
            (asked.quantity, asked.denominator)]
    return {name: sum(each[name] for each in sums) for name in ("n_batches", "n_units", "n_seeds")}


def _not_judged(asked, places, reason, scale, confidence):
    place = places.get(asked.key)
    return Estimate(
        asked.quantity, asked.of, np.nan, scale=scale.name, unit=scale.unit, confidence=confidence,
        denominator=asked.denominator, margin=asked.margin, kind=asked.kind, primary=asked.primary,
        asks_about=asked.across or asked.asks_about, verdict=str(Verdict.NOT_JUDGED), reason=reason,
        **(place.stands(asked.a, asked.b) if place else {}),
    )  # fmt: skip


def _needed(question, answered, place, scale):
    """What a next trial would need, as a sentence; never the power that this one had."""
    if place is None or isinstance(question.arms, Across):
        return ""
    rung = question.scope[-1]
    at = 0 if rung == Rung.BATCH else 1
    numbers = [place.behind[name][at] for name in (question.a, question.b) if name in place.behind]
    if len(numbers) < 2 or min(numbers) < 1:
        return ""
    half = (question.arms.difference(question.a, question.b, 1.0)[2] - answered.value)
    sd = half * np.sqrt(1 / np.sum(1 / np.array(numbers, float)))
    return needed_units(sd, answered.value, float(scale.within(question.margin)), question.kind, scale, rung)


def needed_units(sd, seen, margin, kind, scale, rung=Rung.PLOT):
    """The sentence: how many plots a treatment a next trial needs, at 5 % two-sided and a power of 80 %.

    sd : of one plot, on the scale of the means.  seen, margin : there too; margin nan: none.  kind : what was asked.
    To show a difference as large as the margin, or where none was declared, as the one seen; for "equivalence" and "no
    worse", that the difference is smaller than the margin when there is none.
    Source: noncentral t, as in palea.calc.stats.power; sd of a plot from this trial.
    """
    wide = margin > 0
    if not sd > 0 or not (wide or abs(seen) > 0):
        return ""
    if wide and kind != Kind.SUPERIORITY:
        units = units_for_means_equivalence(0.0, sd, margin)
        aim = f"to show that they differ by less than {_size(margin, scale)} if they do not differ"
    else:
        units = units_for_means(margin if wide else abs(seen), sd)
        aim = f"to show a difference of {_size(margin if wide else abs(seen), scale)}"
        aim += "" if wide else ", the one seen"
    called = CALLED.get(rung, "plots")
    if not units < MOST_UNITS:
        return f"More than {MOST_UNITS} {called} a treatment would be needed {aim}."
    return f"About {int(np.ceil(units - 1e-9))} {called} a treatment would be needed {aim} (power 80 %)."


def _size(distance, scale):
    if scale.name == "difference":
        return f"{scale.shown(distance):.3g} {'points' if scale.unit == '%' else scale.unit}"
    return f"x{scale.shown(distance):.3g}"


def _over_sites(places, asked, scale, confidence, *, pooled):
    """Yield, for every question judged at several sites, how it changes between them, and its mean if declared."""
    alike = {}
    for each in asked:
        place = places.get(each.key)
        if each.refused or each.across or place is None:
            continue
        rung, means = place.on(each.a, each.b)
        if rung:
            key = (each.taxon, each.quantity, each.denominator, each.a, each.b)
            alike.setdefault(key, {})[each.environment] = (each, means, rung)
    taken = {(each.taxon, each.quantity, each.denominator, each.a, each.b) for each in asked if each.across == "site"}
    for key, sites in alike.items():
        names = list(sites)
        if key not in taken:
            for other in names[1:]:
                yield _unasked(sites, (names[0], other), (1.0, -1.0), places, scale, confidence)
        if pooled and len(names) > 1:
            yield _unasked(sites, names, (1 / len(names),) * len(names), places, scale, confidence)


def _unasked(sites, names, factors, places, scale, confidence):
    """An effect over sites: how it changes, with an interval and no verdict; or its mean, which was declared."""
    each = sites[names[0]][0]
    differs, rung = factors[-1] < 0, _lowest(sites[name][2] for name in names)
    joined = " against ".join(names) if differs else " and ".join(names)
    parts = tuple(sites[name][1] for name in names)
    means = Across(parts, factors, each.a, each.b, tuple(names) if differs else ())
    alone = replace(each, environment=joined, primary=False)
    got = answer([_within(_question(alone, means, (*each.key, rung), joined), scale)], confidence)[0]
    if differs:
        note = f"{_interaction(each.a, each.b, *names)} {UNASKED}"
    else:
        note = " ".join(filter(None, (POOLED.format(places=joined), got.reason)))
    declared = {} if differs else {"verdict": got.verdict, "kind": each.kind, "margin": each.margin}
    stands = [places[replace(each, environment=name).key].stands(each.a, each.b) for name in names]
    together = {name: sum(stand[name] for stand in stands) for name in stands[0]}
    return Estimate(
        each.quantity, alone.of, *_shown(got, scale), scale=scale.name, unit=scale.unit, confidence=confidence,
        denominator=each.denominator, df=float(got.df), p_value=float(got.p_value), rung=rung,
        asks_about="site" if differs else each.asks_about, reason=note,
        change=_change(each.quantity, means, scale), **_inner(got, scale), **together, **declared,
    )  # fmt: skip


def companions(places, asked, scale, confidence, sown):
    """The same contrasts on sown units, without a verdict, so that emptiness cannot pass for emergence."""
    taken = {(each.key, each.a, each.b) for each in asked}
    for each in asked:
        if each.across or each.refused or each.declared == sown or each.denominator != each.declared:
            continue
        beside = replace(each, denominator=sown, primary=False)
        if (beside.key, each.a, each.b) in taken or beside.key not in places:
            continue
        taken.add((beside.key, each.a, each.b))
        (effect,) = effects({beside.key: places[beside.key]}, [replace(beside, declared=sown)], scale, confidence)
        bare = {"verdict": "", "kind": "", "margin": np.nan, "reason": COMPANION.format(each.declared)}
        yield replace(effect, **bare)
