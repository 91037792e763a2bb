"""`makeworth route`: what a route costs, uses and needs, and its best way."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    AsOfOption,
    GoalOption,
    JsonOption,
    OddsOption,
    PriceOption,
    StatedOddsOption,
    WithoutOption,
    WorkspaceOption,
    new_app,
    warn,
    write_json,
)
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.tasks.pricing import Pricing

app = new_app()
MOST_PIECES = 10_000


@app.command()
def route(
    name: Annotated[str, typer.Argument(metavar="ROUTE", help="A file in routes/.")],
    *,
    budget: Annotated[
        str | None,
        typer.Option("--budget", metavar="MONEY", help="The chance to finish within this."),
    ] = None,
    pieces: Annotated[
        int, typer.Option("--pieces", metavar="N", help="For so many pieces together.")
    ] = 1,
    goal: GoalOption = "keep",
    price: PriceOption = None,
    odds: OddsOption = None,
    without: WithoutOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What a route costs at today's prices: luck alone, prices held still."""
    from advisor.routes.route_json import route_json
    from advisor.tasks.made_or_bought import compare_made_and_bought
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import (
        change_routes,
        cost_route,
        known_goal,
        read_routes,
        refuse_unknown_prices,
    )
    from advisor.tasks.walked_prices import tell_walking
    from advisor.tasks.workspace import open_workspace
    from advisor.times import us_to_rfc3339

    known_goal(goal)
    if not 1 <= pieces <= MOST_PIECES:
        raise WrongUse(f"--pieces {pieces} is out of range", right=f"from 1 to {MOST_PIECES}")
    place = open_workspace(workspace)
    book = change_routes(read_routes(place), odds=odds or (), without=without or ())
    known = book.named(name)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    refuse_unknown_prices(pricing, book)
    if stated_odds:
        pricing = pricing.at_stated_odds()
    cost = cost_route(
        book,
        known,
        pricing=pricing,
        goal=goal,
        pieces=pieces,
        refuse_loops=True,
        budget=None if budget is None else read_budget(budget, pricing),
    )
    cost = replace(cost, cautions=(*cost.cautions, *tell_walking(cost, pricing)))
    for caution in pricing.market.cautions:
        warn(caution)
    both = compare_made_and_bought(book, cost, pricing)
    if as_json:
        told = route_json(cost, as_of=us_to_rfc3339(pricing.market.as_of_us))
        write_json(told | {"made_or_bought": [asdict(each) for each in both]})
    else:
        from advisor.cli.route_views import show_route

        show_route(cost, both, about=book.routes[known].about, when=_when(pricing))


def read_budget(text: str, pricing: Pricing) -> float:
    """A budget as typed, in the workspace money.

    Raises: BadInput: not an amount of money, or in a money that has no rate.
    """
    from advisor.tasks.pricing import read_money

    return read_money("--budget", text, pricing)


def _when(pricing: Pricing) -> str:
    from advisor.cli.price_views import moment

    return moment(pricing.market.as_of_us, pricing.settings.timezone)
