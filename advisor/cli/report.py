"""`makeworth report`: pages to look at."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.options import AsOfOption, JsonOption, WorkspaceOption, new_app, write_json

app = new_app()


@app.command()
def report(
    *,
    folder: Annotated[
        Path | None,
        typer.Option("--to", metavar="DIR", help="Where to; default the workspace's reports/."),
    ] = None,
    open_it: Annotated[
        bool, typer.Option("--open", help="Open the first page in a browser.")
    ] = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write HTML pages: what to do today, a page per piece and per item. They open offline."""
    from advisor.cli.progress import show_progress
    from advisor.cli.screen import show
    from advisor.tasks.reporting import report_workspace
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    with show_progress("writing pages") as on_part:
        written = report_workspace(place, as_of=as_of, folder=folder, on_part=on_part)
    if as_json:
        write_json(
            {
                "index": str(written.index),
                "written": [str(each) for each in written.written],
                "unchanged": [str(each) for each in written.unchanged],
                "removed": [str(each) for each in written.removed],
            }
        )
    else:
        show(f"{len(written.written)} files written, {len(written.unchanged)} as they were")
        show(f"open {written.index}")
    if open_it:
        import webbrowser

        if not webbrowser.open(written.index.absolute().as_uri()):
            sys.stderr.write("note: no browser could be opened\n")
