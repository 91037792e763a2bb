"""Orders of customers: taken on, and how they ended."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, get_args

from advisor.book.orders import (
    TERMS,
    Came,
    Order,
    OrderEnd,
    Supplies,
    add_order,
    end_order,
    find_order,
    undo_order,
)
from advisor.errors import BadInput, WrongUse
from advisor.money import read_amount
from advisor.names import did_you_mean, name_key
from advisor.tasks.logged_names import LoggedNames, read_unit_price

if TYPE_CHECKING:
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.workspace import Workspace

MOST = 10_000_000


@dataclass(frozen=True)
class TypedOrder:
    """An order as typed."""

    customer: str
    route: str
    terms: str
    price: str
    pieces: int = 1
    supplies: str = "mine"
    money: str | None = None
    at: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class TypedEnd:
    """The end of an order as typed; None where nothing was said."""

    number: int
    came: Came
    delivered: int | None = None
    tries: int | None = None
    paid: str | None = None
    fee: str | None = None
    at: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class LoggedOrder:
    """What was written down; an order, or an offer that was declined."""

    entry: int
    order: Order
    notes: tuple[str, ...] = ()
    declined: bool = False


def take_order(
    workspace: Workspace, book: RouteBook, typed: TypedOrder, *, declined: bool = False
) -> LoggedOrder:
    """Write down what a customer asked for, and on which terms; or what they declined.

    Raises: BadInput, CannotAnswer: what cannot be meant, or not be valued.
    """
    with workspace.open_book() as store, store.writing():
        names = LoggedNames(workspace, store)
        order = read_order(names, book, typed)
        entry, number = add_order(store, order, declined=declined)
    return LoggedOrder(entry, replace(order, number=number), tuple(names.notes), declined)


def read_order(names: LoggedNames, book: RouteBook, typed: TypedOrder) -> Order:
    """What is typed of an order, with no number yet.

    Raises: BadInput, WrongUse, CannotAnswer: what cannot be meant, or not be valued.
    """
    at_us = names.moment(typed.at)
    terms = _one_of(typed.terms, TERMS, what="terms")
    price, money = read_unit_price(typed.price, typed.money)
    customer = names.trader(typed.customer)
    return Order(
        0,
        at_us,
        customer or "",
        book.named(typed.route),
        terms,  # type: ignore[arg-type]
        price,
        names.money(money, at_us=at_us),
        pieces=_count(typed.pieces, "--pieces", least=1),
        supplies=_one_of(typed.supplies, get_args(Supplies), what="supplies"),  # type: ignore[arg-type]
        note=names.text(typed.note, "note"),
    )


def close_order(workspace: Workspace, typed: TypedEnd) -> LoggedOrder:
    """Write down how an order ended, and what was paid.

    What is paid follows from the terms where nobody says: fixed, the price of each
    piece if it is done; on success, the price of each piece delivered; per try, the
    price of each try. Who did not keep their word paid nothing.

    Raises: BadInput: no such order, one that has ended, a payment that cannot be meant.
    """
    with workspace.open_book() as store, store.writing():
        names = LoggedNames(workspace, store)
        order = find_order(store, typed.number)
        end = read_end(names, order, typed)
        entry = end_order(store, typed.number, end)
    return LoggedOrder(entry, replace(order, end=end), tuple(names.notes))


def read_end(names: LoggedNames, order: Order, typed: TypedEnd) -> OrderEnd:
    """How an order ended, and what was paid by its terms.

    Raises: BadInput, WrongUse: what cannot be meant.
    """
    delivered = _delivered(order, typed)
    paid = _paid(names, order, typed, delivered)
    return OrderEnd(
        names.moment(typed.at),
        typed.came,
        delivered,
        None if typed.tries is None else _count(typed.tries, "--tries", least=0),
        paid,
        names.fee(typed.fee, paid, order.money),
        names.text(typed.note, "note"),
    )


def take_order_back(workspace: Workspace, entry: int) -> str:
    """Take an order, or how it ended, back; gives what that was in words."""
    with workspace.open_book() as store:
        return undo_order(store, entry)


def _delivered(order: Order, typed: TypedEnd) -> int:
    if typed.delivered is None:
        return order.pieces if typed.came == "done" else 0
    if typed.delivered > order.pieces:
        raise BadInput(f"--delivered {typed.delivered}: order {order.number} is for {order.pieces}")
    return _count(typed.delivered, "--delivered", least=0)


def _paid(names: LoggedNames, order: Order, typed: TypedEnd, delivered: int) -> Fraction:
    if typed.paid is not None:
        paid, named = read_amount(typed.paid)
        if named is not None and names.known.get(name_key(named)) != order.money:
            raise BadInput(f"--paid is in {named!r}, the order in {order.money!r}")
        return paid
    if typed.came == "broken":
        return Fraction(0)
    if order.terms == "per try":
        if typed.tries is None:
            raise BadInput(
                f"order {order.number} is paid per try", right="give --tries N, or --paid"
            )
        return order.price * _count(typed.tries, "--tries", least=0)
    return order.price * delivered


def _count(count: int, option: str, *, least: int) -> int:
    if not least <= count <= MOST:
        raise WrongUse(f"{option} {count} is out of range", right=f"from {least} to {MOST}")
    return count


def _one_of(typed: str, known: tuple[str, ...], *, what: str) -> str:
    for each in known:
        if name_key(typed) == each:
            return each
    right = did_you_mean(typed, known) or "known are " + ", ".join(known)
    raise WrongUse(f"{what} {typed!r} are not known", right=right)
