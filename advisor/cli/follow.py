"""`makeworth follow`: the companion at the table."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    AsOfOption,
    JsonOption,
    PriceOption,
    StatedOddsOption,
    WorkspaceOption,
    new_app,
    warn,
    write_json,
)
from advisor.errors import BadInput, WrongUse

if TYPE_CHECKING:
    from advisor.tasks.following import FollowedPiece

app = new_app()
LEAVE, UNDO, PUT_AWAY, SWITCH = "q", "u", "x", "p"


@app.command()
def follow(
    name: Annotated[str, typer.Argument(metavar="ROUTE", help="A file in routes/.")],
    *,
    new: Annotated[bool, typer.Option("--new", help="Begin another piece.")] = False,
    number: Annotated[
        int | None, typer.Option("--session", metavar="N", help="Take up this piece.")
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="STAGE", help="The piece is at this stage now.")
    ] = None,
    budget: Annotated[
        str | None,
        typer.Option("--budget", metavar="MONEY", help="Spend no more on this piece; kept."),
    ] = None,
    goal: Annotated[
        str | None, typer.Option("--for", metavar="keep|sale", help="Hold the piece, or sell it.")
    ] = None,
    price: PriceOption = None,
    stated_odds: StatedOddsOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """At the table with the piece in hand: what is best now, and what came of it.

    One key for each outcome writes the attempt down; u takes the last one back, x
    puts the piece away, p turns to the next open piece, q leaves. The same command
    takes the piece up again. Without a terminal, keys are read from standard input,
    one a line.
    """
    from advisor.cli.route import read_budget
    from advisor.tasks.followed_pieces import pick_session
    from advisor.tasks.following import FollowedPiece
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.routing import cost_route, read_routes
    from advisor.tasks.table_choices import written_outcomes
    from advisor.tasks.workspace import open_workspace

    if new and number is not None:
        raise WrongUse("--new and --session do not go together", right="give one of them")
    place = open_workspace(workspace)
    book = read_routes(place)
    route = book.named(name)
    pricing = read_pricing(place, as_of=as_of, fixed=price or ())
    if stated_odds:
        pricing = pricing.at_stated_odds()
    limit = None if budget is None else read_limit(read_budget(budget, pricing))
    cost = cost_route(book, route, pricing=pricing, goal=_known_goal(goal))
    for each in cost.left_out:
        warn(each.told(cost.money))
    with place.open_book() as store:
        session, is_new = pick_session(store, cost, number=number, new=new, at=at)
        piece = FollowedPiece(
            store,
            cost,
            pricing=pricing,
            session=session,
            written=written_outcomes(book.routes[route]),
        )
        if at is not None and not is_new:
            piece.move_to(at)
        if limit is not None:
            piece.set_budget(limit)
        _sit_down(piece, as_json=as_json)


def _known_goal(goal: str | None) -> str:
    from advisor.tasks.routing import known_goal

    return "keep" if goal is None else known_goal(goal)


def read_limit(budget: float) -> float:
    """A budget that is one.

    Raises: WrongUse: below 0.
    """
    if budget < 0:
        raise WrongUse(f"--budget {budget:g} is below 0", right="it is 0 or more")
    return budget


def _sit_down(piece: FollowedPiece, *, as_json: bool) -> None:
    """Show, read a key, write down, until one leaves."""
    from advisor.cli.follow_views import show_table_view, view_json
    from advisor.cli.screen import is_interactive

    watched = is_interactive() and not as_json
    if not as_json:
        show_table_view(piece)
    for line, typed in _keys(piece, watched=watched, as_json=as_json):
        if typed == LEAVE:
            break
        try:
            said = _act(piece, typed)
        except BadInput as fault:
            if not watched:
                raise _at_line(fault, line) from None
            warn(str(fault))
            continue
        if not as_json:
            from advisor.cli.screen import show

            show(said)
            show()
            show_table_view(piece)
    if as_json:
        write_json(view_json(piece))


def _act(piece: FollowedPiece, typed: str) -> str:
    """Do what a key says; gives what was done, in words."""
    from advisor.cli.follow_views import say_attempt, say_choice

    if typed == UNDO:
        return f"taken back: {say_attempt(piece.undo())}"
    if typed == PUT_AWAY:
        piece.put_away()
        return "put away; u takes that back"
    if typed == SWITCH:
        piece.switch()
        return f"now piece {piece.session.session}"
    return f"written down: {say_choice(piece.choose(typed))}"


def _at_line(fault: BadInput, line: int) -> BadInput:
    """The same fault with the line of the input; what came before it is kept."""
    return BadInput(fault.what, right=fault.right, file="standard input", line=line)


def _keys(piece: FollowedPiece, *, watched: bool, as_json: bool) -> Iterator[tuple[int, str]]:
    """(line, key) as typed, until the end of the input."""
    if as_json and sys.stdin.isatty():
        return
    line = 0
    while True:
        line += 1
        typed = _read_one_key(piece) if watched else sys.stdin.readline()
        if not typed:
            return
        if typed.strip():
            yield line, typed.strip()


def _read_one_key(piece: FollowedPiece) -> str:
    """One key where every key is one character; else a line."""
    from advisor.cli.screen import show

    choices = piece.view().choices
    if all(len(each.key) == 1 for each in choices):
        sys.stdout.write("key: ")
        sys.stdout.flush()
        key = typer.getchar()
        show(key if key.isprintable() else "")
        return LEAVE if key in ("\x03", "\x04") else key if key.strip() else " "
    try:
        return input("key, then Enter: ") or " "
    except EOFError:
        return ""
