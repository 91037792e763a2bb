"""`makeworth report`: pages to look at, and guides to hand to others."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.options import AsOfOption, JsonOption, WorkspaceOption, new_app, write_json

app = new_app()

FolderOption = Annotated[
    Path | None,
    typer.Option("--to", metavar="DIR", help="Where to; default the workspace's reports/."),
]
OpenOption = Annotated[bool, typer.Option("--open", help="Open it in a browser.")]


@app.callback(invoke_without_command=True)
def report(
    context: typer.Context,
    *,
    folder: FolderOption = None,
    open_it: OpenOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write HTML pages: what to do today, and a page for all that it rests on; they open offline.

    With "guide ROUTE", a route is written out for others instead.
    """
    if context.invoked_subcommand is not None:
        _refuse_misplaced(folder, open_it, as_of, as_json=as_json)
        context.obj = workspace
        return
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
        _open(written.index)


def _refuse_misplaced(
    folder: Path | None, open_it: bool, as_of: str | None, *, as_json: bool
) -> None:
    """Options before the word guide would be forgotten."""
    from advisor.errors import WrongUse

    given = (("--to", folder), ("--open", open_it), ("--as-of", as_of), ("--json", as_json))
    for option, value in given:
        if value:
            raise WrongUse(
                f"{option} stands before guide", right=f"makeworth report guide ROUTE {option}"
            )


@app.command()
def guide(
    context: typer.Context,
    route: Annotated[str, typer.Argument(metavar="ROUTE", help="A file in routes/.")],
    *,
    folder: FolderOption = None,
    open_it: OpenOption = False,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a route out for others, as HTML and Markdown.

    It says what it makes and what one must know of the pool, the steps with their odds and
    what to do on each outcome, a shopping list, what it costs today and on a bad night, where
    one may stop or sell, and the prices it rests on.
    """
    from advisor.cli.screen import show
    from advisor.tasks.guiding import guide_route
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace or context.obj)
    made = guide_route(place, route, as_of=as_of, folder=folder)
    if as_json:
        written = [str(each) for each in made.written]
        write_json({"html": str(made.page), "markdown": str(made.text), "written": written})
    else:
        show(f"{len(made.written)} files written, {2 - len(made.written)} as they were")
        show(f"open {made.page}")
        show(f"read {made.text}")
    if open_it:
        _open(made.page)


def _open(page: Path) -> None:
    import webbrowser

    if not webbrowser.open(page.absolute().as_uri()):
        sys.stderr.write("note: no browser could be opened\n")
