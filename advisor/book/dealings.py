"""What one's own dealings tell about others: offers taken and declined, units listed and sold."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.book.orders import Order, read_declined, read_orders
from advisor.book.store import Store
from advisor.names import name_key
from advisor.quotes import MICROSECONDS_A_DAY, SIDES

RECENT_US = 60 * MICROSECONDS_A_DAY
"""What was sold longer ago tells little of who buys today."""


@dataclass(frozen=True, slots=True)
class OwnSale:
    """Units of one item sold at one time.

    Attributes:
        price: Of one unit, before any fee, in `money`.
    """

    at_us: int
    item: str
    qty: float
    price: float
    money: str


@dataclass(frozen=True, slots=True)
class OwnListing:
    """Units of one item that stood for sale when one looked.

    Attributes:
        qty: Units; None where not said.
        price: Of one unit, before any fee, in `money`.
    """

    at_us: int
    item: str
    qty: int | None
    price: float
    money: str


@dataclass(frozen=True, slots=True)
class OwnDealings:
    """As known at a moment.

    Attributes:
        taken: Orders: offers that customers took.
        declined: Offers that they did not.
        sales: Sales of the last 60 days that were paid, in the order of their times.
        listings: Own asks of the last 60 days, likewise.
    """

    taken: tuple[Order, ...] = ()
    declined: tuple[Order, ...] = ()
    sales: tuple[OwnSale, ...] = ()
    listings: tuple[OwnListing, ...] = ()


def read_dealings(store: Store, *, until_us: int, stall: str | None) -> OwnDealings:
    """All that stands in the book by a moment.

    Args:
        stall: The trader whose asks are one's own listings; None: nobody's are.
    """
    return OwnDealings(
        taken=tuple(read_orders(store, until_us=until_us)),
        declined=tuple(read_declined(store, until_us=until_us)),
        sales=_read_sales(store, until_us),
        listings=() if stall is None else _read_listings(store, until_us, stall),
    )


def _read_listings(store: Store, until_us: int, stall: str) -> tuple[OwnListing, ...]:
    rows = store.connection.execute(
        """SELECT quotes.at_us, listed.name, qty, price_value, money.name
           FROM quotes JOIN traders ON traders.id = trader_id
           JOIN items AS listed ON listed.id = item_id JOIN items AS money ON money.id = money_id
           WHERE traders.key = ?1 AND side = ?2 AND quotes.at_us <= ?3 AND quotes.at_us > ?4
           ORDER BY quotes.at_us, quotes.id""",
        (name_key(stall), SIDES.index("ask"), until_us, until_us - RECENT_US),
    )
    return tuple(OwnListing(*row) for row in rows)


def _read_sales(store: Store, until_us: int) -> tuple[OwnSale, ...]:
    from fractions import Fraction

    rows = store.connection.execute(
        """SELECT trades.at_us, sold.name, qty, price, money.name
           FROM trades JOIN entries ON entries.id = entry_id
           JOIN items AS sold ON sold.id = item_id JOIN items AS money ON money.id = money_id
           WHERE undone_us IS NULL AND trades.kind = 'sale' AND NOT broken
                 AND trades.at_us <= ?1 AND trades.at_us > ?2
           ORDER BY trades.at_us, trades.id""",
        (until_us, until_us - RECENT_US),
    )
    return tuple(
        OwnSale(at_us, item, float(Fraction(qty)), float(Fraction(price)), money)
        for at_us, item, qty, price, money in rows
    )
