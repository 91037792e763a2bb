"""`makeworth advise service`: what to charge for making a piece for others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    AsOfOption,
    JsonOption,
    PriceOption,
    StatedOddsOption,
    WorkspaceOption,
    write_json,
)
from advisor.errors import WrongUse
from advisor.names import name_key

if TYPE_CHECKING:
    from advisor.tasks.pricing import Pricing


def service(
    route: Annotated[str, typer.Argument(metavar="ROUTE", help="A file in routes/.")],
    *,
    orders: Annotated[
        int, typer.Option("--orders", metavar="N", help="How many orders together.")
    ] = 1,
    supplies: Annotated[
        str,
        typer.Option("--supplies", metavar="mine|customer", help="Whose supplies are used."),
    ] = "mine",
    deposit: Annotated[
        str, typer.Option("--deposit", metavar="MONEY", help="Yours where an order fails.")
    ] = "0",
    tries: Annotated[
        int | None,
        typer.Option(
            "--tries", metavar="N", help="Tries agreed on; without it: enough in 8 of 10 cases."
        ),
    ] = None,
    lost: Annotated[
        list[str] | None,
        typer.Option(
            "--lost",
            metavar="STAGE=MONEY",
            help="Where the customer's piece is lost, and what you then pay; again for others.",
        ),
    ] = None,
    principle: Annotated[
        str,
        typer.Option(
            "--principle", metavar="worst|sd|exponential", help="How the bad night is paid for."
        ),
    ] = "worst",
    caution: Annotated[
        float | None,
        typer.Option("--caution", metavar="SHARE", help="How much of it, 0 to 1; else settings."),
    ] = None,
    need: Annotated[
        bool, typer.Option("--need", help="You need it yourself: buying it is an answer too.")
    ] = False,
    post: Annotated[bool, typer.Option("--post", help="Only the line to put up.")] = False,
    price: PriceOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What to charge for making it for others: fixed, per try, or on success."""
    from advisor.tasks.pricing import read_money, read_pricing
    from advisor.tasks.routing import read_routes, refuse_unknown_prices
    from advisor.tasks.service_basis import ServiceQuestion
    from advisor.tasks.serving import advise_service
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    book = read_routes(place)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    refuse_unknown_prices(pricing, book)
    if stated_odds:
        pricing = pricing.at_stated_odds()
    question = ServiceQuestion(
        route,
        orders,
        supplies,
        deposit=read_money("--deposit", deposit, pricing),
        principle=principle,
        caution=caution,
        tries=tries,
        losses=_read_losses(lost or (), pricing),
        needed=need,
    )
    answer = advise_service(book, pricing, question)
    if as_json:
        from advisor.tasks.service_json import service_json

        write_json(service_json(answer))
        return
    from advisor.cli.service_views import show_service, show_service_post

    if post:
        show_service_post(answer)
    else:
        show_service(answer)


def _read_losses(typed: Sequence[str], pricing: Pricing) -> dict[str, float]:
    """What is paid where the customer's piece is lost, by the stage.

    Raises: WrongUse: not STAGE=MONEY, or one stage twice.
    """
    losses: dict[str, float] = {}
    for each in typed:
        stage, money = _read_lost(each, pricing)
        if name_key(stage) in {name_key(known) for known in losses}:
            raise WrongUse(f"--lost names {stage!r} twice", right="keep one of them")
        losses[stage] = money
    return losses


def _read_lost(typed: str, pricing: Pricing) -> tuple[str, float]:
    """The stage where a customer's piece is lost, and what is paid for it."""
    from advisor.tasks.pricing import read_money

    stage, sign, money = typed.rpartition("=")
    if not sign or not stage.strip() or not money.strip():
        raise WrongUse(
            f"--lost {typed!r} says not what is paid for a lost piece",
            right='write --lost "broken lens=120", or =0 if it is the customer\'s risk',
        )
    return stage.strip(), read_money("--lost", money, pricing)
