"""One price seen: the plain value that everything else is made of."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from hashlib import blake2b

SIDES = ("ask", "bid", "deal")

MICROSECONDS_A_DAY = 86_400_000_000

FIELD_SEPARATOR = "\x1f"


@dataclass(frozen=True, slots=True)
class Quote:
    """One price seen.

    Attributes:
        at_us: When it was seen, in microseconds since 1970-01-01T00:00Z.
        item: The item's name as the book spells it.
        price: Price of one unit, in `money`, > 0; exact ("7/3" stays seven thirds).
        money: The item that the price is given in.
        side: "ask" (offered for sale), "bid" (wanted) or "deal" (done).
        qty: Units offered, wanted or dealt, >= 1; None where not said.
        trader, source, note: As the user gave them, or None.
    """

    at_us: int
    item: str
    price: Fraction
    money: str
    side: str = "ask"
    qty: int | None = None
    trader: str | None = None
    source: str | None = None
    note: str | None = None


def price_text(price: Fraction) -> str:
    """The one spelling of a price: "12.5" where decimals end, else "7/3".

    >>> price_text(Fraction("12.50")), price_text(Fraction(7, 3)), price_text(Fraction(1200))
    ('12.5', '7/3', '1200')
    """
    rest = price.denominator
    twos = fives = 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        return f"{price.numerator}/{price.denominator}"
    places = max(twos, fives)
    if places == 0:
        return str(price.numerator)
    digits = str(abs(price.numerator) * 10**places // price.denominator).zfill(places + 1)
    sign = "-" if price < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}"


def fingerprint_text(
    *,
    at_us: int,
    item_key: str,
    price: str,
    money_key: str,
    side: str,
    qty: int | None,
    trader_key: str | None,
) -> str:
    """What makes a quote the same quote, written out in one canonical way.

    Source and note tell where a record came from, not what was seen: the same
    quote from two files is one quote.

    Args:
        item_key, money_key, trader_key: Names in the form of `names.name_key`, which
            never holds the separator.
        price: In the form of `price_text`.
    """
    fields = (at_us, item_key, price, money_key, side, _text(qty), trader_key or "")
    return FIELD_SEPARATOR.join(map(str, fields))


def fingerprint(text: str) -> bytes:
    """Sixteen bytes that stand for a quote, the same on every machine and in every version.

    Args:
        text: From `fingerprint_text`.
    """
    return blake2b(text.encode(), digest_size=16).digest()


def _text(number: int | None) -> str:
    return "" if number is None else str(number)
