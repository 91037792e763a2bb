"""`makeworth log`: what happened. One command for each kind of thing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from advisor.cli.log_orders import log_order
from advisor.cli.log_trades import log_buy, log_sale
from advisor.cli.options import JsonOption, WorkspaceOption, new_app, warn, write_json
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.tasks.attempting import LoggedTries
    from advisor.tasks.workspace import Workspace

app = new_app()
EXAMPLE = 'makeworth log try ROUTE "etch" "empty table" --count 39'


@app.callback()
def log() -> None:
    """Write down what happened: the odds of routes and the ledger follow from it."""


app.command("buy")(log_buy)
app.command("sale")(log_sale)
app.command("order")(log_order)


@app.command("try")
def log_tries(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="ROUTE STEP OUTCOME", help="What was tried, what it came to."),
    ] = None,
    *,
    count: Annotated[
        int | None, typer.Option("--count", metavar="N", help="So many came to the same; 1.")
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="DATE", help="When; now.")] = None,
    at_stage: Annotated[
        str | None,
        typer.Option("--at-stage", metavar="STAGE", help="On a pool's piece: what was on it."),
    ] = None,
    minutes: Annotated[
        float | None, typer.Option("--minutes", metavar="MIN", help="The time it took.")
    ] = None,
    note: Annotated[
        str | None, typer.Option("--note", metavar="TEXT", help="Anything to remember.")
    ] = None,
    file: Annotated[
        Path | None,
        typer.Option(
            "--csv", metavar="FILE", help="Many: columns at,route,step,outcome,count,stage."
        ),
    ] = None,
    undo: Annotated[
        int | None, typer.Option("--undo", metavar="ENTRY", help="Take an entry back whole.")
    ] = None,
    show_list: Annotated[
        bool, typer.Option("--list", help="The newest entries, of a route or of all.")
    ] = False,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Attempts of a step and what came of them."""
    from advisor.tasks.attempting import TypedTry, log_tries_file, log_try, take_back
    from advisor.tasks.routing import read_routes
    from advisor.tasks.workspace import open_workspace

    words = words or []
    details: dict[str, Any] = {"--count": count, "--at": at, "--at-stage": at_stage}
    details |= {"--minutes": minutes, "--note": note}
    _refuse_mixed(words, details, csv=file, undo=undo, show_list=show_list)
    place = open_workspace(workspace)
    if undo is not None:
        _tell_undone(undo, take_back(place, undo), as_json=as_json)
    elif show_list:
        book = read_routes(place)
        _show_list(place, route=book.named(words[0]) if words else None, as_json=as_json)
    elif file is not None:
        route = words[0] if words else None
        logged = log_tries_file(place, read_routes(place), file, route=route)
        _tell(logged, as_json=as_json)
    else:
        route, step, outcome = words
        typed = TypedTry(
            route,
            step,
            outcome,
            at=at,
            count=_count(count),
            minutes=_time(minutes),
            note=note,
            at_stage=at_stage,
        )
        _tell(log_try(place, read_routes(place), typed), as_json=as_json)


def _refuse_mixed(
    words: list[str],
    details: dict[str, Any],
    *,
    csv: Path | None,
    undo: int | None,
    show_list: bool,
) -> None:
    ways = [
        name
        for name, said in (
            ("--csv", csv is not None),
            ("--undo", undo is not None),
            ("--list", show_list),
        )
        if said
    ]
    if len(ways) > 1:
        raise WrongUse(f"{ways[0]} and {ways[1]} do not go together", right="give one of them")
    given = [name for name, value in details.items() if value is not None]
    if ways and given:
        raise WrongUse(f"{given[0]} says nothing to {ways[0]}", right="leave it out")
    most = {"--undo": 0, "--list": 1, "--csv": 1}
    if ways and len(words) > most[ways[0]]:
        raise WrongUse(f"{words[-1]!r} says nothing to {ways[0]}", right="leave it out")
    if not ways and len(words) != 3:
        raise WrongUse("an attempt is a route, a step and an outcome", right=EXAMPLE)


def _count(count: int | None) -> int:
    if count is not None and count < 1:
        raise WrongUse(f"--count {count} is no count of attempts", right="it is 1 or more")
    return 1 if count is None else count


def _time(minutes: float | None) -> float | None:
    if minutes is not None and not 0 <= minutes < 1e9:
        raise WrongUse(f"--minutes {minutes} is no time", right="it is 0 or more")
    return minutes


def _tell(logged: LoggedTries, *, as_json: bool) -> None:
    from advisor.cli.screen import show

    for note in logged.notes:
        warn(note)
    if as_json:
        write_json(_logged_json(logged))
    elif logged.entry is None:
        show(f"this file is entry {logged.known} already; nothing added")
    else:
        came = {(each.route, each.step, each.reached or each.outcome) for each in logged.attempts}
        if len(came) == 1:
            (route, step, outcome), *_ = came
            times = "" if logged.tries == 1 else f" x{logged.tries}"
            show(f"{route}: {step} came to {outcome}{times}")
        word = "attempt" if logged.tries == 1 else "attempts"
        show(
            f"{logged.tries} {word} written down; take back: makeworth log try "
            f"--undo {logged.entry}"
        )


def _logged_json(logged: LoggedTries) -> dict[str, Any]:
    from advisor.times import us_to_rfc3339

    return {
        "entry": logged.entry,
        "known": logged.known,
        "tries": logged.tries,
        "attempts": [
            {
                "at": us_to_rfc3339(each.at_us),
                "route": each.route,
                "step": each.step,
                "stage": each.stage,
                "outcome": each.outcome,
                "reached": each.reached,
                "count": each.tries,
                "minutes": each.minutes,
                "note": each.note,
            }
            for each in logged.attempts
        ],
    }


def _tell_undone(entry: int, tries: int, *, as_json: bool) -> None:
    from advisor.cli.screen import show

    if as_json:
        write_json({"undone": entry, "tries": tries})
    else:
        show(f"entry {entry} taken back: {tries} {'attempt' if tries == 1 else 'attempts'}")


def _show_list(place: Workspace, *, route: str | None, as_json: bool) -> None:
    from advisor.book.attempts import list_entries
    from advisor.cli.price_views import moment
    from advisor.cli.screen import show, show_table
    from advisor.times import us_to_rfc3339

    with place.open_book(read_only=True) as store:
        entries = list_entries(store, route=route)
    if as_json:
        write_json(
            [
                {
                    "entry": each.entry,
                    "written": us_to_rfc3339(each.written_us),
                    "routes": each.routes.split(","),
                    "tries": each.tries,
                    "file": each.file,
                    "undone": None if each.undone_us is None else us_to_rfc3339(each.undone_us),
                }
                for each in entries
            ]
        )
    elif not entries:
        show("no attempts are logged yet")
    else:
        rows = [
            [
                str(each.entry),
                moment(each.written_us, place.settings.timezone),
                each.routes,
                str(each.tries),
                each.file,
                "" if each.undone_us is None else "taken back",
            ]
            for each in entries
        ]
        show_table(["entry", "written", "route", "attempts", "file", ""], rows, right="rllrll")
