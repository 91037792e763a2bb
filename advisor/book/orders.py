"""Orders: who wanted what, on which terms, and how it ended; offers that were declined."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, get_args

from advisor.book.entries import DECLINED, ORDER, mark_undone, open_entry
from advisor.book.items import ids_of_names
from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.names import name_key
from advisor.quotes import price_text

Terms = Literal["fixed", "per try", "on success"]
Supplies = Literal["mine", "customer"]
Came = Literal["done", "failed", "broken"]
LISTED = "see makeworth log order --list"
TERMS: tuple[Terms, ...] = get_args(Terms)


@dataclass(frozen=True, slots=True)
class OrderEnd:
    """How an order ended.

    Attributes:
        came: "done", "failed", or "broken": the customer did not keep their word.
        delivered: Pieces handed over.
        tries: Tries paid for; None where the terms do not ask.
        paid: What the customer paid in all, in the order's money.
        fee: What of it was lost to the market.
    """

    at_us: int
    came: Came
    delivered: int
    tries: int | None
    paid: Fraction
    fee: Fraction
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """A customer's request.

    Attributes:
        number: The order's number; 0 before it is written down.
        route: What is worked by.
        terms, price, money: What is paid: for each piece, try or success.
        pieces: How many are wanted.
        supplies: Whose supplies are used up.
        end: How it ended; None while it is open.
    """

    number: int
    at_us: int
    customer: str
    route: str
    terms: Terms
    price: Fraction
    money: str
    pieces: int = 1
    supplies: Supplies = "mine"
    note: str | None = None
    end: OrderEnd | None = None


def add_order(store: Store, order: Order, *, declined: bool = False) -> tuple[int, int]:
    """Write an order down, or an offer that was declined; gives its entry and its number."""
    with store.writing() as connection:
        entry = open_entry(connection, DECLINED if declined else ORDER)
        return entry, add_order_row(connection, entry, order)


def add_order_row(connection: sqlite3.Connection, entry: int, order: Order) -> int:
    """Write an order down as a part of an open entry; gives its number."""
    money = ids_of_names(connection, "items", names=[order.money])[name_key(order.money)]
    customers = ids_of_names(connection, "traders", names=[order.customer])
    row = connection.execute(
        """INSERT INTO orders (entry_id, at_us, customer_id, route, terms, price, money_id,
                               pieces, supplies, note)
           VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id""",
        (
            *(entry, order.at_us, customers[name_key(order.customer)], order.route),
            *(order.terms, price_text(order.price), money, order.pieces, order.supplies),
            order.note,
        ),
    ).fetchone()
    return int(row[0])


def end_order(store: Store, number: int, end: OrderEnd) -> int:
    """Write down how an order ended; gives the entry.

    Raises: BadInput: no such order, one that has ended, an end before its beginning.
    """
    with store.writing() as connection:
        order = find_order(store, number)
        if order.end is not None:
            raise BadInput(f"order {number} has ended: {order.end.came}")
        entry = open_entry(connection, ORDER)
        end_order_row(connection, entry, order, end)
        return entry


def end_order_row(connection: sqlite3.Connection, entry: int, order: Order, end: OrderEnd) -> None:
    """Write down how an order ended as a part of an open entry.

    Raises: BadInput: an end before its beginning.
    """
    if end.at_us < order.at_us:
        raise BadInput(f"order {order.number} had not begun by then", right="give a later --at")
    connection.execute(
        """INSERT INTO order_ends (entry_id, order_id, at_us, came, delivered, tries, paid,
                                   fee, note)
           VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        (
            *(entry, order.number, end.at_us, end.came, end.delivered, end.tries),
            *(price_text(end.paid), price_text(end.fee), end.note),
        ),
    )


def undo_order(store: Store, entry: int) -> str:
    """Take back an order, how it ended, or a declined offer; gives what was taken back in words.

    Raises: BadInput: no such entry, taken back already, or an order that other
        standing entries speak of.
    """
    with store.writing() as connection:
        kind = connection.execute("SELECT kind FROM entries WHERE id = ?", (entry,)).fetchone()
        if kind == (DECLINED,):
            mark_undone(connection, entry, DECLINED)
            row = connection.execute("SELECT id FROM orders WHERE entry_id = ?", (entry,))
            return f"offer {row.fetchone()[0]}, which was declined"
        mark_undone(connection, entry, ORDER)
        rows = connection.execute(
            "SELECT id FROM orders WHERE entry_id = ? ORDER BY id", (entry,)
        ).fetchall()
        if not rows:
            ended = connection.execute(
                "SELECT order_id, came FROM order_ends WHERE entry_id = ?", (entry,)
            ).fetchone()
            return f"the end of order {ended[0]} ({ended[1]})"
        for (number,) in rows:
            _refuse_spoken_of(connection, number)
        return f"order {rows[0][0]}" if len(rows) == 1 else f"{len(rows)} orders"


def _refuse_spoken_of(connection: sqlite3.Connection, number: int) -> None:
    later = connection.execute(
        """SELECT min(entries.id) FROM entries JOIN
               (SELECT entry_id FROM order_ends WHERE order_id = ?1
                UNION ALL SELECT entry_id FROM trades WHERE order_id = ?1)
           ON entry_id = entries.id WHERE undone_us IS NULL""",
        (number,),
    ).fetchone()
    if later[0] is not None:
        raise BadInput(f"entry {later[0]} speaks of order {number}", right="take that back first")


def find_order(store: Store, number: int) -> Order:
    """An order by its number.

    Raises: BadInput: there is none.
    """
    for order in read_orders(store, until_us=2**62, number=number):
        return order
    if _rows(store, DECLINED, 2**62, number):
        raise BadInput(f"{number} is an offer that was declined, not an order", right=LISTED)
    raise BadInput(f"there is no order {number}", right=LISTED)


def read_orders(store: Store, *, until_us: int, number: int | None = None) -> list[Order]:
    """The orders that stand, as known at a moment, in the order of their times."""
    ends = _ends(store, until_us)
    return [_order(row, ends) for row in _rows(store, ORDER, until_us, number)]


def read_declined(store: Store, *, until_us: int) -> list[Order]:
    """The offers that customers declined by a moment, in the order of their times."""
    return [_order(row, {}) for row in _rows(store, DECLINED, until_us, None)]


def _rows(store: Store, kind: str, until_us: int, number: int | None) -> list[tuple[Any, ...]]:
    return store.connection.execute(
        """SELECT orders.id, orders.at_us, traders.name, route, terms, price, items.name, pieces,
                  supplies, orders.note
           FROM orders JOIN entries ON entries.id = entry_id
           JOIN traders ON traders.id = customer_id JOIN items ON items.id = money_id
           WHERE undone_us IS NULL AND orders.at_us <= ?1 AND (?2 IS NULL OR orders.id = ?2)
                 AND kind = ?3
           ORDER BY orders.at_us, orders.id""",
        (until_us, number, kind),
    ).fetchall()


def _order(row: tuple[Any, ...], ends: dict[int, OrderEnd]) -> Order:
    number, at_us, customer, route, terms, price, money, pieces, supplies, note = row
    return Order(
        number,
        at_us,
        customer,
        route,
        terms,
        Fraction(price),
        money,
        pieces=pieces,
        supplies=supplies,
        note=note,
        end=ends.get(number),
    )


def _ends(store: Store, until_us: int) -> dict[int, OrderEnd]:
    rows = store.connection.execute(
        """SELECT order_id, at_us, came, delivered, tries, paid, fee, note
           FROM order_ends JOIN entries ON entries.id = entry_id
           WHERE undone_us IS NULL AND at_us <= ?""",
        (until_us,),
    )
    return {
        order: OrderEnd(at_us, came, delivered, tries, Fraction(paid), Fraction(fee), note)
        for order, at_us, came, delivered, tries, paid, fee, note in rows
    }
