"""Reads quotes back: an item's history as arrays, or its rows in full."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.book.items import id_of_item
from advisor.book.store import Store
from advisor.errors import BookFault
from advisor.quotes import SIDES

ALL_TIME = 2**63 - 1


@dataclass(frozen=True, slots=True)
class StoredSeries:
    """Everything the book knows of one item's price, oldest first.

    Attributes:
        item: In the book's spelling.
        ids: Row ids of the quotes, int64, shape (quotes,); so all arrays.
        at_us: Microseconds UTC, int64.
        price: Price of one unit in its own money, float64, > 0.
        money_names: Names that `money` points into.
        money: Which of `money_names`, int64.
        side: Which of `quotes.SIDES`: 0 ask, 1 bid, 2 deal; int64.
        qty: Units, float64, nan where not said.
        trader: A number that stands for the trader in the whole book, int64; -1 unknown.
    """

    item: str
    ids: NDArray[np.int64]
    at_us: NDArray[np.int64]
    price: NDArray[np.float64]
    money_names: tuple[str, ...]
    money: NDArray[np.int64]
    side: NDArray[np.int64]
    qty: NDArray[np.float64]
    trader: NDArray[np.int64]


def read_series(
    store: Store, items: Iterable[str] | None = None, *, until_us: int | None = None
) -> dict[str, StoredSeries]:
    """The history of each item, by the book's spelling of its name.

    Items without a quote are left out.

    Args:
        items: Any spelling of the same key; None for all.
        until_us: Leave out what was seen later than this.
    """
    until = ALL_TIME if until_us is None else until_us
    with store.reading() as connection:
        names = dict(connection.execute("SELECT id, name FROM items ORDER BY key"))
        wanted = names if items is None else [id_of_item(store, name) for name in items]
        series = {}
        for item_id in wanted:
            if item_id is None:
                continue
            rows = connection.execute(_HISTORY, (item_id, until)).fetchall()
            if rows:
                series[names[item_id]] = _series(names[item_id], rows, names)
    return series


_HISTORY = """
    SELECT id, at_us, price_value, money_id, side, qty, ifnull(trader_id, -1)
    FROM quotes
    WHERE item_id = ? AND at_us <= ?
    ORDER BY at_us, id"""


def _series(item: str, rows: list[tuple[Any, ...]], names: dict[int, str]) -> StoredSeries:
    ids, at_us, price, money_ids, side, qty, trader = zip(*rows, strict=True)
    codes = {money: code for code, money in enumerate(dict.fromkeys(money_ids))}
    if not names.keys() >= codes.keys():
        raise BookFault(
            f"the book is damaged: a quote of {item!r} is in a money that it does not hold",
            right="save what can be read: makeworth export DIR, then import DIR elsewhere",
        )
    return StoredSeries(
        item=item,
        ids=np.array(ids, dtype=np.int64),
        at_us=np.array(at_us, dtype=np.int64),
        price=np.array(price, dtype=np.float64),
        money_names=tuple(names[each] for each in codes),
        money=np.array([codes[each] for each in money_ids], dtype=np.int64),
        side=np.array(side, dtype=np.int64),
        qty=np.array(qty, dtype=np.float64),
        trader=np.array(trader, dtype=np.int64),
    )


@dataclass(frozen=True, slots=True)
class QuoteRow:
    """One quote in full, as the book holds it."""

    id: int
    at_us: int
    item: str
    price: str
    price_value: float
    money: str
    side: str
    qty: int | None
    trader: str | None
    source: str | None
    note: str | None
    batch: int
    ruling: str | None


_ROWS = """
    SELECT quotes.id, quotes.at_us, items.name, price, price_value, moneys.name, side, qty,
           traders.name, source, note, batch_id, verdict
    FROM quotes
    JOIN items ON items.id = item_id
    JOIN items AS moneys ON moneys.id = money_id
    LEFT JOIN traders ON traders.id = trader_id
    LEFT JOIN rulings USING (fingerprint)
    WHERE item_id = ? AND quotes.at_us <= ?
    ORDER BY quotes.at_us, quotes.id"""


def quote_rows(store: Store, item: str, *, until_us: int | None = None) -> list[QuoteRow]:
    """Every quote of one item in full, oldest first; empty when the book has none."""
    item_id = id_of_item(store, item)
    until = ALL_TIME if until_us is None else until_us
    rows = store.connection.execute(_ROWS, (item_id, until))
    return [QuoteRow(*_with_side(row)) for row in rows]


def _with_side(row: tuple[Any, ...]) -> tuple[Any, ...]:
    return (*row[:6], SIDES[row[6]], *row[7:])
