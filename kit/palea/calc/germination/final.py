"""Final germination: shares of each treatment, differences in points, and verdicts on what was declared.

The rung decides everything: where both arms have two or more treatment batches, batches are compared; where one has a
single batch, its dishes are, and every sentence says that the answer holds for that batch only.
"""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.asked import read
from palea.calc.germination.dishes import KEYS, LABELS, cells, counted_dishes
from palea.calc.germination.tolerance import out_of_tolerance
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import share_means as models
from palea.calc.stats.contrasts import Question, answer, with_elsewhere
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Denominator, Rung, Verdict

COMPANION = "Beside the declared denominator ({}): sown units count empty ones too, so this carries no verdict."
BESIDE = "Beside the difference, from a quasi-binomial logit model of the same counts: it carries no verdict of its own."
WHAT_IF = "What if: the declared denominator is {}."
NOT_CUT = (
    "The dishes were not counted out, so it is not known how much of the seed was {}. Cut or stain what is left in every dish: "
    "those in which all came up would else stand for the others."
)
LEFT_OUT = (
    "Not counted out, and so left out of shares of {} seed: {} (dishes: {}). Cut or stain what is left in every dish."
)
EMPTY = 0.02  # share of empty units from which they are told
COUNTED_AS_FAILED = "Of sown units, {} were empty ({}), and are counted as seed that did not germinate."
OF_FILLED = "Declare it as a share of filled seed to see what a treatment does to seed."
ASSUMPTIONS = (
    "Batches of a treatment were made independently, and dishes were set out without regard to treatment.",
    "Batches (or dishes) vary alike in all treatments of a species and environment, given the level of the share.",
    "One received lot a species: the answer is for that lot.",
)
UNITS = {
    Rung.BATCH: "Unit of replication: the treatment batch, its dishes pooled.",
    Rung.DISH: "Unit of replication where an arm has a single batch: the dish.",
}
NEAR_ENDS = "Where a share is near 0 or 100 %, or treatments differ so much in level that they cannot vary alike:"
MODELS = {
    models.POOLED: "Means of their shares, one variance pooled over the treatments of a species and environment, t "
    "intervals on its degrees of freedom.",
    models.QUASI: "Quasi-binomial counts, one dispersion pooled over the treatments of a species and environment and "
    "never below 1; score intervals (Wilson; Newcombe for differences) with effective numbers of seeds, t quantiles.",
    models.BETA: "Beta-binomial counts, one correlation rho of seeds of a dish for the treatments of a species and "
    "environment; score intervals (Wilson; Newcombe for differences) with effective numbers of seeds, t quantiles.",
}


def final(shares, asked, quantity=None, denominator=None, confidence=0.95):
    """Shares and differences with verdicts -> Effects, or Refusal where there is no counted dish.

    shares : one row a dish, quantity and denominator: taxon, treatment, environment, batch, unit, quantity,
    denominator, k, n; `block` where there are blocks. k of n seeds; shares come back in %, differences in points.
    asked : one row a declared contrast: contrast, taxon, environment ("": each one), a, b, quantity, denominator, kind,
    margin (points, nan: none), wanted, primary, asks_about, refused, margin_late. Questions about quantities that are
    no shares (no denominator) are passed over.
    quantity, denominator : only this quantity; this denominator in place of the declared one (a what-if).
    confidence : of the outer intervals; the inner ones are at 2 confidence - 1 (two one-sided tests).

    Batches where both arms have two or more (t on batch degrees of freedom), else dishes with the one-batch sentence.
    Superiority contrasts that ask the same of several treatments against one control: Dunnett. Several primaries of one
    species: Holm. A question of filled or viable seed is shown on sown units too, without a verdict. Not judged, with
    the reason: a refused contrast, an arm with one dish or none.
    True coverage of nominal 95 %, simulated (tests/coverage, final-batches): 92 to 98 %, but 86 to 90 % of a treatment far
    above all others, which lie near 0, where batches differ widely; such estimates carry a `caution`.
    Raises UnfitValue where k is below 0 or above n.
    Source: Snedecor & Cochran 1989 (means); Newcombe 1998 (score intervals); Schuirmann 1987 (two one-sided tests);
    Dunnett 1955; Holm 1979. The ladder of replication: Hurlbert 1984, Ecol. Monogr. 54:187.
    """
    dishes, warnings = counted_dishes(shares)
    if quantity is not None:
        dishes = dishes[dishes["quantity"] == quantity]
    if dishes.empty:
        return nothing_counted(quantity, warnings)
    return answered(dishes, cells(dishes), asked, quantity, denominator, confidence, warnings)


def differences(shares, asked, confidence=0.95):
    """The effects of `final` alone, without groups and warnings: a list of Estimate, empty where no dish is counted.

    Source: as `final`.
    """
    found = cells(counted_dishes(shares)[0])
    return list(_effects(_questions(found, asked), found, confidence))


def _questions(found, asked, quantity=None, denominator=None):
    mine = asked["quantity"].isin({key[2] for key in found})
    plain = asked["across"].eq("") if "across" in asked else mine | True  # whether a difference changes is asked elsewhere
    plain = with_elsewhere(asked, mine & plain)[plain]
    return read(plain, lambda taxon: dict.fromkeys(k[1] for k in found if k[0] == taxon), quantity, denominator)


def answered(dishes, found, asked, quantity, denominator, confidence, warnings):
    """Effects from the cells of `dishes`, {key: Cell}; the rest as in `final`."""
    questions = _questions(found, asked, quantity, denominator)
    groups = tuple(_group(cell, name, confidence) for cell in found.values() for name in cell.stands)
    return Effects(
        units=dishes[LABELS].assign(value=100 * dishes["k"] / dishes["n"]),
        method=_method(found, confidence),
        assumptions=ASSUMPTIONS,
        warnings=(*warnings, *_doubts(found, questions)),
        groups=groups,
        effects=tuple(_effects(questions, found, confidence)),
    )


def nothing_counted(quantity, warnings):
    """The Refusal where no dish has a count."""
    return Refusal(
        warnings=warnings,
        quantity=quantity or "",
        missing="No dish has a count at the end of the test.",
        remedy="Enter what was seen in each dish at the last visit; write 0 where nothing was seen.",
    )


def _group(cell, treatment, confidence):
    """A treatment's share with its interval."""
    taxon, environment, quantity, denominator = cell.key
    bare = Estimate(
        quantity, MappingProxyType({"taxon": taxon, "environment": environment, "treatment": treatment}),
        100 * cell.stands[treatment].share, confidence=confidence, denominator=denominator,
        **_behind(cell, treatment),
    )  # fmt: skip
    rung, means = cell.rung(treatment)
    if not rung:
        return replace(bare, rung=str(Rung.DISH), reason=means)
    share, lower, upper = means.told(treatment, t_quantile(confidence, means.df))
    reason = ONE_BATCH if rung == Rung.DISH else ""
    ends = {"lower": 100 * lower, "upper": 100 * upper}
    return replace(
        bare, value=100 * float(share), **ends, df=float(means.df), rung=rung, reason=reason,
        caution=cell.caution(rung, treatment),
    )  # fmt: skip


def _behind(cell, *treatments):
    """How many stand behind these treatments together."""
    stands = [cell.stands[name] for name in treatments if name in cell.stands]
    batches, units, seeds = (sum(counts) for counts in (*zip(*stands, strict=True),)[:3]) if stands else (0, 0, 0)
    return {"n_batches": batches, "n_units": units, "n_seeds": round(seeds)}


def _effects(questions, found, confidence):
    """Yield effects in the order asked, each followed by its companion on sown units."""
    posed = [_question(asked, found) for asked in questions]
    answers = iter(answer([question for question in posed if isinstance(question, Question)], confidence))
    taken = {(asked.key(), asked.a, asked.b) for asked in questions}
    for asked, question in zip(questions, posed, strict=True):
        if isinstance(question, str):
            yield _not_judged(asked, found, question, confidence)
            continue
        effect = _effect(asked, found, question, next(answers), confidence)
        yield effect
        yield from _odds(effect, asked, found[asked.key()], confidence)
        beside = (asked.key(str(Denominator.SOWN)), asked.a, asked.b)
        if beside not in taken:  # nobody asked it on sown units, and it is not shown yet
            taken.add(beside)
            yield from _companion(asked, found, confidence)


def _question(asked, found):
    """What to ask of which means; or a sentence, why it cannot be judged."""
    cell = found.get(asked.key())
    if asked.refused or cell is None:
        return asked.refused or _nothing(asked, found)
    rung, means = cell.rung(asked.a, asked.b)
    if not rung:
        return means
    return Question(
        means, asked.a, asked.b, (*cell.key, rung), asked.taxon, asked.kind, asked.margin / 100, asked.wanted,
        asked.primary, asked.asks_about, asked.margin_late, asked.elsewhere,
    )  # fmt: skip


def _nothing(asked, found):
    """Why there is no share: dishes were not cut, or nothing was counted."""
    if asked.denominator != Denominator.SOWN and asked.key(str(Denominator.SOWN)) in found:
        return NOT_CUT.format(asked.denominator)
    return f"Nothing was counted for {asked.quantity} of {asked.denominator} in this environment."


def _effect(asked, found, question, answered, confidence):
    """The answer in points."""
    *key, rung = question.scope
    notes = (
        WHAT_IF.format(asked.declared) if asked.denominator != asked.declared else "",
        ONE_BATCH if rung == Rung.DISH else "",
        answered.reason,
    )
    return Estimate(
        asked.quantity, asked.of, 100 * float(answered.value), *(100 * float(end) for end in answered.outer),
        scale="difference", confidence=confidence, denominator=key[-1], df=float(answered.df),
        p_value=float(answered.p_value), rung=rung, inner_lower=100 * float(answered.inner[0]),
        inner_upper=100 * float(answered.inner[1]), margin=asked.margin, kind=asked.kind, primary=asked.primary,
        asks_about=asked.asks_about, verdict=answered.verdict, reason=" ".join(filter(None, notes)),
        caution=found[tuple(key)].caution(rung, asked.a, asked.b), **_behind(found[tuple(key)], asked.a, asked.b),
    )  # fmt: skip


def _odds(effect, asked, cell, confidence):
    """The same effect as an odds ratio, beside the difference and without a verdict of its own."""
    ratio, lower, upper, p_value = cell.odds(effect.rung).ratio(asked.a, asked.b, confidence)
    if not np.isnan(ratio):
        yield replace(
            effect, value=ratio, lower=lower, upper=upper, p_value=p_value, scale="odds ratio", unit="1", verdict="",
            kind="", margin=np.nan, inner_lower=np.nan, inner_upper=np.nan, primary=False,
            reason=" ".join((BESIDE, *cell.odds(effect.rung).warnings)), df=float(cell.odds(effect.rung).df), caution=None,
        )  # fmt: skip


def _not_judged(asked, found, reason, confidence):
    cell = found.get(asked.key())
    return Estimate(
        asked.quantity, asked.of, np.nan, scale="difference", confidence=confidence, denominator=asked.denominator,
        margin=asked.margin, kind=asked.kind, primary=asked.primary, asks_about=asked.asks_about,
        verdict=str(Verdict.NOT_JUDGED), reason=reason, **(_behind(cell, asked.a, asked.b) if cell else {}),
    )  # fmt: skip


def _companion(asked, found, confidence):
    """The same contrast on sown units, without a verdict, so that emptiness cannot pass for germination."""
    if asked.denominator != asked.declared or asked.declared not in (Denominator.FILLED, Denominator.VIABLE):
        return
    alone = replace(asked, denominator=str(Denominator.SOWN), primary=False)
    question = _question(alone, found)
    if isinstance(question, str):
        return
    bare = _effect(alone, found, question, answer([question], confidence)[0], confidence)
    notes = (COMPANION.format(asked.declared), ONE_BATCH if bare.rung == Rung.DISH else "")
    yield replace(bare, verdict="", kind="", margin=np.nan, reason=" ".join(filter(None, notes)))


def _method(found, confidence):
    """The ways that were used, each with its unit of replication."""
    used = _used(found)
    sentences = [f"{UNITS[rung]} {_models(rung, means)}" for rung, means in used.items() if means]
    if any(arms.blocked for means in used.values() for arms in means):
        sentences.append("Blocks are allowed for as additive effects in differences; shares of treatments are as counted.")
    if any(arms.scored for means in used.values() for arms in means):
        sentences.append(models.CAREFUL)
    inner = f"{2 * confidence - 1:.0%} interval (two one-sided tests)"
    return " ".join([*sentences, f"Differences are a minus b, in points, with {confidence:.0%} and {inner}."])


def _models(rung, means):
    """What was fitted on one rung, and where counts took the place of means."""
    models_used = {arms.model for arms in means}
    return " ".join(
        says if (rung, model) != (Rung.BATCH, models.QUASI) else f"{NEAR_ENDS} {says}"
        for model, says in MODELS.items()
        if model in models_used
    )


def _used(found):
    """Means that answers rest on, by rung."""
    on_batches = [cell.on_batches for cell in found.values()]
    on_dishes = [cell.on_dishes for cell in found.values() if cell.leans_on_dishes]
    return {rung: list(filter(None, means)) for rung, means in ((Rung.BATCH, on_batches), (Rung.DISH, on_dishes))}


def _doubts(found, questions):
    """One batch only, dishes too far apart, and what the models had to say."""
    judged = {key: found[key] for key in found if not questions or key in {asked.key() for asked in questions}}
    single = {(key[0], name) for key, cell in found.items() for name, stand in cell.stands.items() if stand.batches < 2}
    if single:
        yield f"{ONE_BATCH} This concerns {_listed(f'{name} ({taxon})' for taxon, name in single)}."
    far = _out_of_tolerance([cell.dishes for cell in judged.values()])
    if far:
        yield (
            f"Dishes of one batch lie further apart than chance allows: {_listed(far)}. "
            "Repeat the test rather than delete a dish."
        )
    yield from dict.fromkeys(_empties(found, questions))
    yield from dict.fromkeys(_uncut(found, questions))
    yield from dict.fromkeys(told for means in _used(judged).values() for arms in means for told in arms.warnings)


def _empties(found, questions):
    """Yield what empty units do to a contrast that was declared on sown units, where dishes were cut."""
    for asked in questions:
        sown, filled = found.get(asked.key()), found.get(asked.key(str(Denominator.FILLED)))
        if asked.denominator != Denominator.SOWN or sown is None or filled is None:
            continue
        cut = sown.dishes[sown.dishes["unit"].isin(filled.dishes["unit"])]
        sides = [_empty_of(name, cut, filled.dishes) for name in (asked.a, asked.b)]
        if max(sides) >= EMPTY:
            listed = " and ".join(f"{100 * share:.0f} % of {name}" for name, share in zip((asked.a, asked.b), sides, strict=True))
            yield f"{COUNTED_AS_FAILED.format(listed, asked.taxon)} {OF_FILLED}"


def _uncut(found, questions):
    """Yield how many dishes of a contrast are missing from shares of filled or viable seed."""
    for asked in questions:
        sown, mine = found.get(asked.key(str(Denominator.SOWN))), found.get(asked.key())
        if asked.denominator == Denominator.SOWN or sown is None or mine is None:
            continue
        kept = sown.dishes["treatment"].isin([asked.a, asked.b]) & ~sown.dishes["unit"].isin(mine.dishes["unit"])
        if kept.any():
            units = sown.dishes.loc[kept, "unit"]
            yield LEFT_OUT.format(asked.denominator, _listed(units), len(units))


def _empty_of(name, sown, filled):
    units, seeds = (part.loc[part["treatment"] == name, "n"].sum() for part in (sown, filled))
    return 1 - seeds / units if units else 0.0


def _out_of_tolerance(parts):
    """Batches whose dishes are further apart than chance allows, in words."""
    if not parts:
        return []
    dishes = pd.concat(parts)
    by = dishes.assign(percent=100 * dishes["k"] / dishes["n"]).groupby([*KEYS, "treatment", "batch"])
    ends = by["percent"].agg(["min", "max", "size"])
    mean = 100 * by["k"].sum() / by["n"].sum()
    far = out_of_tolerance(ends["min"], ends["max"], mean, ends["size"], np.floor(by["n"].min()))
    return [f"{batch} ({taxon}, {share} of {of})" for taxon, _, share, of, _, batch in ends.index[far]]


def _listed(names, at_most=5):
    names = sorted(names)
    return ", ".join(names[:at_most]) + (f" and {len(names) - at_most} more" if len(names) > at_most else "")
