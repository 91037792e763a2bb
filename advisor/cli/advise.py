"""`makeworth advise`: the decisions. One command a question."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.advise_evening import evening
from advisor.cli.advise_sell import sell
from advisor.cli.advise_service import service
from advisor.cli.advise_stock import stock
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
    stated_odds: StatedOddsOption = False,
    against: Annotated[
        str | None,
        typer.Option(
            "--against",
            metavar="DATE|DIR",
            help="Beside it the answer of another date, or of another workspace.",
        ),
    ] = None,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make or buy: by which route, at today's prices and with what risk."""
    from advisor.tasks.crafting import CraftQuestion, ask_craft, other_place
    from advisor.tasks.routing import known_goal
    from advisor.tasks.workspace import open_workspace

    known_goal(goal)
    if not 1 <= count <= MOST_PIECES:
        raise WrongUse(f"--count {count} is out of range", right=f"from 1 to {MOST_PIECES}")
    question = CraftQuestion(
        piece,
        goal,
        count,
        prices=tuple(price or ()),
        odds=tuple(odds or ()),
        without=tuple(without or ()),
        stated_odds=stated_odds,
    )
    place = open_workspace(workspace)
    answer = ask_craft(place, question, as_of=as_of)
    other = None
    if against is not None:
        there, then = other_place(place, against, as_of=as_of)
        other = ask_craft(there, question, as_of=then)
    if as_json:
        from advisor.tasks.craft_json import craft_json

        told = craft_json(answer)
        write_json(told if other is None else {**told, "against": craft_json(other)})
    else:
        from advisor.cli.craft_views import show_against, show_craft

        show_craft(answer)
        if other is not None:
            show_against(answer, other, named=against or "")


app.command()(stock)
app.command()(service)
app.command()(sell)
app.command()(evening)
