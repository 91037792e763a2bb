"""`makeworth advise stock`: how many supplies, when, and at most at what price."""

from __future__ import annotations

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
from advisor.errors import BadInput

if TYPE_CHECKING:
    from advisor.tasks.stocking import Stock


RouteArgument = Annotated[str, typer.Argument(metavar="ROUTE", help="A file in routes/.")]
PiecesOption = Annotated[int, typer.Option("--pieces", metavar="N", help="How many to make.")]
WithinOption = Annotated[
    int | None,
    typer.Option(
        "--within",
        metavar="DAYS",
        help="Days to buy in, the last one to make them; without it: tomorrow.",
    ),
]
OnHandOption = Annotated[
    list[str] | None,
    typer.Option(
        "--on-hand",
        metavar="ITEM=UNITS",
        help="What is there, instead of what the ledger has; may be given again.",
    ),
]
AlsoOption = Annotated[
    list[str] | None,
    typer.Option(
        "--also", metavar="ROUTE=N", help="N pieces of another route as well; may be given again."
    ),
]
BudgetOption = Annotated[
    str | None,
    typer.Option(
        "--budget", metavar="MONEY", help="All you have for these pieces, today and later."
    ),
]
TierOption = Annotated[
    list[str] | None,
    typer.Option(
        "--tier",
        metavar="ITEM=LOT:PRICE,...",
        help="A lot of at least LOT costs PRICE each, all of it.",
    ),
]
TierBeyondOption = Annotated[
    list[str] | None,
    typer.Option(
        "--tier-beyond",
        metavar="ITEM=LOT:PRICE,...",
        help="Units beyond LOT cost PRICE each.",
    ),
]
TiedUpOption = Annotated[
    str,
    typer.Option("--tied-up", metavar="PERCENT", help="What a day of money lying in stock costs."),
]
TripOption = Annotated[
    float | None,
    typer.Option(
        "--trip-minutes",
        metavar="MIN",
        help="Going to the market again, default 10; counts at your hour_value.",
    ),
]
PostOption = Annotated[
    bool,
    typer.Option("--post", help="Only the lines to put up: what is wanted, at which bid."),
]


def stock(
    route: RouteArgument,
    *,
    pieces: PiecesOption = 1,
    within: WithinOption = None,
    on_hand: OnHandOption = None,
    also: AlsoOption = None,
    budget: BudgetOption = None,
    tier: TierOption = None,
    tier_beyond: TierBeyondOption = None,
    tied_up: TiedUpOption = "0 %",
    trip_minutes: TripOption = None,
    post: PostOption = False,
    price: PriceOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """How many supplies to buy, when, and at most at what price."""
    from advisor.cli.route import read_budget
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import read_routes
    from advisor.tasks.stocking import TRIP_MINUTES, StockTerms, advise_stock
    from advisor.tasks.workspace import open_workspace

    terms = StockTerms(
        within=within,
        on_hand=on_hand or (),
        also=also or (),
        tiers=tier or (),
        tiers_beyond=tier_beyond or (),
        tied_up=_read_share(tied_up),
        trip_minutes=TRIP_MINUTES if trip_minutes is None else trip_minutes,
    )
    place = open_workspace(workspace)
    book = read_routes(place)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    if stated_odds:
        pricing = pricing.at_stated_odds()
    answer = advise_stock(
        place,
        book,
        pricing,
        route=route,
        pieces=pieces,
        terms=terms,
        budget=None if budget is None else read_budget(budget, pricing),
    )
    _show(answer, post=post, as_json=as_json)


def _read_share(text: str) -> float:
    from advisor.money import read_percent

    try:
        return float(read_percent(text))
    except BadInput as fault:
        raise BadInput(f"--tied-up: {fault.what}", right=fault.right) from None


def _show(answer: Stock, *, post: bool, as_json: bool) -> None:
    if as_json:
        from advisor.tasks.stock_json import stock_json

        write_json(stock_json(answer))
    elif post:
        from advisor.cli.stock_views import show_posts

        show_posts(answer)
    else:
        from advisor.cli.stock_views import show_stock

        show_stock(answer)
