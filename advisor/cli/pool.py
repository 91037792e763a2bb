"""`makeworth pool`: what can be drawn onto a base, and how likely."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.options import JsonOption, WorkspaceOption, new_app, write_json

app = new_app()


@app.command()
def pool(
    name: Annotated[str, typer.Argument(metavar="POOL", help="A file in pools/.")],
    *,
    base: Annotated[
        str | None, typer.Option("--base", metavar="ITEM", help="On this base only.")
    ] = None,
    item_level: Annotated[
        int | None,
        typer.Option("--item-level", metavar="N", help="Of the base; else the highest needed."),
    ] = None,
    want: Annotated[
        str | None,
        typer.Option("--want", metavar="LIST", help='All of these, like "flame:2, chime".'),
    ] = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What can be drawn: the chance of each affix, and from which item level on."""
    from advisor.tasks.pools import answer_pool, pool_json
    from advisor.tasks.workspace import open_workspace

    answer = answer_pool(
        open_workspace(workspace), name, base=base, item_level=item_level, want=want
    )
    if as_json:
        write_json(pool_json(answer))
    else:
        from advisor.cli.pool_views import show_pool

        show_pool(answer)
