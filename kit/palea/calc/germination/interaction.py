"""Does a treatment do the same under stress as without it? Differences of differences of shares, in points.

The stress is applied to the dish and the treatment to the batch: where both treatments have two or more batches in both
settings, each batch's own fall is the unit; else dishes, with the one-batch sentence.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from scipy import optimize

from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.asked import read
from palea.calc.results import Change, Estimate
from palea.calc.stats import comparisons, share_means, value_means
from palea.calc.stats.contrasts import Question, answer, with_elsewhere
from palea.calc.stats.proportions import hybrid_difference
from palea.calc.stats.share_means import ShareMeans
from palea.calc.terms import Rung, Verdict

STRESSED, PLAIN = "\x1fstressed", "\x1fplain"  # after a treatment's name: a cell of it
FARTHEST = 60.0
FEW = "Two dishes at least of {} are needed in {}; there are {}."


@dataclass(frozen=True)
class Changes:
    """Falls of the shares of treatments from one setting to another, asked like palea.calc.stats.share_means.

    cells : means of treatment x setting.  df : of their dispersion.
    """

    cells: ShareMeans

    @property
    def df(self):
        """Degrees of freedom."""
        return self.cells.df

    def interval(self, name, critical):
        """(change, lower, upper) of one treatment, stressed less plain."""
        return self.cells.difference(name + STRESSED, name + PLAIN, critical)

    def difference(self, a, b, critical):
        """(difference, lower, upper) of the change of a less that of b."""
        first, second = self.interval(a, critical), self.interval(b, critical)
        return first[0] - second[0], *map(float, hybrid_difference(first, second))

    def statistic(self, a, b, shift=0.0):
        """The quantile at which the interval of a minus b just reaches `shift`."""
        value = self.difference(a, b, 0.0)[0]
        if value == shift:
            return 0.0
        end, sign = (1, 1) if value > shift else (2, -1)

        def short_of(critical):
            return sign * (self.difference(a, b, critical)[end] - shift)

        return sign * (np.inf if short_of(FARTHEST) > 0 else optimize.brentq(short_of, 0.0, FARTHEST, xtol=1e-10))

    def loadings(self, treatments, control):
        """For Dunnett: how strongly each comparison with `control` leans on it."""
        half = {name: np.diff(self.interval(name, 2.0)[1:])[0] ** 2 for name in (*treatments, control)}
        return comparisons.loadings([half[name] for name in treatments], half[control])


def interactions(dishes, asked, stressed, plain, quantity, confidence):
    """Change of each declared effect from one setting to another -> list of Estimate, in points.

    dishes : rows of germination.dishes.counted_dishes.  asked : declared contrasts of shares, see germination.final;
    each is taken once, its kind, margin and direction hold for the change too.  stressed, plain : Setting.
    quantity : what the change is called.
    An estimate is (a - b) stressed less (a - b) plain; its environment is the first of the stressed setting.
    Source: Steel & Torrie 1980 (interaction as a difference of differences); intervals: Zou & Donner 2008, Stat. Med.
    27:1693; batches: Snedecor & Cochran 1989, ch. 12.
    """
    cells, posed, bare = {}, [], []
    if "across" in asked:
        asked = with_elsewhere(asked, asked["across"].ne(""))
    for question in _asked_once(asked, stressed, plain):
        cell = (question.taxon, question.quantity, question.denominator)
        if cell not in cells:
            cells[cell] = _cell(dishes, cell, stressed, plain)
        means, behind, levels = _means(cells[cell], question, stressed, plain)
        if isinstance(means, str):
            bare.append(_not_judged(question, means, quantity, confidence, stressed, plain))
        else:
            posed.append((question, means, behind, levels))
    answers = answer([_question(*each[:3], quantity) for each in posed], confidence)
    found = [_estimate(question, behind, levels, answered, quantity, confidence, stressed, plain)
             for (question, _, behind, levels), answered in zip(posed, answers, strict=True)]
    return found + bare


def _asked_once(asked, stressed, plain):
    """Each declared pair, quantity and denominator once, for the stressed setting; refused where it is in either."""
    found, here = {}, (*stressed.environments, *plain.environments)
    for question in read(asked, lambda _: [stressed.name]):
        key = (question.taxon, question.a, question.b, question.quantity, question.denominator)
        first = found.setdefault(key, replace(question, environment=stressed.name, refused=""))
        if question.refused and question.environment in here and not first.refused:
            found[key] = replace(first, refused=question.refused)
    return list(found.values())


@dataclass(frozen=True)
class _Cell:
    """Dishes of one taxon, quantity and denominator in either setting, marked by it, and the means that can be had of them."""

    dishes: object = field(repr=False)

    @cached_property
    def sizes(self):
        """{(treatment, setting): dishes}."""
        return self.dishes.groupby(["treatment", "setting"]).size().to_dict()

    @cached_property
    def stands(self):
        """{treatment: (batches, dishes, seeds)}."""
        by = self.dishes.groupby("treatment")
        return dict(zip(by.size().index, zip(by["batch"].nunique(), by.size(), by["n"].sum(), strict=True), strict=True))

    @cached_property
    def falls(self):
        """Rows of `_falls` of the treatments that have two batches in both settings."""
        falls = _falls(self.dishes)
        return falls[falls["treatment"].map(falls.groupby("treatment").size()) >= 2]

    @cached_property
    def on_batches(self):
        """Means of the falls of batches, or None."""
        kept = self.falls
        return value_means.of_values(kept["treatment"].to_numpy(str), kept["fall"].to_numpy(float)) if len(kept) else None

    @cached_property
    def on_dishes(self):
        """Means of dishes of a treatment and setting, named by both, or None."""
        kept = self.dishes[self.dishes.groupby(["treatment", "setting"])["k"].transform("size") >= 2]
        labels = np.char.add(kept["treatment"].to_numpy(str), kept["setting"].to_numpy(str))
        return share_means.of_counts(labels, kept["k"].to_numpy(), kept["n"].to_numpy(), beta=True)


def _cell(dishes, cell, stressed, plain):
    taxon, quantity, denominator = cell
    mine = dishes[(dishes["taxon"] == taxon) & (dishes["quantity"] == quantity) & (dishes["denominator"] == denominator)]
    mine = mine[mine["environment"].isin([*stressed.environments, *plain.environments])]
    return _Cell(mine.assign(setting=np.where(mine["environment"].isin(stressed.environments), STRESSED, PLAIN)))


def _means(cell, question, stressed, plain):
    """Means to ask, what stands behind them, and the difference stressed and plain; or a sentence: what is missing."""
    if question.refused:
        return question.refused, {}, ()
    sides = [question.a, question.b]
    for name in sides:
        for mark, where in ((STRESSED, stressed), (PLAIN, plain)):
            if cell.sizes.get((name, mark), 0) < 2:
                return FEW.format(name, where.says, cell.sizes.get((name, mark), 0)), {}, ()
    batches, units, seeds = map(sum, zip(*(cell.stands[name] for name in dict.fromkeys(sides)), strict=True))
    behind = {"n_batches": batches, "n_units": units, "n_seeds": round(seeds)}
    if cell.on_batches is not None and set(sides) <= set(cell.on_batches.names):
        return cell.on_batches, behind | {"rung": str(Rung.BATCH)}, _levels(cell.falls, question)
    means = cell.on_dishes
    if means is None:
        return "No spread between dishes is known.", {}, ()
    levels = tuple(means.difference(question.a + mark, question.b + mark, 0.0)[0] for mark in (STRESSED, PLAIN))
    return Changes(means), behind | {"rung": str(Rung.DISH)}, levels


def _levels(falls, question):
    """The difference in either setting, from the batches that stood in both."""
    by = falls.groupby("treatment")[[STRESSED, PLAIN]].mean()
    return tuple((by.loc[question.a] - by.loc[question.b]).tolist())


def _falls(cell):
    """A row a batch that stood in both settings: treatment, batch, its shares, fall (stressed share less plain share)."""
    by = cell.groupby(["treatment", "batch", "setting"])[["k", "n"]].sum()
    share = (by["k"] / by["n"]).unstack("setting").reindex(columns=[STRESSED, PLAIN]).dropna()
    return share.assign(fall=share[STRESSED] - share[PLAIN]).reset_index()


def _question(question, means, behind, quantity):
    scope = (question.taxon, question.environment, quantity, question.quantity, question.denominator, behind["rung"])
    return Question(means, question.a, question.b, scope, question.taxon, question.kind, question.margin / 100,
                    question.wanted, _primary(question), question.asks_about, question.margin_late, question.elsewhere)


def _primary(question):
    """Whether the change itself was declared primary, not the difference that changes."""
    return question.primary and bool(question.across)


def _estimate(question, behind, levels, answered, quantity, confidence, stressed, plain):
    notes = (_says(question, stressed, plain), ONE_BATCH if behind["rung"] == Rung.DISH else "", answered.reason)
    return Estimate(
        quantity, _of(question), 100 * float(answered.value), *(100 * float(end) for end in answered.outer),
        scale="difference", confidence=confidence, denominator=question.denominator, df=float(answered.df),
        p_value=float(answered.p_value), inner_lower=100 * float(answered.inner[0]),
        inner_upper=100 * float(answered.inner[1]), margin=question.margin, kind=question.kind,
        primary=_primary(question), asks_about=question.asks_about, verdict=answered.verdict, reason=" ".join(filter(None, notes)),
        change=Change(question.quantity, stressed.says, plain.says, *(100 * float(x) for x in levels), notes[0]), **behind,
    )  # fmt: skip


def _not_judged(question, reason, quantity, confidence, stressed, plain):
    return Estimate(
        quantity, _of(question), np.nan, scale="difference", confidence=confidence, denominator=question.denominator,
        margin=question.margin, kind=question.kind, asks_about=question.asks_about, verdict=str(Verdict.NOT_JUDGED),
        reason=f"{_says(question, stressed, plain)} {reason}",
    )  # fmt: skip


def _of(question):
    return MappingProxyType({"taxon": question.taxon, "environment": question.environment, "a": question.a,
                             "b": question.b})


def _says(question, stressed, plain):
    return f"{question.quantity.capitalize()}: the effect in {stressed.says} less that in {plain.says}."
