"""`makeworth log buy` and `log sale`: what was bought and sold."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from advisor.cli.options import JsonOption, WorkspaceOption, warn, write_json
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.book.trades import Trade, TradeEntry, TradeKind
    from advisor.tasks.trading import LoggedTrades
    from advisor.tasks.workspace import Workspace

Words = Annotated[
    list[str] | None,
    typer.Argument(metavar="ITEM QTY PRICE", help="What, how many, the price of one."),
]
Money = Annotated[
    str | None,
    typer.Option("--money", metavar="ITEM", help="The money of a price that names none."),
]
Trader = Annotated[
    str | None, typer.Option("--trader", metavar="NAME", help="Whom one traded with.")
]
At = Annotated[str | None, typer.Option("--at", metavar="TIME", help="When; now.")]
Note = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Anything to remember.")]
Order = Annotated[
    str | None, typer.Option("--order", metavar="N", help="For this order of a customer.")
]
RouteName = Annotated[str | None, typer.Option("--route", metavar="ROUTE", help="For this route.")]
Piece = Annotated[str | None, typer.Option("--piece", metavar="ITEM", help="For this piece.")]
Broken = Annotated[bool, typer.Option("--broken", help="The other side did not keep their word.")]
Csv = Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Many: one a line.")]
Undo = Annotated[
    int | None, typer.Option("--undo", metavar="ENTRY", help="Take an entry back whole.")
]
ShowList = Annotated[bool, typer.Option("--list", help="The newest entries.")]
New = Annotated[bool, typer.Option("--new", help="Names near a known one are meant as they are.")]


def log_buy(
    words: Words = None,
    *,
    money: Money = None,
    trader: Trader = None,
    at: At = None,
    note: Note = None,
    order: Order = None,
    route: RouteName = None,
    piece: Piece = None,
    broken: Broken = False,
    new: New = False,
    file: Csv = None,
    undo: Undo = None,
    show_list: ShowList = False,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What was bought: it lies in stock at its cost, and its price counts as a deal.

    With --order, --route or --piece it is used there first. --broken: it was paid
    for and never came.
    """
    details = {"money": money, "trader": trader, "at": at, "note": note}
    details |= {"order": order, "route": route, "piece": piece}
    _log("buy", words or [], details, broken=broken, new=new, file=file, undo=undo,
         show_list=show_list, workspace=workspace, as_json=as_json)  # fmt: skip


def log_sale(
    words: Words = None,
    *,
    money: Money = None,
    fee: Annotated[
        str | None,
        typer.Option(
            "--fee", metavar="FEE", help='"5 %" or an amount in all; as the settings say.'
        ),
    ] = None,
    trader: Trader = None,
    at: At = None,
    note: Note = None,
    order: Order = None,
    route: RouteName = None,
    piece: Piece = None,
    broken: Broken = False,
    new: New = False,
    file: Csv = None,
    undo: Undo = None,
    show_list: ShowList = False,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What was sold, at the price that the buyer paid; it counts as a deal.

    --broken: it was handed over and never paid.
    """
    details = {"money": money, "fee": fee, "trader": trader, "at": at, "note": note}
    details |= {"order": order, "route": route, "piece": piece}
    _log("sale", words or [], details, broken=broken, new=new, file=file, undo=undo,
         show_list=show_list, workspace=workspace, as_json=as_json)  # fmt: skip


def _log(
    kind: TradeKind,
    words: list[str],
    details: dict[str, str | None],
    *,
    broken: bool,
    new: bool,
    file: Path | None,
    undo: int | None,
    show_list: bool,
    workspace: str | None,
    as_json: bool,
) -> None:
    from advisor.tasks.routing import read_routes
    from advisor.tasks.trading import TypedTrade, log_trade, log_trades_file, take_trades_back
    from advisor.tasks.workspace import open_workspace

    given = [f"--{name}" for name, said in details.items() if said is not None]
    given += ["--broken"] * broken
    ways = {"--csv": file is not None, "--undo": undo is not None, "--list": show_list}
    way = refuse_mixed(words, given, [name for name, said in ways.items() if said])
    if way is None and len(words) != 3:
        raise WrongUse(
            f"a {'purchase' if kind == 'buy' else kind} is an item, how many, and the price of one",
            right=f'makeworth log {kind} "lantern frame" 60 2.4',
        )
    place = open_workspace(workspace)
    if undo is not None:
        _tell_undone(undo, take_trades_back(place, undo), as_json=as_json)
    elif show_list:
        _show_list(place, as_json=as_json)
    elif file is not None:
        logged = log_trades_file(place, read_routes(place), file, kind=kind, allow_new=new)
        _tell(logged, kind, as_json=as_json)
    else:
        item, qty, price = words
        typed = TypedTrade(kind, item, qty, price, broken=broken, **details)
        logged = log_trade(place, read_routes(place), typed, allow_new=new)
        _tell(logged, kind, as_json=as_json)


def refuse_mixed(words: list[str], given: list[str], ways: list[str]) -> str | None:
    """The one of --csv, --undo and --list that was given; None where none was.

    Raises: WrongUse: two of them, or something that says nothing to it.
    """
    if len(ways) > 1:
        raise WrongUse(f"{ways[0]} and {ways[1]} do not go together", right="give one of them")
    if ways and (given or words):
        said = given[0] if given else repr(words[0])
        raise WrongUse(f"{said} says nothing to {ways[0]}", right="leave it out")
    return ways[0] if ways else None


def _tell(logged: LoggedTrades, kind: TradeKind, *, as_json: bool) -> None:
    from advisor.cli.screen import show

    for note in logged.notes:
        warn(note)
    if as_json:
        write_json(
            {
                "entry": logged.entry,
                "known": logged.known,
                "deals": logged.deals,
                "trades": [_trade_json(each) for each in logged.trades],
            }
        )
    elif logged.entry is None:
        show(f"this file is entry {logged.known} already; nothing added")
    else:
        if len(logged.trades) == 1:
            show(_say_trade(logged.trades[0]))
        count = len(logged.trades)
        word = {"buy": "purchase", "sale": "sale"}[kind] + ("" if count == 1 else "s")
        show(f"{count} {word} written down; take back: makeworth log {kind} --undo {logged.entry}")


def _say_trade(trade: Trade) -> str:
    from advisor.quotes import price_text

    word = "bought" if trade.kind == "buy" else "sold"
    fee = f", {price_text(trade.fee)} {trade.money} of it fee" if trade.fee else ""
    with_whom = f" ({trade.trader})" if trade.trader else ""
    total = price_text(trade.qty * trade.price)
    lost = "; the other side did not keep their word" if trade.broken else ""
    return (
        f"{word} {price_text(trade.qty)} {trade.item} at {price_text(trade.price)} "
        f"{trade.money} each, {total} in all{fee}{with_whom}{lost}"
    )


def _trade_json(trade: Trade) -> dict[str, Any]:
    from advisor.quotes import price_text
    from advisor.times import us_to_rfc3339

    return {
        "at": us_to_rfc3339(trade.at_us),
        "kind": trade.kind,
        "item": trade.item,
        "qty": price_text(trade.qty),
        "price": price_text(trade.price),
        "money": trade.money,
        "fee": price_text(trade.fee),
        "trader": trade.trader,
        "order": trade.order,
        "route": trade.route,
        "piece": trade.piece,
        "broken": trade.broken,
        "note": trade.note,
    }


def _tell_undone(entry: int, trades: int, *, as_json: bool) -> None:
    from advisor.cli.screen import show

    if as_json:
        write_json({"undone": entry, "trades": trades})
    else:
        show(f"entry {entry} taken back: {trades} {'trade' if trades == 1 else 'trades'}")


def _show_list(place: Workspace, *, as_json: bool) -> None:
    from advisor.book.trades import list_trade_entries
    from advisor.cli.screen import show, show_table
    from advisor.times import us_to_rfc3339

    with place.open_book(read_only=True) as store:
        entries = list_trade_entries(store)
    if as_json:
        write_json(
            [
                {
                    "entry": each.entry,
                    "written": us_to_rfc3339(each.written_us),
                    "items": each.items.split(","),
                    "trades": each.trades,
                    "file": each.file,
                    "undone": None if each.undone_us is None else us_to_rfc3339(each.undone_us),
                    "details": [_trade_json(trade) for trade in each.own],
                }
                for each in entries
            ]
        )
    elif not entries:
        show("no trades are logged yet")
    else:
        rows = [row for each in entries for row in _list_rows(each, place.settings.timezone)]
        headings = ["entry", "when", "what", "item", "units", "each", "with"]
        show_table(headings, rows, right="rlllrll")


def _list_rows(entry: TradeEntry, zone: tzinfo) -> Iterator[list[str]]:
    """A line for each trade of an entry; one for them all where they are many."""
    from advisor.cli.screen import unbroken
    from advisor.money import show_amount
    from advisor.quotes import price_text
    from advisor.times import us_to_local

    undone = "" if entry.undone_us is None else ", taken back"
    if not entry.own:
        what = f"{entry.trades} trades{undone}"
        items = entry.items.replace(",", ", ")
        when = unbroken(us_to_local(entry.written_us, zone))
        yield [str(entry.entry), when, what, items, "", "", entry.file]
    for trade in entry.own:
        what = ("bought" if trade.kind == "buy" else "sold") + (", broken" if trade.broken else "")
        yield [
            str(entry.entry),
            unbroken(us_to_local(trade.at_us, zone)),
            what + undone,
            trade.item,
            show_amount(trade.qty),
            f"{price_text(trade.price)} {trade.money}",
            trade.trader or "",
        ]
