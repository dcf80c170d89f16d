"""Sums of money, each with its currency and the days that it was valid. Two currencies are never added up."""

from dataclasses import dataclass

from palea.errors import UnfitValue


@dataclass(frozen=True)
class Money:
    """An amount in one currency.

    amount : number.  currency : three letters of ISO 4217.  dates : days of the prices in it, as written, in order.

    >>> Money(12.5, "EUR", ("2024-05-01",)) + Money(2.5, "EUR", ("2025-01-07",))
    Money(amount=15.0, currency='EUR', dates=('2024-05-01', '2025-01-07'))
    """

    amount: float
    currency: str
    dates: tuple[str, ...] = ()

    def __post_init__(self):
        if not (len(self.currency) == 3 and self.currency.isascii() and self.currency.isupper()):
            msg = f"currency is “{self.currency}”; allowed is a code of three capital letters (ISO 4217), as in EUR."
            raise UnfitValue(msg)

    def __add__(self, other):
        self._alike(other)
        return Money(self.amount + other.amount, self.currency, tuple(sorted({*self.dates, *other.dates})))

    def __sub__(self, other):
        return self + other * -1

    def __mul__(self, number):
        if isinstance(number, Money):
            msg = "Money times money is no money; multiply by a plain number."
            raise UnfitValue(msg)
        return Money(self.amount * number, self.currency, self.dates)

    __rmul__ = __mul__

    def __truediv__(self, other):
        """By a number: money. By money of the same currency: a plain ratio."""
        if not isinstance(other, Money):
            return Money(self.amount / other, self.currency, self.dates)
        self._alike(other)
        return self.amount / other.amount

    def exchanged(self, rate, currency, on):
        """In another currency at a rate that somebody states: units of `currency` for one of this, valid on day `on`.

        Raises UnfitValue for a rate that is not above 0.
        """
        if not rate > 0:
            msg = f"rate is {rate}; allowed is above 0: how many {currency} one {self.currency} bought on {on}."
            raise UnfitValue(msg)
        return Money(self.amount * rate, currency, tuple(sorted({*self.dates, on})))

    def _alike(self, other):
        if not isinstance(other, Money):
            msg = f"{self.amount:g} {self.currency} and {other} do not add up: the second has no currency."
            raise UnfitValue(msg)
        one_currency((self.currency, other.currency))


def one_currency(currencies):
    """The one currency of all of these; "" where there is none (blanks are passed over).

    Raises UnfitValue naming them where there are two or more.

    >>> one_currency(["EUR", "", "EUR"])
    'EUR'
    """
    found = sorted({str(c) for c in currencies if isinstance(c, str) and c})
    if len(found) > 1:
        msg = (f"Prices stand in {' and '.join(found)}: they cannot be added or compared. "
               "State a rate and its day, and bring them to one currency first.")
        raise UnfitValue(msg)
    return found[0] if found else ""


def unit(currency, *per):
    """The UCUM code of money per something: the currency as an annotation.

    >>> unit("EUR", "kg")
    '{EUR}/kg'
    """
    return "/".join((f"{{{currency}}}", *per))


def mass_price(amount, grams, pure_live_share=None):
    """Price of a gram as it lies in the bag, from `amount` for `grams` of product, or of pure live seed where its share
    of the bag (0 to 1) is given: a price per mass of pure live seed buys only that part.

    Raises UnfitValue for grams that are not above 0 or a share outside 0 to 1.
    Source: arithmetic.

    >>> mass_price(95.0, 1000.0), mass_price(100.0, 1000.0, pure_live_share=0.5)
    (0.095, 0.05)
    """
    if not grams > 0:
        msg = f"grams is {grams}; allowed is above 0: the mass that the price is for."
        raise UnfitValue(msg)
    if pure_live_share is not None and not 0 <= pure_live_share <= 1:
        msg = f"pure_live_share is {pure_live_share}; allowed is 0 to 1."
        raise UnfitValue(msg)
    return amount / grams * (1 if pure_live_share is None else pure_live_share)
