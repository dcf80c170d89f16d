"""What an established plant and a hectare cost with each treatment, and from which area or seed price one pays.

A treatment's cost is mass of received seed x (its price + what is done to a kg of it), plus what is put on a kg of
clean seed, plus what a campaign costs whatever its size. Money has no unit of its own: all prices are in one currency.
"""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc import money
from palea.calc.decision.chains import chains
from palea.calc.decision.losses import of_group
from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal
from palea.calc.stats.resampling import percentile_interval
from palea.errors import UnfitValue

HECTARE, PLANT, SEED, SOWN = "cost of a hectare", "cost of a plant", "seed for a hectare", "seed units for a hectare"
AREA, PRICE = "break-even area", "break-even seed price"
NEVER = "It never pays: a hectare costs more even without what a campaign costs."
ALWAYS = "It pays at any area: neither a hectare nor a campaign costs more."
SHRINKS = "It pays below this area: a hectare costs more, a campaign less."
NO_PRICE = "No seed price makes them equal: both take the same mass of received seed."
ANY_PRICE, NEVER_PRICE = "It pays at every seed price.", "It pays at no seed price."
BELOW = "It pays below this price: it takes more received seed."
METHOD = (
    "Seed units: plants wanted over the share of sown units that establish. Cost: received seed at its price, work on "
    "received and on clean seed, and a campaign over the area. Intervals carry every stage's units, drawn anew; prices "
    "are taken as known."
)


@dataclass(frozen=True)
class Price:
    """What one treatment costs. All per kg, in one currency; masses of 1000 in g.

    price : of a kg received.  received_g, clean_g : thousand-seed weights.  recovery : clean units a received unit (1:
    sown as received).  per_received, per_clean : work on a kg received, coat on a kg clean.  campaign : once.
    """

    price: float
    received_g: float
    clean_g: float
    recovery: float = 1.0
    per_received: float = 0.0
    per_clean: float = 0.0
    campaign: float = 0.0

    def seed(self, seed_units):
        """Received seed [kg] for so many units to be sown."""
        return np.asarray(seed_units, float) / self.recovery * self.received_g / 1e6

    def beside_seed(self, seed_units):
        """Cost of work and coat for so many units, without the seed itself and the campaign."""
        clean = np.asarray(seed_units, float) * self.clean_g / 1e6
        return _at(self.seed(seed_units), self.per_received) + _at(clean, self.per_clean)

    def hectare(self, seed_units):
        """Cost of so many units, without the campaign."""
        return _at(self.seed(seed_units), self.price) + self.beside_seed(seed_units)


def _at(mass, rate):
    """Cost of masses at a rate; nothing for a rate of 0, though the mass be without end."""
    return mass * rate if rate else np.zeros(np.shape(mass))


def units_for_plants(plants, established):
    """Seed units to sow for so many established plants: plants / share. inf where nothing establishes.

    Source: common practice, no source; sowing rates of grain follow it (plants x thousand-grain weight / establishment).

    >>> round(float(units_for_plants(300 * 1e4, 0.85) * 51.9 / 1e6), 3)  # 300 plants/m2 of 51.9 g at 85 %, kg/ha
    183.176
    """
    with np.errstate(divide="ignore"):
        return plants / np.asarray(established, float)


def break_even_area(hectare_a, hectare_b, campaign_a, campaign_b):
    """Area at which a and b cost the same: (C_a - C_b) / (H_b - H_a); nan where one is dearer at every area.

    hectare_a, hectare_b : cost of a hectare without campaign.  Shapes broadcast. 0 where neither hectare nor campaign
    of a costs more. Where a costs more a hectare but less a campaign, a pays below it.
    Source: common practice, no source.

    >>> float(break_even_area(126, 228, 1200, 0).round(1))
    11.8
    """
    saved = np.asarray(hectare_b, float) - hectare_a
    more = np.asarray(campaign_a, float) - campaign_b
    with np.errstate(divide="ignore", invalid="ignore"):
        area = more / saved
    return np.where((saved >= 0) & (more <= 0), 0.0, np.where(area > 0, area, np.nan))


def break_even_price(seed, beside, campaign, area):
    """Price of a kg received at which a and b cost the same on `area`; nan where there is none above 0.

    seed, beside, campaign : (a, b) each: kg received a hectare; cost a hectare besides; cost of a campaign.
    ((O_a - O_b) + (C_a - C_b) / area) / (m_b - m_a). Source: common practice, no source.
    """
    above = beside[0] - beside[1] + (campaign[0] - campaign[1]) / area
    with np.errstate(divide="ignore", invalid="ignore"):
        price = np.asarray(above, float) / (np.asarray(seed[1], float) - seed[0])
    return np.where(price > 0, price, np.nan)


def cost(
    passed, prices, pairs=None, plants=20_000.0, area=5.0, currency="EUR", confidence=0.95, replicates=999, seed=1,
    interval=percentile_interval, price_as=Price,
):  # fmt: skip
    """Cost of a plant and of a hectare, break-even area and seed price -> Effects, or Refusal.

    passed : see chains.chains; its last stage is what counts as established.
    prices : frame, one row a treatment: taxon, treatment, price, received_g, and optional clean_g, recovery,
    per_received, per_clean, campaign; see Price. Blank: as received, and nothing. currency, where it is there, is that
    of the row's sums and goes before the argument; "" where it is unknown.
    pairs : frame with taxon, a, b; a is asked to pay against b.
    plants : wanted a hectare.  area : hectares of one campaign.  currency : code printed with every sum.
    interval, price_as : how ends come from draws, and the class of a price; earlier versions have others.
    Groups, each with its interval: seed units and received seed [kg] for a hectare, cost of a hectare (campaign shared
    over the area) and of a plant. Effects: difference in cost of a hectare, break-even area [ha] and seed price; their
    reason says where a never pays, and in how many of the replicates it does.
    True coverage of nominal 95 % (tests/coverage, cost): 93 to 96 %, from four to sixteen units a stage.
    Refusal where no treatment has both stages and prices. Raises UnfitValue for plants or area that are not above 0,
    and for prices in two currencies.
    Source: common practice, no source; intervals: Rao & Wu 1988, J. Am. Stat. Assoc. 83:231.
    """
    if not (plants > 0 and area > 0):
        msg = f"plants is {plants} and area {area}; both must be above 0."
        raise UnfitValue(msg)
    currency = (money.one_currency(prices["currency"]) if "currency" in prices else "") or currency
    found, priced = chains(passed, replicates, seed), read_prices(prices, price_as)
    both = {key: (chain, priced[key[0], key[2]]) for key, chain in found.items() if (key[0], key[2]) in priced}
    if not both:
        return Refusal(
            quantity=HECTARE, missing="No treatment has both its stages counted and its prices.",
            remedy="Enter a price and a thousand-seed weight of a treatment that was sown and counted.",
        )  # fmt: skip
    unpriced = sorted({key[2] for key in found} - {key[2] for key in both})
    setting = {"plants": plants, "area": area, "unit": money.unit(currency), "confidence": confidence}
    return Effects(
        method=METHOD,
        assumptions=(f"{plants:g} established plants a hectare; a campaign sows {area:g} ha; prices in {currency}.",),
        warnings=(f"No price was given for {', '.join(unpriced)}.",) if unpriced else (),
        groups=tuple(e for chain, price in both.values() for e in _group(chain, price, interval, **setting)),
        effects=tuple(e for e in _pairs(pairs, both, setting)),
    )  # fmt: skip


def read_prices(prices, price_as=Price):
    """{(taxon, treatment): Price}; UnfitValue for a mass, recovery or sum that cannot be."""
    found = {}
    for row in prices.to_dict("records"):
        given = {name: float(row[name]) for name in Price.__annotations__ if pd.notna(row.get(name))}
        lacking = {"price", "received_g"} - set(given)
        if lacking:
            continue
        price = price_as(**{"clean_g": given["received_g"]} | given)
        wrong = [n for n, v in vars(price).items() if v < 0 or (v == 0 and n in ("received_g", "clean_g", "recovery"))]
        if wrong:
            msg = f"{wrong[0]} of {row['treatment']} is {getattr(price, wrong[0]):g}; allowed is above 0 (sums: 0 too)."
            raise UnfitValue(msg)
        found[str(row["taxon"]), str(row["treatment"])] = price
    return found


def _interval(value, drawn, df, confidence, interval=percentile_interval, *, logged=False):
    """(value, lower, upper); nan where the value is not finite."""
    low, high = interval(drawn, confidence, df, logged=logged)
    return (float(value) if np.isfinite(value) else np.nan), low, high


def _group(chain, price, interval, plants, area, unit, confidence):
    needed = units_for_plants(plants, chain.shares[-1]), units_for_plants(plants, chain.drawn[:, -1])
    whole = [price.hectare(each) + price.campaign / area for each in needed]
    reason = "" if np.isfinite(needed[0]) else "Nothing established, so no amount of seed is enough."
    told = {
        SOWN: (needed, "1"), SEED: ([price.seed(each) for each in needed], "kg"), HECTARE: (whole, unit),
        PLANT: ([each / plants for each in whole], unit),
    }
    for quantity, ((value, drawn), of_unit) in told.items():
        value, low, high = _interval(value, drawn, chain.df[-1], confidence, interval, logged=True)
        yield Estimate(
            quantity, of_group(chain), value, low, high, confidence=confidence, unit=of_unit, df=float(chain.df[-1]),
            n_batches=int(chain.batches[-1]), n_units=int(chain.units[-1]), rung=chain.rungs[-1], reason=reason,
        )  # fmt: skip


def _pairs(pairs, both, setting):
    for row in () if pairs is None else pairs.to_dict("records"):
        places = dict.fromkeys(key[1] for key in both if key[0] == str(row["taxon"])) or [""]
        for place in places:
            yield from _pair(str(row["taxon"]), place, str(row["a"]), str(row["b"]), both, **setting)


def _pair(taxon, place, a, b, both, plants, area, unit, confidence):
    of = {"taxon": taxon, "environment": place, "a": a, "b": b}
    sides = [both.get((taxon, place, name)) for name in (a, b)]
    if None in sides:
        lacking = " and ".join(name for name, side in zip((a, b), sides, strict=True) if side is None)
        reason = f"Not both stages and prices are known for {lacking}."
        yield Estimate(HECTARE, MappingProxyType(of), np.nan, scale="difference", unit=unit, verdict="not judged",
                       reason=reason)
        return
    df = min(chain.df[-1] for chain, _ in sides)
    point = _sums(sides, [units_for_plants(plants, chain.shares[-1]) for chain, _ in sides], area)
    drawn = _with_never(_sums(sides, [units_for_plants(plants, chain.drawn[:, -1]) for chain, _ in sides], area), point)
    pays = f"It pays in {np.mean(drawn[HECTARE] < 0):.0%} of the replicates at this area."
    reasons = {HECTARE: pays, AREA: _why_area(point), PRICE: _why_price(point)}
    for quantity, of_unit in ((HECTARE, unit), (AREA, "har"), (PRICE, unit)):
        value, low, high = _interval(point[quantity], drawn[quantity], df, confidence)
        if not np.isfinite(value):
            low = high = np.nan
        yield Estimate(
            quantity, MappingProxyType(of), value, low, high, scale="difference" if quantity == HECTARE else "value",
            confidence=confidence, unit=of_unit, df=float(df), n_batches=int(sum(c.batches[-1] for c, _ in sides)),
            n_units=int(sum(c.units[-1] for c, _ in sides)), rung=sides[0][0].rungs[-1], reason=reasons[quantity],
        )  # fmt: skip


def _sums(sides, units, area):
    """Difference in cost and both break-evens, for the estimate or for every replicate."""
    prices = [price for _, price in sides]
    hectare = [price.hectare(each) for price, each in zip(prices, units, strict=True)]
    seed = [price.seed(each) for price, each in zip(prices, units, strict=True)]
    beside = [price.beside_seed(each) for price, each in zip(prices, units, strict=True)]
    campaign = [price.campaign for price in prices]
    return {
        HECTARE: hectare[0] - hectare[1] + (campaign[0] - campaign[1]) / area,
        AREA: break_even_area(*hectare, *campaign), PRICE: break_even_price(seed, beside, campaign, area),
        "saved": hectare[1] - hectare[0], "more": campaign[0] - campaign[1], "less seed": seed[1] - seed[0],
    }  # fmt: skip


def _with_never(drawn, point):
    """Replicates in which a never pays lie beyond every area and price, so that an end may stay open."""
    area = np.where(np.isnan(drawn[AREA]) | ((point["more"] < 0) & (drawn["saved"] >= 0)), np.inf, drawn[AREA])
    price = np.where(np.isnan(drawn[PRICE]) & (drawn["less seed"] > 0), 0.0, drawn[PRICE])
    if point["less seed"] > 0:
        price = np.where(drawn["less seed"] <= 0, np.inf, price)
    return drawn | {AREA: area, PRICE: price}


def _why_area(point):
    if np.isnan(point[AREA]):
        return NEVER
    if point[AREA] == 0:
        return ALWAYS
    return "" if point["saved"] > 0 else SHRINKS


def _why_price(point):
    if np.isnan(point[PRICE]):
        if point["less seed"] == 0:
            return NO_PRICE
        return ANY_PRICE if point[HECTARE] < 0 else NEVER_PRICE
    return "" if point["less seed"] > 0 else BELOW


def cost_curves(
    passed, prices, areas=None, plants=20_000.0, largest=50.0, currency="EUR", confidence=0.95, replicates=999, seed=1,
    interval=percentile_interval, price_as=Price,
):  # fmt: skip
    """Cost of a plant against the area of a campaign, with its band -> Curves, or Refusal; `time` holds the area [ha].

    areas : rising areas [ha], above 0; None: 40 from half a hectare to `largest`, closer together where they are small.
    The rest as in `cost`.
    Source: common practice, no source; bands: Rao & Wu 1988, J. Am. Stat. Assoc. 83:231.
    """
    areas = np.geomspace(0.5, largest, 40) if areas is None else np.asarray(areas, float)
    priced = read_prices(prices, price_as)
    found = []
    for key, chain in chains(passed, replicates, seed).items():
        if (key[0], key[2]) not in priced:
            continue
        price = priced[key[0], key[2]]
        shared = price.campaign / areas
        value = (price.hectare(units_for_plants(plants, chain.shares[-1])) + shared) / plants
        drawn = price.hectare(units_for_plants(plants, chain.drawn[:, -1]))
        low, high = interval((drawn[:, None] + shared) / plants, confidence, chain.df[-1], logged=True)
        found.append(Curve(of_group(chain), areas, value, low, high, "line", n_units=int(chain.units[-1])))
    if not found:
        return Refusal(
            quantity=PLANT, missing="No treatment has both its stages counted and its prices.",
            remedy="Enter a price and a thousand-seed weight of a treatment that was sown and counted.",
        )  # fmt: skip
    currency = (money.one_currency(prices["currency"]) if "currency" in prices else "") or currency
    return Curves(
        quantity=PLANT, unit=money.unit(currency), along="Sown area", along_unit="har", curves=tuple(found), method=METHOD,
        estimates=tuple(_at_the_end(curve, money.unit(currency)) for curve in found),
    )  # fmt: skip


def _at_the_end(curve, unit):
    """What a curve comes to on the largest area."""
    value, low, high = (float(line[-1]) for line in (curve.value, curve.lower, curve.upper))
    reason = f"On {curve.time[-1]:g} ha."
    return Estimate(PLANT, curve.of, value, low, high, unit=unit, n_units=curve.n_units, reason=reason)
