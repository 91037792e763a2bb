"""Orders of a CSV file, written down all or none: taken on, declined, and how they ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from advisor.book.entries import ORDER, entry_of_file, open_entry
from advisor.book.orders import Came, Order, add_order_row, end_order_row
from advisor.errors import BadInput, CannotAnswer, WrongUse
from advisor.tasks.logged_files import read_bytes, read_logged_rows
from advisor.tasks.logged_names import LoggedNames
from advisor.tasks.ordering import TypedEnd, TypedOrder, read_end, read_order

if TYPE_CHECKING:
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.workspace import Workspace

NEEDED = ("customer", "route", "terms", "price")
OF_END = ("ended", "came", "delivered", "tries", "paid", "fee")
COLUMNS = ("at", *NEEDED, "money", "pieces", "supplies", *OF_END, "note")


@dataclass(frozen=True)
class LoggedOrders:
    """What was written down.

    Attributes:
        entry: Its number; None where the same file had come in before.
        known: The entry that file came in by.
    """

    entry: int | None
    orders: tuple[Order, ...]
    known: int | None = None
    notes: tuple[str, ...] = ()


def log_orders_file(workspace: Workspace, book: RouteBook, file: Path) -> LoggedOrders:
    """Write down the orders of a CSV file; the same file twice adds nothing.

    A row with `came` has ended that way, at `ended` (else at once); one without is open.

    Raises: BadInput, CannotAnswer: what cannot be meant, with file and line.
    """
    from hashlib import blake2b

    data = read_bytes(file)
    content_hash = blake2b(data, digest_size=16, person=b"orders").digest()
    with workspace.open_book() as store, store.writing() as connection:
        known = entry_of_file(connection, ORDER, content_hash)
        if known is not None:
            return LoggedOrders(None, (), known=known)
        names = LoggedNames(workspace, store)
        orders = []
        entry = open_entry(connection, ORDER, file=file.name, content_hash=content_hash)
        for line, row in read_logged_rows(data, file, columns=COLUMNS, needed=NEEDED):
            try:
                order = _read_row(names, book, row)
                number = add_order_row(connection, entry, order)
                if order.end is not None:
                    end_order_row(connection, entry, replace(order, number=number), order.end)
            except (BadInput, CannotAnswer, WrongUse) as fault:
                what = fault.what.removeprefix("--")
                raise BadInput(what, right=fault.right, file=file, line=line) from None
            orders.append(replace(order, number=number))
        if not orders:
            raise BadInput("no order stands in it", file=file, right="write a line for each")
    return LoggedOrders(entry, tuple(orders), notes=tuple(dict.fromkeys(names.notes)))


def _read_row(names: LoggedNames, book: RouteBook, row: Mapping[str, str]) -> Order:
    said = {name: cell for name, cell in row.items() if cell}
    for name in NEEDED:
        if name not in said:
            raise BadInput(f"the column {name!r} is empty")
    came = said.get("came")
    typed = TypedOrder(
        said["customer"],
        said["route"],
        said["terms"],
        said["price"],
        pieces=_count(said.get("pieces", "1"), "pieces"),
        supplies=said.get("supplies", "mine"),
        money=said.get("money"),
        at=said.get("at"),
        note=said.get("note"),
    )
    order = read_order(names, book, typed)
    if came is None:
        unended = next((name for name in OF_END if name in said), None)
        if unended is not None:
            raise BadInput(f"{unended!r} is said of an order that has not ended: came is empty")
        return order
    if came not in get_args(Came):
        raise BadInput(f"{came!r} is no end of an order", right="done, failed or broken")
    end = TypedEnd(
        0,
        came,  # type: ignore[arg-type]
        delivered=None if "delivered" not in said else _count(said["delivered"], "delivered"),
        tries=None if "tries" not in said else _count(said["tries"], "tries"),
        paid=said.get("paid"),
        fee=said.get("fee"),
        at=said.get("ended", said.get("at")),
    )
    return replace(order, end=read_end(names, order, end))


def _count(typed: str, column: str) -> int:
    if not typed.isascii() or not typed.isdigit() or len(typed) > 9:
        raise BadInput(f"{typed!r} in the column {column!r} is no count", right="such as 1")
    return int(typed)
