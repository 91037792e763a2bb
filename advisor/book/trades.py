"""Trades: what was bought and what was sold, at exact prices."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal, NamedTuple

from advisor.book.entries import TRADE, feed_prices, mark_undone, open_entry, take_back_deals
from advisor.book.items import ids_of_names
from advisor.book.store import Store
from advisor.names import name_key
from advisor.quotes import Quote, price_text

TradeKind = Literal["buy", "sale"]
FEW = 10


class Trade(NamedTuple):
    """One purchase or sale; a named tuple, for there may be many.

    Attributes:
        qty: Units, > 0.
        price: Of one unit, in `money`, before any fee.
        fee: What a sale lost to the market, in `money`, all units together.
        trader: The other side.
        order, route, piece: What it was for.
        broken: The other side did not keep its word: paid and nothing came, or handed
            over and not paid.
    """

    at_us: int
    kind: TradeKind
    item: str
    qty: Fraction
    price: Fraction
    money: str
    fee: Fraction = Fraction(0)
    trader: str | None = None
    order: int | None = None
    route: str | None = None
    piece: str | None = None
    broken: bool = False
    note: str | None = None

    def deal(self) -> Quote | None:
        """The price that it shows; none where the trade came to nothing."""
        if self.broken:
            return None
        whole = self.qty.denominator == 1
        return Quote(
            self.at_us,
            self.item,
            self.price,
            self.money,
            side="deal",
            qty=int(self.qty) if whole else None,
            trader=self.trader,
            source="log",
        )


@dataclass(frozen=True, slots=True)
class TradeEntry:
    """Trades written down together.

    Attributes:
        items: Names of what was traded, with commas between.
        own: Its trades, in the order of their times; none where they are more than a few.
    """

    entry: int
    written_us: int
    file: str
    trades: int
    items: str
    undone_us: int | None
    own: tuple[Trade, ...] = ()


def add_trades(
    store: Store, trades: Sequence[Trade], *, file: str = "", content_hash: bytes | None = None
) -> tuple[int, int]:
    """Write trades down as one entry, and give their deals to the price book: all or none.

    Returns: The entry's number, and how many deals are new to the price book.
    """
    with store.writing() as connection:
        entry = open_entry(connection, TRADE, file=file, content_hash=content_hash)
        moneys_and_items = {name for each in trades for name in (each.item, each.money)}
        pieces = {each.piece for each in trades if each.piece is not None}
        items = ids_of_names(connection, "items", names=sorted(moneys_and_items | pieces))
        traders = ids_of_names(
            connection,
            "traders",
            names=sorted({each.trader for each in trades if each.trader is not None}),
        )
        connection.executemany(
            """INSERT INTO trades (entry_id, at_us, kind, item_id, qty, price, money_id, fee,
                                   trader_id, order_id, route, piece_id, broken, note)
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            (_row(each, entry=entry, items=items, traders=traders) for each in trades),
        )
        deals = [deal for each in trades if (deal := each.deal()) is not None]
        return entry, feed_prices(connection, entry, deals, file=file)


def _row(
    trade: Trade, *, entry: int, items: dict[str, int], traders: dict[str, int]
) -> tuple[Any, ...]:
    return (
        entry,
        trade.at_us,
        trade.kind,
        items[name_key(trade.item)],
        price_text(trade.qty),
        price_text(trade.price),
        items[name_key(trade.money)],
        price_text(trade.fee),
        None if trade.trader is None else traders[name_key(trade.trader)],
        trade.order,
        trade.route,
        None if trade.piece is None else items[name_key(trade.piece)],
        int(trade.broken),
        trade.note,
    )


def undo_trades(store: Store, entry: int) -> int:
    """Take an entry of trades back whole, its deals out of the price book with it.

    Returns: How many trades it held.
    Raises: BadInput: no such entry, or taken back already.
    """
    with store.writing() as connection:
        mark_undone(connection, entry, TRADE)
        own = _trades(connection, "entry_id = ?", entry)
        deals = [deal for each in own if (deal := each.deal()) is not None]
        take_back_deals(store, entry, deals)
        return len(own)


def read_trades(store: Store, *, until_us: int) -> list[Trade]:
    """Every trade that stands, as known at a moment, in the order of their times."""
    return _trades(store.connection, "undone_us IS NULL AND trades.at_us <= ?", until_us)


def count_deals_of_traders(store: Store, *, until_us: int) -> dict[int, tuple[int, int]]:
    """How many purchases each trader kept and failed to deliver, by the trader's row id."""
    rows = store.connection.execute(
        """SELECT trader_id, count(*) - sum(broken), sum(broken)
           FROM trades JOIN entries ON entries.id = entry_id
           WHERE undone_us IS NULL AND trades.at_us <= ? AND trades.kind = 'buy'
             AND trader_id IS NOT NULL
           GROUP BY trader_id""",
        (until_us,),
    )
    return {int(trader): (int(kept), int(failed)) for trader, kept, failed in rows}


def list_trade_entries(store: Store, *, newest: int = 20) -> list[TradeEntry]:
    """The newest entries of trades, newest first, the ones taken back among them."""
    rows = store.connection.execute(
        """SELECT entries.id, written_us, file, count(*), group_concat(DISTINCT items.name),
                  undone_us
           FROM entries JOIN trades ON entry_id = entries.id JOIN items ON items.id = item_id
           GROUP BY entries.id ORDER BY entries.id DESC LIMIT ?""",
        (newest,),
    ).fetchall()
    entries = [TradeEntry(*row) for row in rows]
    return [
        replace(each, own=tuple(_trades(store.connection, "entry_id = ?", each.entry)))
        if each.trades <= FEW
        else each
        for each in entries
    ]


_exact = lru_cache(maxsize=100_000)(Fraction)


def _trades(connection: sqlite3.Connection, condition: str, value: int) -> list[Trade]:
    items = dict(connection.execute("SELECT id, name FROM items"))
    traders = dict(connection.execute("SELECT id, name FROM traders"))
    rows = connection.execute(
        f"""SELECT trades.at_us, trades.kind, item_id, qty, price, money_id, fee, trader_id,
                   order_id, route, piece_id, broken, note
            FROM trades JOIN entries ON entries.id = entry_id
            WHERE {condition} ORDER BY trades.at_us, trades.id""",  # noqa: S608
        (value,),
    )
    return [
        Trade(
            row[0],
            row[1],
            items[row[2]],
            _exact(row[3]),
            _exact(row[4]),
            items[row[5]],
            _exact(row[6]),
            traders.get(row[7]),
            row[8],
            row[9],
            items.get(row[10]),
            bool(row[11]),
            row[12],
        )
        for row in rows
    ]
