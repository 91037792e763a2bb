"""`makeworth start`: a new workspace."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.options import new_app

app = new_app()


@app.command()
def start(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or an empty folder.")],
    money: Annotated[
        str, typer.Option("--money", metavar="NAME", help="What everything is valued in.")
    ] = "shell",
    timezone: Annotated[
        str | None,
        typer.Option(
            "--timezone",
            metavar="NAME",
            help="How dates are read, such as Europe/Lisbon; else as this computer is set.",
        ),
    ] = None,
) -> None:
    """Make a new workspace: commented settings, one worked route to change, and a book."""
    from advisor.cli.screen import show
    from advisor.tasks.starting import ROUTE_FILE, start_workspace

    made = start_workspace(folder, money=money, timezone=timezone)
    told = f"""A workspace in {folder}
  makeworth.toml             settings, each explained; money is {made.money},
                             dates are read in {made.timezone}
  routes/{ROUTE_FILE:<19} a worked route to change
  book.db                    the prices you take in

Try next:
  cd {shlex.quote(str(folder))}
  makeworth quote "lantern frame 2.4 x60" "binding wax 7/3"
  makeworth prices"""
    for line in told.splitlines():
        show(line)
