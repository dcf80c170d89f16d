"""One effect seen in its result: its two groups, what stands beside it, its digits. Sentences and figures ask this."""

from palea import schema
from palea.calc.terms import Denominator, Rung, Verdict
from palea.words import numbers

RATIOS = tuple(schema.words("effect_scale", ratio=True))
PLAIN = "value"  # the scale of a number that is no difference and no ratio
NEUTRAL = (Verdict.NOT_SHOWN, Verdict.NOT_JUDGED, Verdict.EQUIVALENT, Verdict.NO_WORSE)  # these claim no difference


def setting(estimate):
    """Taxon and environment of an estimate, "" for what it does not name."""
    return estimate.of.get("taxon", ""), estimate.of.get("environment", "")


def settings(result):
    """(taxon, environment) pairs in the order in which they appear."""
    return list(dict.fromkeys(setting(e) for e in result.estimates))


def main_effects(result, taxon, environment):
    """Effects of one species and environment that are told by themselves, the primary ones first."""
    here = [e for e in result.effects if setting(e) == (taxon, environment)]
    beside = {id(found) for e in here for found in (odds_ratio(e, result), companion(e, result)) if found}
    return sorted((e for e in here if id(e) not in beside), key=lambda e: not e.primary)


def main_groups(result, taxon, environment):
    """Groups of one species and environment that are told by themselves."""
    here = [g for g in result.groups if setting(g) == (taxon, environment)]
    beside = {id(found) for g in here if (found := of_sown(g, result))}
    return [g for g in here if id(g) not in beside]


def told_groups(result):
    """Groups worth a word, what was asked about first.

    A quantity that is asked about as a share of one thing is told as that share, not as a share of everything else.
    """
    first = sorted(result.effects, key=lambda e: not e.primary)
    asked = list(dict.fromkeys(_measure(e) for e in first if e.scale != "odds ratio"))
    quantities = {quantity for quantity, _ in asked}
    told = [g for g in result.groups if _measure(g) in asked or g.quantity not in quantities]
    return sorted(told, key=lambda g: asked.index(_measure(g)) if _measure(g) in asked else len(asked))


def _measure(estimate):
    return estimate.quantity, estimate.denominator


def of_sown(group, result):
    """The same group as a share of sown units, beside a share of something else; None where there is none."""
    if group.denominator in (Denominator.SOWN, ""):
        return None
    wanted = (group.quantity, group.of, Denominator.SOWN)
    return next((g for g in result.groups if (g.quantity, g.of, g.denominator) == wanted), None)


def companion(effect, result):
    """The same contrast of sown units, told beside an effect on another denominator; None where there is none."""
    if effect.denominator in (Denominator.SOWN, ""):
        return None
    return _beside(effect, result, Denominator.SOWN, effect.scale)


def odds_ratio(effect, result):
    """The same effect as an odds ratio; None where there is none."""
    return _beside(effect, result, effect.denominator, "odds ratio") if effect.scale == "difference" else None


def group_of(effect, side, result):
    """The group that is side "a" or "b" of an effect; None where the result holds none."""
    wanted = (effect.quantity, effect.denominator, setting(effect), effect.of[side])
    found = (g for g in result.groups if (g.quantity, g.denominator, setting(g), g.of.get("treatment")) == wanted)
    return next(found, None)


def from_one_batch(effect, result):
    """Whether a side of an effect rests on one batch, so that the answer holds for that batch only."""
    sides = [group_of(effect, side, result) for side in ("a", "b")]
    batches = [g.n_batches for g in sides if g is not None and g.n_batches]
    return 1 in batches if batches else effect.rung == Rung.DISH or effect.n_batches in (1, 2)


def no_difference(effect):
    """The value that means no difference: 1 for a ratio, 0 for a difference."""
    return 1.0 if effect.scale in RATIOS else 0.0


def is_claimed(effect):
    """Whether a change may be said to have happened: the interval excludes none, and no verdict says less."""
    if effect.verdict in NEUTRAL or effect.scale == PLAIN or not numbers.known(effect.lower):
        return False
    return not effect.lower <= no_difference(effect) <= effect.upper


def in_words_already(effect):
    """The part of a reason that the sentence of an effect says in words of its own; "" where there is none."""
    return effect.change.note if effect.change else ""


def margins(effect):
    """Where the margin lies on both sides of no difference; () where there is none."""
    if not numbers.known(effect.margin):
        return ()
    return (1 / effect.margin if effect.scale in RATIOS else -effect.margin, effect.margin)


def in_points(effect):
    """Whether an effect is a difference of percentages."""
    return effect.scale not in RATIOS and effect.unit == "%"


def decimals(effect):
    """Decimals of an effect; where it is judged, no bound is rounded onto no difference or the margin."""
    none, points = no_difference(effect), in_points(effect)
    outer = numbers.places(effect.value, effect.lower, effect.upper, points, (none,) if effect.verdict else ())
    if not numbers.known(effect.inner_lower):
        return outer
    return max(outer, numbers.places(effect.value, effect.inner_lower, effect.inner_upper, points, margins(effect)))


def bounds(effect, lower, upper):
    """Two bounds on the scale of an effect; those of a difference carry their sign."""
    return numbers.interval(lower, upper, decimals(effect), sign=effect.scale not in RATIOS)


def value(effect):
    """The value of an effect with its digits; that of a difference carries its sign."""
    return (numbers.plain if effect.scale in RATIOS else numbers.signed)(effect.value, decimals(effect))


def size(effect, text):
    """A size on the scale of an effect: "31 points", "2.1 days", "a factor of 1.2"."""
    if effect.scale in RATIOS:
        return f"a factor of {text}"
    return numbers.points(text) if in_points(effect) else numbers.with_unit(text, effect.unit)


def margin(effect):
    """The margin in words: "15 points"; "" where there is none."""
    return size(effect, numbers.short(effect.margin)) if numbers.known(effect.margin) else ""


def verdict_words(effect):
    """The verdict, its m written out: "equivalent within 15 points"; "" where none is due."""
    if effect.verdict in (Verdict.EQUIVALENT, Verdict.NO_WORSE):
        return f"{effect.verdict.removesuffix('m')}{margin(effect)}"
    return str(effect.verdict)


def _beside(effect, result, denominator, scale):
    """The other effect of the same contrast and quantity, on this denominator and scale and without a verdict."""
    wanted = (effect.quantity, effect.of, denominator, scale, "")
    same = (e for e in result.effects if (e.quantity, e.of, e.denominator, e.scale, e.verdict) == wanted)
    return next((e for e in same if e is not effect), None)
