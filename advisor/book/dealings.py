"""What one's own dealings tell about others: offers taken and declined, units sold."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.book.orders import Order, read_declined, read_orders
from advisor.book.store import Store
from advisor.quotes import MICROSECONDS_A_DAY

SALES_DAYS = 60
"""Sales longer ago tell little of who buys today."""


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
class OwnDealings:
    """As known at a moment.

    Attributes:
        taken: Orders: offers that customers took.
        declined: Offers that they did not.
        sales: Sales of the last 60 days that were paid, in the order of their times.
    """

    taken: tuple[Order, ...] = ()
    declined: tuple[Order, ...] = ()
    sales: tuple[OwnSale, ...] = ()


def read_dealings(store: Store, *, until_us: int) -> OwnDealings:
    """All that stands in the book by a moment."""
    return OwnDealings(
        taken=tuple(read_orders(store, until_us=until_us)),
        declined=tuple(read_declined(store, until_us=until_us)),
        sales=_read_sales(store, until_us),
    )


def _read_sales(store: Store, until_us: int) -> tuple[OwnSale, ...]:
    from fractions import Fraction

    rows = store.connection.execute(
        """SELECT trades.at_us, sold.name, qty, price, money.name
           FROM trades JOIN entries ON entries.id = entry_id
           JOIN items AS sold ON sold.id = item_id JOIN items AS money ON money.id = money_id
           WHERE undone_us IS NULL AND trades.kind = 'sale' AND NOT broken
                 AND trades.at_us <= ?1 AND trades.at_us > ?2
           ORDER BY trades.at_us, trades.id""",
        (until_us, until_us - SALES_DAYS * MICROSECONDS_A_DAY),
    )
    return tuple(
        OwnSale(at_us, item, float(Fraction(qty)), float(Fraction(price)), money)
        for at_us, item, qty, price, money in rows
    )
