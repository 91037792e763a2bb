"""`makeworth replay`: what following the advice would have made."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.options import JsonOption, WorkspaceOption, new_app, warn, write_json

app = new_app()


@app.command()
def replay(
    *,
    first: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="The first day; four weeks before the last."),
    ] = None,
    last: Annotated[
        str | None,
        typer.Option("--to", metavar="DATE", help="The last day; that of the newest quote."),
    ] = None,
    piece: Annotated[
        list[str] | None,
        typer.Option(
            "--piece", metavar="PIECE", help="Only this piece; may be given again. Else all."
        ),
    ] = None,
    pieces: Annotated[
        int, typer.Option("--pieces", metavar="N", help="So many are supplied and sold together.")
    ] = 3,
    within: Annotated[
        int, typer.Option("--within", metavar="DAYS", help="Days to buy in, and to sell in.")
    ] = 7,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What following the advice would have made, day by day, on your own prices.

    Each morning is answered with what was known the evening before, as --as-of would,
    and settled on what stood then: the asks last seen together on a day, cheapest
    first, as far as they are believed today. Beside it stand the plain habit and the
    best in knowledge of what came.

    Make or buy: one piece every day. Habit: the way that is cheapest at the last
    quotes. Supplies: as advised, then reserve prices, the rest on the last day; habit:
    the mean use at once. Selling: a listing sells if it is no dearer than the cheapest
    ask or the highest deal of a day; habit: the last price, left standing.

    It may be stopped at any time: days that are done are kept, and the same command
    goes on from there.
    """
    from advisor.cli.progress import show_bar
    from advisor.tasks.replaying import replay as replay_days
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    done, all_days = 0, 0
    with show_bar("replaying days") as move:

        def on_day(now: int, of: int) -> None:
            nonlocal done, all_days
            done, all_days = now, of
            move(now, of)

        try:
            answer = replay_days(
                place,
                first=first,
                last=last,
                pieces=piece or (),
                count=pieces,
                within=within,
                on_day=on_day,
            )
        except KeyboardInterrupt:
            warn(
                f"{done} of {all_days} days are done and kept; the same command goes on from there"
            )
            raise
    if as_json:
        from advisor.tasks.replay_rows import replay_json

        write_json(replay_json(answer))
        return
    from advisor.cli.replay_views import show_replay

    show_replay(answer)
