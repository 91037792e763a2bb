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
    from advisor.cli.screen import show
    from advisor.tasks.exported_files import QUOTES_FILE
    from advisor.tasks.exporting import export_book

    done = export_book(workspace, folder, salvage=salvage)
    show(
        f"{done.quotes} quotes in {folder / QUOTES_FILE}, with {done.set_aside} rows set aside, "
        f"{done.layouts} layouts, {done.rulings} rulings and {done.other} other rows beside it"
    )
    show(f"To have the book again: makeworth import {shlex.quote(str(folder))}")
    if done.lost:
        warn(f"the damaged book could not be read in {done.lost} places; what stood there is lost")
