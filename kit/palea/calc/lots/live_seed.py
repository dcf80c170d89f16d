"""How much of a lot will live: pure live seed, live seeds a gram and in the bag, and what one of them costs."""

from dataclasses import dataclass

import numpy as np

from palea.calc import money, simulated
from palea.calc.checked import above_zero, not_below_zero, share
from palea.calc.lots.life import DORMANT, FILLED, GERMINATED, LIVE, VIABLE, shares_of, with_live
from palea.calc.lots.purity import shares
from palea.calc.lots.readings import estimate_of
from palea.calc.lots.seed_weight import PER_GRAM, Weighed, weigh
from palea.calc.means import Interval, mean_interval, product
from palea.calc.results import Refusal, Values
from palea.calc.stats.proportions import hybrid_difference
from palea.calc.stats.share_means import NEAR_END
from palea.calc.terms import Denominator
from palea.calc.units import per

PURE_LIVE, GERMINATING = "pure live seed", "pure live seed that germinates"
WAITING = "pure live seed that is dormant"
LIVE_PER_GRAM, IN_BAG = "live seeds per gram", "live seeds in the bag"
PRICE, PLANT_PRICE = "price of 1000 live seeds", "price of an expected plant"
NO_PURITY = "Purity was not tested: all of the bag was taken for pure seed."
ONLY_GERMINATED = "Live: germinated seed alone; dormant seed was not counted, so there may be more."
EXACT = "Purity was tested once and counts as exact, so the interval is too narrow by its share."


def pure_live_seed_share(purity, germination, dormant=0.0):
    """Pure live seed as a share of the bag: purity x (germination + dormant), all shares, 0 to 1; arrays broadcast.

    dormant : alive, not germinated (hard and fresh); leave it at 0 where `germination` is a viability.
    Raises UnfitValue outside 0 to 1, also where germination and dormant add to more than 1.
    Source: common practice; AASCO (total viable = germination + dormant + hard).

    >>> float(pure_live_seed_share(0.98, 0.92, 0.05).round(4))
    0.9506
    """
    alive = share(germination, "germination") + share(dormant, "dormant")
    return share(purity, "purity") * share(np.round(alive, 12), "germination + dormant")


def bulk_rate(pure_live_rate, pure_live_share):
    """What to sow of the bag for a rate of pure live seed: rate / PLS, in the unit of the rate.

    >>> round(float(bulk_rate(3.00, 0.9506)), 2)
    3.16
    """
    return not_below_zero(pure_live_rate, "pure_live_rate") / share(pure_live_share, "pure_live_share", open_low=True)


def live_per_gram(purity, live, thousand_g):
    """Live seeds in a gram of the bag: purity x live x 1000 / TSW; purity and live as shares, TSW of pure seed [g].

    >>> float(live_per_gram(0.9, 0.5, 2.0))
    225.0
    """
    return share(purity, "purity") * share(live, "live") * 1000 / above_zero(thousand_g, "thousand_g")


def price_of_1000(price_per_gram, live_in_gram):
    """Price of 1000 live seeds, in the currency of the price per gram; nan where a gram holds none.

    >>> round(float(price_of_1000(0.095, 190.0)), 2)
    0.5
    """
    live_in_gram = not_below_zero(live_in_gram, "live_in_gram")
    return 1000 * not_below_zero(price_per_gram, "price_per_gram") / np.where(live_in_gram > 0, live_in_gram, np.nan)


@dataclass(frozen=True)
class _Lot:
    """What is known of one lot. Intervals of shares; seeds a gram is nan where no group was weighed."""

    purity: Interval
    live: Interval
    parts: dict
    per_gram: Interval
    how: str
    reasons: tuple[str, ...]
    replicates: int
    seeds: float


def pure_live_seed(
    purity_parts, counted_seeds, counted_groups, bags, confidence=0.95, *, interval=Weighed.interval, fewest=NEAR_END
):
    """Pure live seed with its germinating and dormant parts, live seeds a gram and in the bag, and prices -> Values.

    purity_parts : as in `purity.purity`.  counted_seeds : as in `life.viability`.  counted_groups : as in
    `seed_weight.thousand_seed_weight`; of pure seed.
    bags : frame, one row a lot: taxon, lot, mass_g (what is left [g]), price, per_g (grams that the price is for),
    per_pure_live (bool: grams of pure live seed, not of the bag), currency, established (share of live seeds that is
    expected to become a plant, 0 to 1); nan and "" where unknown. Lots not in it are left out.
    Live seed is germinated and dormant of a germination test together; where dormant seed was not counted, viable seed
    of a viability test, times filled units where only filled ones were tested; else germinated seed alone, which the
    reason says. What cannot be had is left out; a lot without any count of live seed is told in a warning. Refusal
    where no lot has one.
    interval : how an Interval comes from a Weighed.  fewest : see life.shares_of. Earlier versions have others.
    Raises UnfitValue where a count, mass or share cannot be.
    Intervals: those of purity (t), life (score) and seed weight (t) carried through the product on the log scale. True
    coverage of nominal 95 % (tests/coverage, pure-live-seed): 94 to 100 %, most with two samples or 95 % alive.
    Source: AASCO and 7 CFR 201.57a (total viable); common practice (purity x live); Zou & Donner 2008 (interval).
    """
    found = shares_of(with_live(counted_seeds), confidence, fewest)
    estimates, warnings = [], []
    for bag in bags.assign(per_pure_live=bags["per_pure_live"].isin([True])).itertuples():
        lot = _lot(str(bag.lot), purity_parts, found, counted_groups, confidence, interval)
        if lot is None:
            warnings.append(f"{bag.lot}: no test says how much of it is alive; stain or germinate 200 seeds.")
            continue
        estimates += _estimates(bag, lot, confidence)
    if not estimates:
        return Refusal(quantity=PURE_LIVE, missing="No lot has a test that says how much of it is alive.",
                       remedy="Enter a viability test, or a germination test with dormant seed counted at the end.",
                       warnings=tuple(warnings))
    return Values(
        estimates=tuple(estimates), warnings=tuple(warnings),
        method="Pure live seed = purity x live seed; live seeds a gram = that over the mass of a seed. Intervals of the "
        "factors are carried through on the log scale. " + simulated.CAREFUL_LIVE,
        assumptions=("The samples for purity, life and seed weight were drawn independently from the same lot.",),
    )


def _lot(name, parts, found, groups, confidence, interval):
    alive, split, how, n, replicates = _alive({(e.quantity, e.denominator): e for e in found if e.lot == name})
    if alive is None:
        return None
    pure, told = _purity(parts[parts["lot"] == name], confidence)
    return _Lot(pure, alive, split, _per_gram(groups[groups["lot"] == name], confidence, interval), how, told, replicates, n)


def _alive(of):
    """(live of all units, {part: Interval}, how it was had, seeds, replicates)."""
    live, germinated, dormant = (of.get((q, "")) for q in (LIVE, GERMINATED, DORMANT))
    if live:
        split = {GERMINATING: germinated.interval, WAITING: dormant.interval}
        return live.interval, split, "Live: germinated and dormant seed.", live.n, live.replicates
    viable, inside, filled = of.get((VIABLE, "")), of.get((VIABLE, str(Denominator.FILLED))), of.get((FILLED, ""))
    if viable:
        split = {GERMINATING: germinated.interval, WAITING: _rest(viable, germinated)} if germinated else {}
        return viable.interval, split, "Live: viable seed.", viable.n, viable.replicates
    if inside and filled:
        both = product(filled.interval, inside.interval)
        return both, {}, "Live: filled units times viable of filled.", inside.n, inside.replicates
    if germinated:
        return germinated.interval, {}, ONLY_GERMINATED, germinated.n, germinated.replicates
    return None, {}, "", 0, 0


def _rest(viable, germinated):
    """Viable less germinated, from two tests; not below 0."""
    value, *ends = (max(float(x), 0.0) for x in (
        viable.interval.value - germinated.interval.value,
        *hybrid_difference(viable.interval[:3], germinated.interval[:3]),
    ))  # fmt: skip
    return Interval(value, *ends)


def _purity(rows, confidence):
    rows = rows.dropna(subset=["pure_g", "other_g", "inert_g"])
    if rows.empty:
        return Interval(1.0), (NO_PURITY,)
    pure, *_ = shares(*(rows[c].to_numpy(float) for c in ("pure_g", "other_g", "inert_g")))
    found = mean_interval(pure, confidence, lowest=0.0, highest=1.0)
    return found, (EXACT,) if np.isnan(found.lower) else ()


def _per_gram(rows, confidence, interval):
    rows = rows.dropna(subset=["mass_g", "count"])
    if rows.empty:
        return Interval(np.nan)
    found = weigh(rows["mass_g"], rows["count"])
    return interval(found, confidence, lowest=1e-9).inverse().times(1000.0)


def _estimates(bag, lot, confidence):
    """Of one lot, what can be had."""
    reason = " ".join((lot.how, *lot.reasons))
    behind = {"confidence": confidence, "replicates": lot.replicates, "seeds": lot.seeds, "reason": reason}
    share_of_bag = product(lot.purity, lot.live)
    many = product(share_of_bag, lot.per_gram)
    found = [(PURE_LIVE, share_of_bag.times(100.0), "%")]
    found += [(name, product(lot.purity, part).times(100.0), "%") for name, part in lot.parts.items()]
    found += [(PER_GRAM, lot.per_gram, per("", "g")), (LIVE_PER_GRAM, many, per("", "g"))]
    found += [(IN_BAG, many.times(float(bag.mass_g)), "1"), *_prices(bag, lot.per_gram if bag.per_pure_live else many)]
    for quantity, interval, unit in found:
        if not np.isnan(interval.value):
            yield estimate_of(bag.taxon, bag.lot, quantity, interval, unit=unit, **behind)


def _prices(bag, many):
    """What 1000 live seeds cost and what a plant does; nothing without a price, its mass and its currency.

    many : live seeds in a gram of what the price is for. Of pure live seed every unit is alive: seeds a gram.
    """
    if not (bag.price >= 0 and bag.per_g > 0 and isinstance(bag.currency, str) and bag.currency):
        return
    thousand = many.inverse().times(1000 * money.mass_price(bag.price, bag.per_g))
    yield PRICE, thousand, money.unit(bag.currency, "1000")
    if 0 < bag.established <= 1:
        yield PLANT_PRICE, thousand.times(1 / (1000 * bag.established)), money.unit(bag.currency)
