"""What can happen to money and goods: purchases, sales, attempts, orders. Plain values.

Money stands in whole smallest units; times are microseconds UTC.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from advisor.decide.stock_at_cost import Units


class Purpose(NamedTuple):
    """What something is for, or came from."""

    piece: str
    route: str | None = None
    order: int | None = None


class Bought(NamedTuple):
    """Units bought; `lost`: paid, but they never came. Costs in smallest units of money."""

    at_us: int
    item: str
    units: Units
    cost: int
    trader: str | None = None
    purpose: Purpose | None = None
    lost: bool = False


class Sold(NamedTuple):
    """Units sold; `earned` is net of the fee, 0 where nobody paid (`lost`)."""

    at_us: int
    item: str
    units: Units
    earned: int
    trader: str | None = None
    piece: str | None = None
    route: str | None = None
    order: int | None = None
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Tried:
    """What one logged use of a route did.

    Attributes:
        work: What tells one piece in the making from another on the same route.
        makes: The piece that the route makes.
        uses: Items and units used up, as far as they are the maker's own.
        paid: Money used up at once, in smallest units.
        gives: Items, units, and their value together.
        made: Finished pieces.
        sold_as: The half-made piece that goes into stock, to be sold.
        given_up: The work came to nothing.
    """

    at_us: int
    route: str
    work: str
    makes: str
    uses: Sequence[tuple[str, Units]] = ()
    paid: int = 0
    gives: Sequence[tuple[str, Units, int]] = ()
    made: int = 0
    sold_as: str | None = None
    given_up: bool = False
    minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class OrderBegun:
    """An order is open from here on: what is used on its route is used for it."""

    at_us: int
    order: int
    route: str
    makes: str
    customer: str
    own_supplies: bool = True


@dataclass(frozen=True, slots=True)
class OrderOver:
    """An order ended; `earned` is net of any fee."""

    at_us: int
    order: int
    came: Literal["done", "failed", "broken"]
    delivered: int
    earned: int


Happening = Bought | OrderBegun | Tried | OrderOver | Sold
