"""`makeworth log order`: what customers asked for, and how it ended."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_args

import typer

from advisor.cli.log_trades import refuse_mixed
from advisor.cli.options import JsonOption, WorkspaceOption, warn, write_json
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.book.orders import Order
    from advisor.tasks.ordering import LoggedOrder
    from advisor.tasks.workspace import Workspace

EXAMPLE = 'makeworth log order new "Wren" storm-lantern "per try" 2.5'
OF_NEW = ("--pieces", "--supplies", "--money")
OFFERED = ("new", "declined")
NAMED_AT_MOST = 10
OF_END = ("--delivered", "--tries", "--paid", "--fee")


def log_order(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="new|declined CUSTOMER ROUTE TERMS PRICE | done|failed|broken N",
            help="TERMS: fixed, per try, on success. N: the order's number.",
        ),
    ] = None,
    *,
    pieces: Annotated[
        int | None, typer.Option("--pieces", metavar="N", help="new: so many are wanted; 1.")
    ] = None,
    supplies: Annotated[
        str | None,
        typer.Option("--supplies", metavar="mine|customer", help="new: who brings them; mine."),
    ] = None,
    money: Annotated[
        str | None, typer.Option("--money", metavar="ITEM", help="new: the money of PRICE.")
    ] = None,
    delivered: Annotated[
        int | None, typer.Option("--delivered", metavar="N", help="Pieces handed over.")
    ] = None,
    tries: Annotated[
        int | None, typer.Option("--tries", metavar="N", help="Tries paid for, per try.")
    ] = None,
    paid: Annotated[
        str | None,
        typer.Option("--paid", metavar="MONEY", help="In all, where the terms do not say it."),
    ] = None,
    fee: Annotated[
        str | None,
        typer.Option("--fee", metavar="FEE", help='Of the payment: "5 %" or an amount.'),
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="TIME", help="When; now.")] = None,
    note: Annotated[
        str | None, typer.Option("--note", metavar="TEXT", help="Anything to remember.")
    ] = None,
    file: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE",
            help="Many: columns at,customer,route,terms,price,money,pieces,supplies,ended,came,"
            "delivered,tries,paid,fee,note.",
        ),
    ] = None,
    undo: Annotated[
        int | None, typer.Option("--undo", metavar="ENTRY", help="Take an entry back.")
    ] = None,
    show_list: Annotated[
        bool, typer.Option("--list", help="The offers declined and the orders, open ones last.")
    ] = False,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """An order, from the request to its end.

    While it is open, what is logged on its route is used for it; with the customer's
    supplies it costs nothing. broken: the customer did not keep their word. declined: an
    offer that was not taken; from it the advice learns which price customers accept.
    """
    from advisor.tasks.workspace import open_workspace

    words = words or []
    of_new = {"--pieces": pieces, "--supplies": supplies, "--money": money}
    of_end = {"--delivered": delivered, "--tries": tries, "--paid": paid, "--fee": fee}
    said = of_new | of_end | {"--at": at, "--note": note}
    given = [name for name, value in said.items() if value is not None]
    asked = {"--csv": file is not None, "--undo": undo is not None, "--list": show_list}
    ways = [name for name, is_asked in asked.items() if is_asked]
    refuse_mixed(words, given, ways)
    if not ways:
        _refuse_wrong(words, given)
    place = open_workspace(workspace)
    if undo is not None:
        _undo(place, undo, as_json=as_json)
    elif show_list:
        _show_list(place, as_json=as_json)
    elif file is not None:
        _take_file(place, file, as_json=as_json)
    elif words[0] in OFFERED:
        _take(place, words, of_new, at=at, note=note, as_json=as_json)
    else:
        _close(place, words, of_end, at=at, note=note, as_json=as_json)


def _refuse_wrong(words: list[str], given: list[str]) -> None:
    from advisor.book.orders import Came

    verbs = (*OFFERED, *get_args(Came))
    if not words or words[0] not in verbs:
        raise WrongUse(
            "say what of the order: new, declined, done, failed or broken", right=EXAMPLE
        )
    verb = words[0]
    if len(words) != (5 if verb in OFFERED else 2):
        right = EXAMPLE.replace("new", verb) if verb in OFFERED else f"makeworth log order {verb} N"
        raise WrongUse(f"that is not what {verb!r} needs", right=right)
    for name in given:
        if name in (OF_END if verb in OFFERED else OF_NEW):
            raise WrongUse(f"{name} says nothing to {verb!r}", right="leave it out")


def _take(
    place: Workspace,
    words: list[str],
    said: dict[str, Any],
    *,
    at: str | None,
    note: str | None,
    as_json: bool,
) -> None:
    from advisor.tasks.ordering import TypedOrder, take_order
    from advisor.tasks.routing import read_routes

    verb, customer, route, terms, price = words
    typed = TypedOrder(
        customer,
        route,
        terms,
        price,
        pieces=1 if said["--pieces"] is None else said["--pieces"],
        supplies=said["--supplies"] or "mine",
        money=said["--money"],
        at=at,
        note=note,
    )
    declined = verb == "declined"
    _tell(take_order(place, read_routes(place), typed, declined=declined), as_json=as_json)


def _take_file(place: Workspace, file: Path, *, as_json: bool) -> None:
    from advisor.cli.screen import show
    from advisor.figures import counted
    from advisor.tasks.orders_file import log_orders_file
    from advisor.tasks.routing import read_routes

    logged = log_orders_file(place, read_routes(place), file)
    for each in logged.notes:
        warn(each)
    if as_json:
        orders = [_order_json(order) for order in logged.orders]
        write_json({"entry": logged.entry, "known": logged.known, "orders": orders})
    elif logged.entry is None:
        show(f"this file is entry {logged.known} already; nothing added")
    else:
        for order in logged.orders[:NAMED_AT_MOST]:
            show(_say_order(order))
        if len(logged.orders) > NAMED_AT_MOST:
            show(f"and {len(logged.orders) - NAMED_AT_MOST} more")
        show(
            f"{counted(len(logged.orders), 'order')} written down; take back: "
            f"makeworth log order --undo {logged.entry}"
        )


def _close(
    place: Workspace,
    words: list[str],
    said: dict[str, Any],
    *,
    at: str | None,
    note: str | None,
    as_json: bool,
) -> None:
    from advisor.tasks.ordering import TypedEnd, close_order

    came, number = words
    if not number.isascii() or not number.isdigit() or len(number) > 15:
        raise WrongUse(
            f"{number!r} is no number of an order", right=f"makeworth log order {came} 1"
        )
    typed = TypedEnd(
        int(number),
        came,  # type: ignore[arg-type]
        delivered=said["--delivered"],
        tries=said["--tries"],
        paid=said["--paid"],
        fee=said["--fee"],
        at=at,
        note=note,
    )
    _tell(close_order(place, typed), as_json=as_json)


def _tell(logged: LoggedOrder, *, as_json: bool) -> None:
    from advisor.cli.screen import show

    for each in logged.notes:
        warn(each)
    if as_json:
        order = _order_json(logged.order, declined=logged.declined)
        write_json({"entry": logged.entry, "order": order})
        return
    show(_say_order(logged.order, declined=logged.declined))
    show(f"written down; take back: makeworth log order --undo {logged.entry}")


def _say_order(order: Order, *, declined: bool = False) -> str:
    from advisor.quotes import price_text

    what = f"offer {order.number}, declined by" if declined else f"order {order.number} of"
    said = f"{what} {order.customer}: {order.pieces} by {order.route}"
    said += f", {order.terms} {price_text(order.price)} {order.money}"
    said += ", customer's supplies" if order.supplies == "customer" else ""
    if order.end is None:
        return said
    end = order.end
    fee = f", {price_text(end.fee)} of it fee" if end.fee else ""
    return f"{said}; {end.came}, paid {price_text(end.paid)}{fee}"


def _order_json(order: Order, *, declined: bool = False) -> dict[str, Any]:
    from advisor.quotes import price_text
    from advisor.times import us_to_rfc3339

    end = order.end
    return {
        "order": order.number,
        "at": us_to_rfc3339(order.at_us),
        "customer": order.customer,
        "route": order.route,
        "terms": order.terms,
        "price": price_text(order.price),
        "money": order.money,
        "pieces": order.pieces,
        "supplies": order.supplies,
        "note": order.note,
        "declined": declined,
        "end": None
        if end is None
        else {
            "at": us_to_rfc3339(end.at_us),
            "came": end.came,
            "delivered": end.delivered,
            "tries": end.tries,
            "paid": price_text(end.paid),
            "fee": price_text(end.fee),
            "note": end.note,
        },
    }


def _undo(place: Workspace, entry: int, *, as_json: bool) -> None:
    from advisor.cli.screen import show
    from advisor.tasks.ordering import take_order_back

    said = take_order_back(place, entry)
    if as_json:
        write_json({"undone": entry, "what": said})
    else:
        show(f"taken back: {said}")


def _show_list(place: Workspace, *, as_json: bool) -> None:
    from advisor.book.orders import read_declined, read_orders
    from advisor.cli.price_views import moment
    from advisor.cli.screen import show, show_table, unbroken
    from advisor.quotes import price_text

    with place.open_book(read_only=True) as store:
        orders = read_orders(store, until_us=2**62)
        declined = read_declined(store, until_us=2**62)
    orders.sort(key=lambda order: order.end is None)
    listed = [(each, True) for each in declined] + [(each, False) for each in orders]
    if as_json:
        write_json([_order_json(each, declined=gone) for each, gone in listed])
    elif not listed:
        show("no orders are logged yet")
    else:
        rows = [
            [
                str(each.number),
                unbroken(moment(each.at_us, place.settings.timezone)),
                each.customer,
                each.route,
                f"{each.terms} {price_text(each.price)} {each.money}",
                str(each.pieces),
                "declined" if gone else "open" if each.end is None else each.end.came,
            ]
            for each, gone in listed
        ]
        show_table(
            ["order", "taken", "customer", "route", "terms", "pieces", ""], rows, right="rllllrl"
        )
