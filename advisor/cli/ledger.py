"""`makeworth ledger`: what came of it all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    AsOfOption,
    JsonOption,
    PriceOption,
    WorkspaceOption,
    new_app,
    write_json,
)
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.tasks.accounts import Accounts
    from advisor.tasks.ledger_rows import By
    from advisor.tasks.luck import RouteLuck

app = new_app()


@app.command()
def ledger(
    *,
    luck: Annotated[
        str | None,
        typer.Option("--luck", metavar="ROUTE", help="Was it luck: the log against the odds."),
    ] = None,
    by: Annotated[
        str | None,
        typer.Option(
            "--by",
            metavar="WHAT",
            help="Rows by piece, order, route, trader, day or season; piece.",
        ),
    ] = None,
    price: PriceOption = None,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What was spent and earned, what stands in stock at cost; and whether it was luck."""
    from advisor.tasks.accounts import read_accounts
    from advisor.tasks.ledger_rows import known_by
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import read_routes
    from advisor.tasks.workspace import open_workspace

    if luck is not None and by is not None:
        raise WrongUse("--luck and --by do not go together", right="give one of them")
    rows = known_by("piece" if by is None else by)
    place = open_workspace(workspace)
    book = read_routes(place)
    if luck is None:
        pricing = read_pricing(place, as_of=as_of, fixed=price or ())
        _tell_accounts(read_accounts(place, book, pricing), rows, as_json=as_json)
        return
    from advisor.tasks.luck import judge_luck

    route = book.named(luck)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    answer = judge_luck(place, book, pricing, route=route)
    if as_json:
        from advisor.tasks.luck import luck_json

        write_json(luck_json(answer))
    else:
        from advisor.cli.price_views import moment

        _show_luck(answer, when=moment(answer.as_of_us, pricing.settings.timezone))


def _tell_accounts(accounts: Accounts, by: By, *, as_json: bool) -> None:
    if as_json:
        from advisor.tasks.ledger_rows import ledger_json

        write_json(ledger_json(accounts, by))
        return
    from advisor.cli.ledger_views import show_ledger
    from advisor.cli.price_views import moment

    pricing = accounts.pricing
    show_ledger(accounts, by, when=moment(pricing.market.as_of_us, pricing.settings.timezone))


def _show_luck(answer: RouteLuck, *, when: str) -> None:
    from advisor.cli.screen import show, show_sentences, show_table
    from advisor.figures import percent
    from advisor.tasks.luck import luck_reasons

    luck = answer.luck
    show(f"Luck with {answer.route}, {when}, in {answer.money}")
    show(f"{answer.tries} attempts, {luck.begun} begun, {luck.finished} finished")
    show()
    show_sentences(luck_reasons(answer))
    if answer.steps:
        show()
        rows = [
            [
                each.step,
                each.outcome,
                f"{each.seen} of {each.tries}",
                percent(each.seen / each.tries),
                percent(each.stated),
                f"{percent(each.low_95)} to {percent(each.high_95)}",
                percent(each.surprise),
            ]
            for each in answer.steps
        ]
        show_table(
            ["step", "came to", "times", "log", "file", "known now, 95 %", "surprise"],
            rows,
            right="llrrrrr",
        )
        _explain_surprise(answer)
    if answer.cautions:
        show()
        show_sentences(answer.cautions, mark="! ")


def _explain_surprise(answer: RouteLuck) -> None:
    from advisor.cli.screen import show_wrapped
    from advisor.decide.step_luck import comparisons_made

    said = "surprise: how often chance alone gives so strange a count; under 5 % is rare."
    count = comparisons_made(answer.steps)
    if count > 1:
        said += (
            " One of several counts is easily rare, so the sentences above are corrected for "
            f"{count} comparisons."
        )
    show_wrapped(said)
