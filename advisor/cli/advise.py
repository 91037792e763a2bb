"""`makeworth advise`: the decisions. One command a question."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.advise_stock import stock
from advisor.cli.options import (
    AsOfOption,
    GoalOption,
    JsonOption,
    OddsOption,
    PriceOption,
    WithoutOption,
    WorkspaceOption,
    new_app,
    write_json,
)
from advisor.errors import WrongUse

app = new_app()
MOST_PIECES = 1000


@app.callback()
def advise() -> None:
    """Answers to act on, with what they hang on."""


@app.command()
def craft(
    piece: Annotated[str, typer.Argument(metavar="PIECE", help="What to make or to buy.")],
    *,
    count: Annotated[
        int, typer.Option("--count", metavar="N", help="For so many pieces together.")
    ] = 1,
    goal: GoalOption = "keep",
    price: PriceOption = None,
    odds: OddsOption = None,
    without: WithoutOption = None,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make or buy: by which route, at today's prices and with what risk."""
    from advisor.tasks.crafting import advise_craft
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import change_routes, known_goal, read_routes
    from advisor.tasks.workspace import open_workspace

    known_goal(goal)
    if not 1 <= count <= MOST_PIECES:
        raise WrongUse(f"--count {count} is out of range", right=f"from 1 to {MOST_PIECES}")
    place = open_workspace(workspace)
    book = change_routes(read_routes(place), odds=odds or (), without=without or ())
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    answer = advise_craft(book, pricing, piece=piece, goal=goal, count=count)
    if as_json:
        from advisor.tasks.craft_json import craft_json

        write_json(craft_json(answer))
    else:
        from advisor.cli.craft_views import show_craft

        show_craft(answer)


app.command()(stock)
