"""`makeworth advise sell`: when to sell, and at what asking price."""

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


def sell(
    piece: Annotated[str, typer.Argument(metavar="PIECE", help="What to sell.")],
    *,
    count: Annotated[int, typer.Option("--count", metavar="N", help="How many of it.")] = 1,
    within: Annotated[
        int, typer.Option("--within", metavar="DAYS", help="Days to sell them in.")
    ] = 7,
    relist: Annotated[
        int, typer.Option("--relist", metavar="DAYS", help="Days that an ask stands; 1.")
    ] = 1,
    post: Annotated[bool, typer.Option("--post", help="Only the line to put up.")] = False,
    price: PriceOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """List now, hold, or sell at once: at which price, day by day."""
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import read_routes, refuse_unknown_prices
    from advisor.tasks.selling import advise_sell
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    book = read_routes(place)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    refuse_unknown_prices(pricing, book)
    if stated_odds:
        pricing = pricing.at_stated_odds()
    answer = advise_sell(book, pricing, piece=piece, count=count, within=within, every=relist)
    if as_json:
        from advisor.tasks.sell_json import sell_json

        write_json(sell_json(answer))
        return
    from advisor.cli.sell_views import show_sell, show_sell_post

    if post:
        show_sell_post(answer)
    else:
        show_sell(answer)
