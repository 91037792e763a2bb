"""Every quote of the book in the order it came in, each checked against its own fingerprint."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from fractions import Fraction
from typing import Any, NamedTuple

from advisor.book.faults import damaged
from advisor.book.store import Store
from advisor.quotes import SIDES, fingerprint, fingerprint_text

# Prices are compared with their own text to this share: two ways of rounding apart.
PRICE_SLACK = 1e-12

QUOTE_COLUMNS = (
    "id, item_id, at_us, price, price_value, money_id, side, qty, trader_id, source, note, "
    "fingerprint"
)


class WholeQuote(NamedTuple):
    """A quote with all that the user gave."""

    at_us: int
    item: str
    price: str
    money: str
    side: str
    qty: int | None
    trader: str | None
    source: str | None
    note: str | None


def every_quote(store: Store) -> Iterator[WholeQuote]:
    """Every quote in the order it came in, streamed.

    Raises: BookFault: a quote is not what was once written.
    """
    names = NamesById.of(store.connection)
    for row in store.connection.execute(f"SELECT {QUOTE_COLUMNS} FROM quotes ORDER BY id"):  # noqa: S608
        quote = sound_quote(row, names)
        if quote is None:
            raise damaged(store.path, f"quote {row[0]} is not what was once written")
        yield quote


class NamesById(NamedTuple):
    """Name and key of each item and trader, by row id."""

    items: dict[int, tuple[str, str]]
    traders: dict[int | None, tuple[str | None, str | None]]

    @staticmethod
    def of(connection: sqlite3.Connection) -> NamesById:
        """Read them from the book."""
        items = connection.execute("SELECT id, name, key FROM items").fetchall()
        traders = connection.execute("SELECT id, name, key FROM traders").fetchall()
        return NamesById.from_rows(items, traders)

    @staticmethod
    def from_rows(
        items: list[tuple[int, str, str]], traders: list[tuple[int, str, str]]
    ) -> NamesById:
        """From (id, name, key) rows."""
        return NamesById(
            {row_id: (name, key) for row_id, name, key in items},
            {None: (None, None)} | {row_id: (name, key) for row_id, name, key in traders},
        )


def sound_quote(row: tuple[Any, ...], names: NamesById) -> WholeQuote | None:
    """The quote of a row of QUOTE_COLUMNS; None if the row is not what was once written."""
    _, item_id, at_us, price, value, money_id, side, qty, trader_id, source, note, mark = row
    try:
        item, item_key = names.items[item_id]
        money, money_key = names.items[money_id]
        trader, trader_key = names.traders[trader_id]
        text = fingerprint_text(
            at_us=at_us,
            item_key=item_key,
            price=price,
            money_key=money_key,
            side=SIDES[side],
            qty=qty,
            trader_key=trader_key,
        )
        if fingerprint(text) != mark or abs(price_value(price) / value - 1) > PRICE_SLACK:
            return None
    except (KeyError, IndexError, TypeError, ValueError, ArithmeticError):
        return None
    return WholeQuote(at_us, item, price, money, SIDES[side], qty, trader, source, note)


def price_value(price: str) -> float:
    """The number that a canonical price text says, rounded once."""
    return float(Fraction(price)) if "/" in price else float(price)
