"""One price seen: the plain value that everything else is made of."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

SIDES = ("ask", "bid", "deal")

MICROSECONDS_A_DAY = 86_400_000_000


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
