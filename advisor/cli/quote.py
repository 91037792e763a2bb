"""`makeworth quote`: prices seen, typed or pasted."""

from __future__ import annotations

import sys
from datetime import tzinfo
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    JsonOption,
    WorkspaceOption,
    new_app,
    one_of,
    read_decimal_option,
    read_side_option,
    warn,
    write_json,
)
from advisor.errors import BadInput, WrongUse

if TYPE_CHECKING:
    from advisor.tasks.quoting import QuoteReport

app = new_app()


@app.command()
def quote(  # noqa: PLR0917
    lines: Annotated[
        list[str] | None,
        typer.Argument(metavar="LINE...", help="An item and its price, or whole lines."),
    ] = None,
    qty: Annotated[int | None, typer.Option(metavar="N", help="Units offered or wanted.")] = None,
    side: Annotated[
        str | None, typer.Option(metavar="ask|bid|deal", help="Offered, wanted or done; ask.")
    ] = None,
    money: Annotated[
        str | None, typer.Option(metavar="ITEM", help="The money of prices that name none.")
    ] = None,
    trader: Annotated[str | None, typer.Option(metavar="NAME", help="Whose price it is.")] = None,
    at: Annotated[str | None, typer.Option(metavar="TIME", help="When it was seen; now.")] = None,
    source: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it was seen.")] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="Anything to remember.")] = None,
    paste: Annotated[bool, typer.Option("--paste", help="Read lines from standard input.")] = False,
    decimal: Annotated[
        str | None, typer.Option(metavar="comma|point", help="The mark before decimals.")
    ] = None,
    date_order: Annotated[
        str | None, typer.Option(metavar="dmy|mdy|ymd", help="How --at 03/04/2026 is read.")
    ] = None,
    new: Annotated[
        bool, typer.Option("--new", help="Names near a known one are meant as they are.")
    ] = False,
    as_json: JsonOption = False,
    workspace: WorkspaceOption = None,
) -> None:
    """Take down prices seen: one, many in one line, a ladder, or pasted lines.

    \b
    quote "lantern frame" 2.4 --qty 60 --side ask
    quote "lantern frame 2.4 x60" "binding wax 7/3"
    quote "lantern frame" 2.4x60 2.5x20 3x100
    quote --paste        60 lantern frame 2.4
                         lantern frame x60 @ 2.4 shell

    A price may be 12.5, "1 250,50", 7/3, "2 crown" or "2.5 crown / 12".
    """
    from advisor.tasks.quoting import QuoteChoices, take_pasted, take_quotes
    from advisor.tasks.workspace import open_workspace

    choices = QuoteChoices(
        qty=_count(qty),
        side=read_side_option(side),
        money=money,
        trader=trader,
        at=at,
        source=source,
        note=note,
        decimal=read_decimal_option(decimal),
        date_order=one_of(date_order, ("dmy", "mdy", "ymd"), option="--date-order"),
        allow_new=new,
    )
    if paste and lines:
        raise WrongUse("--paste reads standard input: give no lines with it")
    if not paste and not lines:
        raise WrongUse("no price given", right='makeworth quote "lantern frame" 2.4 --qty 60')
    place = open_workspace(workspace)
    if paste:
        report = take_pasted(place, _pasted(), choices)
    else:
        report = take_quotes(place, lines or [], choices)
    _tell(report, zone=place.settings.timezone, as_json=as_json)


def _count(qty: int | None) -> int | None:
    if qty is not None and not 1 <= qty <= 10**12:
        raise WrongUse(f"--qty {qty} is no count of units", right="it is 1 or more")
    return qty


def _pasted() -> str:
    """Standard input as text, whatever the terminal's own encoding."""
    data = sys.stdin.buffer.read()
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("what was pasted is no UTF-8 text") from None


def _tell(report: QuoteReport, *, zone: tzinfo, as_json: bool) -> None:
    if as_json:
        write_json(report.to_json())
    elif report.batch is not None:
        _show(report, zone)
    for note in report.notes:
        warn(note)
    if report.unread:
        for each in report.unread:
            warn(f"line {each.line} was not taken down: {each.why}")
        count = len(report.unread)
        raise BadInput(f"{count} {'line was' if count == 1 else 'lines were'} not taken down")


def _show(report: QuoteReport, zone: tzinfo) -> None:
    from advisor.cli.screen import show_table, show_wrapped, unbroken
    from advisor.quotes import price_text
    from advisor.times import us_to_local

    rows = [
        [
            each.side,
            each.item,
            price_text(each.price),
            each.money,
            "" if each.qty is None else f"x{each.qty}",
            each.trader or "",
            us_to_local(each.at_us, zone),
        ]
        for each in report.quotes
    ]
    show_table(["side", "item", "price", "money", "units", "trader", "seen"], rows, right="llrlrll")
    known = f", {report.known} known already" if report.known else ""
    command = unbroken(f"makeworth import --undo {report.batch}")
    show_wrapped(f"{report.added} taken down{known}; take back: {command}")
