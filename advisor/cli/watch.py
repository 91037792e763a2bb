"""`makeworth watch`: prices in, answers fresh, told when it matters."""

from __future__ import annotations

import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import JsonOption, WorkspaceOption, new_app, write_json
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.tasks.workspace import Workspace
    from advisor.watch.journal import Event

app = new_app()


@app.command()
def watch(
    *,
    once: Annotated[bool, typer.Option("--once", help="One round, then end; for timers.")] = False,
    status: Annotated[
        bool, typer.Option("--status", help="How the watch stands, from another terminal.")
    ] = False,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take in what lands in inbox/, keep pages fresh, send alerts, until Ctrl-C.

    It looks and tells; it places no trades.
    """
    if once and status:
        raise WrongUse("--once and --status are two things", right="give one of them")
    if as_json and not (once or status):
        raise WrongUse("--json without --once or --status", right="add one of them")
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    if status:
        _show_status(place, as_json=as_json)
        return
    _run(place, once=once, as_json=as_json)


def _run(place: Workspace, *, once: bool, as_json: bool) -> None:
    from advisor.watch.running import run_watch

    events: list[Event] = []

    def look_on(event: Event) -> None:
        if as_json:
            events.append(event)
        else:
            # Where nobody can read along any more, the watch and its log go on.
            with suppress(OSError):
                sys.stdout.write(f"{event.line}\n")
                sys.stdout.flush()

    went_well = run_watch(place, once=once, on_event=look_on)
    if as_json:
        from advisor.cli.watch_views import events_json

        write_json({"went_well": went_well, "events": events_json(events)})
    if not went_well:
        raise typer.Exit(1)


def _show_status(place: Workspace, *, as_json: bool) -> None:
    from advisor.cli.watch_views import show_status, status_json
    from advisor.watch.standing import find_standing

    standing = find_standing(place)
    if as_json:
        write_json(status_json(standing))
    else:
        show_status(standing, place.settings.timezone)
