"""`makeworth export`: the whole book as plain files."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.options import WorkspaceOption, new_app, warn

app = new_app()


@app.command()
def export(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or an empty folder.")],
    workspace: WorkspaceOption = None,
    salvage: Annotated[
        bool, typer.Option("--salvage", help="Take what can be read from a damaged book.")
    ] = False,
) -> None:
    """Write the whole book as plain files, from which `import DIR` makes it again."""
    from advisor.cli.screen import printable, show_wrapped, unbroken
    from advisor.figures import counted
    from advisor.tasks.exported_files import QUOTES_FILE
    from advisor.tasks.exporting import export_book

    done = export_book(workspace, folder, salvage=salvage)
    beside = (
        f"{counted(done.set_aside, 'row')} set aside, {counted(done.layouts, 'layout')}, "
        f"{counted(done.rulings, 'ruling')} and {counted(done.other, 'other row')} beside it"
    )
    quotes = counted(done.quotes, "quote")
    show_wrapped(printable(f"{quotes} in {folder / QUOTES_FILE}, with {beside}"))
    command = unbroken(printable(f"makeworth import {shlex.quote(str(folder))}"))
    show_wrapped(f"To have the book again: {command}")
    if done.lost:
        places = counted(done.lost, "place")
        warn(f"the damaged book could not be read in {places}; what stood there is lost")
