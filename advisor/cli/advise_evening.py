"""`makeworth advise evening`: what to do with some hours and a purse."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.options import (
    AsOfOption,
    JsonOption,
    PriceOption,
    StatedOddsOption,
    WorkspaceOption,
    write_json,
)


def evening(
    *,
    hours: Annotated[
        float, typer.Option("--hours", metavar="HOURS", help="Time that there is.")
    ] = 3.0,
    budget: Annotated[
        str, typer.Option("--budget", metavar="MONEY", help='The purse: "600", "4 crown".')
    ],
    within: Annotated[
        int, typer.Option("--within", metavar="DAYS", help="Days to sell the pieces in.")
    ] = 7,
    price: PriceOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What to make with some hours and a purse; what each way earns an hour."""
    from advisor.tasks.evening import advise_evening
    from advisor.tasks.pricing import read_money, read_pricing
    from advisor.tasks.routing import read_routes, refuse_unknown_prices
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    book = read_routes(place)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    refuse_unknown_prices(pricing, book)
    if stated_odds:
        pricing = pricing.at_stated_odds()
    purse = read_money("--budget", budget, pricing)
    answer = advise_evening(book, pricing, hours=hours, budget=purse, within=within)
    if as_json:
        from advisor.tasks.evening_json import evening_json

        write_json(evening_json(answer))
        return
    from advisor.cli.evening_views import show_evening

    show_evening(answer)
