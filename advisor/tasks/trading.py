"""Writes down what was bought and sold, typed or from a file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.book.entries import TRADE, entry_of_file
from advisor.book.orders import find_order
from advisor.book.trades import Trade, TradeKind, add_trades, undo_trades
from advisor.errors import BadInput
from advisor.names import name_key
from advisor.tasks.logged_files import read_bytes, read_logged_rows
from advisor.tasks.logged_names import LoggedNames, read_unit_price, read_units

if TYPE_CHECKING:
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.workspace import Workspace

COLUMNS = ("at", "item", "qty", "price", "money", "trader", "fee", "order", "route", "piece")
MORE_COLUMNS = ("note",)
NEEDED = ("item", "qty", "price")


@dataclass(frozen=True)
class TypedTrade:
    """One trade as typed; None where nothing was said."""

    kind: TradeKind
    item: str
    qty: str
    price: str
    money: str | None = None
    trader: str | None = None
    at: str | None = None
    fee: str | None = None
    order: str | None = None
    route: str | None = None
    piece: str | None = None
    note: str | None = None
    broken: bool = False


@dataclass(frozen=True)
class LoggedTrades:
    """What was written down.

    Attributes:
        entry: Its number; None where the same file had come in before.
        known: The entry that file came in by.
        deals: How many deals are new to the price book.
    """

    entry: int | None
    trades: tuple[Trade, ...]
    known: int | None = None
    deals: int = 0
    notes: tuple[str, ...] = ()


def log_trade(
    workspace: Workspace, book: RouteBook, typed: TypedTrade, *, allow_new: bool = False
) -> LoggedTrades:
    """Write one trade down, and its price into the price book.

    Raises: BadInput, CannotAnswer: what cannot be meant, or not be valued.
    """
    with workspace.open_book() as store:
        names = LoggedNames(workspace, store, allow_new=allow_new)
        trade = _read_trade(names, book, typed)
    notes = list(names.notes)
    if trade.kind == "sale":
        from advisor.tasks.stock_by_log import note_short_stock

        short = note_short_stock(workspace, book, trade)
        notes += [] if short is None else [short]
    with workspace.open_book() as store:
        entry, deals = add_trades(store, [trade])
    return LoggedTrades(entry, (trade,), deals=deals, notes=tuple(notes))


def log_trades_file(
    workspace: Workspace,
    book: RouteBook,
    file: Path,
    *,
    kind: TradeKind,
    allow_new: bool = False,
) -> LoggedTrades:
    """Write down the trades of a CSV file, all or none; the same file twice adds nothing.

    Raises: BadInput: what cannot be read, with file, line and column.
    """
    from hashlib import blake2b

    data = read_bytes(file)
    # One file may hold what was bought and another time what was sold.
    content_hash = blake2b(data, digest_size=16, person=kind.encode()).digest()
    with workspace.open_book() as store, store.writing() as connection:
        known = entry_of_file(connection, TRADE, content_hash)
        if known is not None:
            return LoggedTrades(None, (), known=known)
        names = LoggedNames(workspace, store, allow_new=allow_new)
        trades = tuple(_read_rows(names, book, data, file, kind))
        if not trades:
            raise BadInput("no trade stands in it", file=file, right="write a line for each")
        entry, deals = add_trades(store, trades, file=file.name, content_hash=content_hash)
    return LoggedTrades(entry, trades, deals=deals, notes=tuple(dict.fromkeys(names.notes)))


def take_trades_back(workspace: Workspace, entry: int) -> int:
    """Take an entry of trades back whole, with its deals; gives how many trades it held."""
    with workspace.open_book() as store:
        return undo_trades(store, entry)


def _read_trade(names: LoggedNames, book: RouteBook, typed: TypedTrade) -> Trade:
    at_us = names.moment(typed.at)
    item = names.item(typed.item)
    qty = read_units(typed.qty)
    price, money_named = read_unit_price(typed.price, typed.money)
    money = names.money(money_named, at_us=at_us)
    if name_key(item) == name_key(money):
        raise BadInput(f"{item} is priced in itself", right="say in which other: --money ITEM")
    order = None if typed.order is None else _read_order(names, typed.order)
    is_sale = typed.kind == "sale"
    return Trade(
        at_us,
        typed.kind,
        item,
        qty,
        price,
        money,
        fee=names.fee(typed.fee, qty * price, money) if is_sale else Fraction(0),
        trader=names.trader(typed.trader),
        order=order,
        route=None if typed.route is None else book.named(typed.route),
        piece=None if typed.piece is None else names.item(typed.piece),
        broken=typed.broken,
        note=names.text(typed.note, "note"),
    )


def _read_order(names: LoggedNames, typed: str) -> int:
    if not typed.isascii() or not typed.isdigit() or len(typed) > 15:
        raise BadInput(f"{typed!r} is no number of an order", right="makeworth log order --list")
    return find_order(names.store, int(typed)).number


def _read_rows(
    names: LoggedNames, book: RouteBook, data: bytes, file: Path, kind: TradeKind
) -> Iterator[Trade]:
    columns = [*COLUMNS, *MORE_COLUMNS]
    if kind == "buy":
        columns.remove("fee")
    for line, row in read_logged_rows(data, file, columns=columns, needed=NEEDED):
        yield _read_row(names, book, row, kind=kind, file=file, line=line)


def _read_row(
    names: LoggedNames,
    book: RouteBook,
    row: Mapping[str, str],
    *,
    kind: TradeKind,
    file: Path,
    line: int,
) -> Trade:
    said = {name: cell for name, cell in row.items() if cell and name not in NEEDED}
    try:
        typed = TypedTrade(kind, row["item"], row["qty"], row["price"], **said)  # type: ignore[arg-type]
        return _read_trade(names, book, typed)
    except BadInput as fault:
        raise BadInput(fault.what, right=fault.right, file=file, line=line) from None
