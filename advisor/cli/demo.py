"""`makeworth demo`: the whole job on the sample prices, in a new folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli.options import JsonOption, new_app, write_json

app = new_app()


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="A new folder.")] = Path(
        "harrow-fen"
    ),
    as_json: JsonOption = False,
) -> None:
    """Make a workspace with sample prices, advise on the storm lantern, write the pages.

    The town of Harrow Fen and all its prices are invented.
    """
    from advisor.cli.craft_views import show_craft
    from advisor.cli.progress import show_progress
    from advisor.cli.screen import show
    from advisor.tasks.crafting import advise_craft
    from advisor.tasks.demonstrating import LAST_DAY, PIECE, make_demo
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.reporting import report_workspace
    from advisor.tasks.routing import read_routes

    with show_progress("taking in the sample prices") as on_file:
        made = make_demo(folder, on_file=on_file)
    answer = advise_craft(
        read_routes(made.workspace), read_pricing(made.workspace, as_of=LAST_DAY), piece=PIECE
    )
    with show_progress("writing pages") as on_part:
        written = report_workspace(made.workspace, as_of=LAST_DAY, on_part=on_part)
    if as_json:
        from advisor.tasks.craft_json import craft_json

        write_json(
            {
                "workspace": str(folder),
                "imports": [each.to_json() for each in made.imports],
                "craft": craft_json(answer),
                "report": str(written.index),
            }
        )
        return
    show(f"A workspace in {folder}: an invented town, its prices up to {LAST_DAY}.")
    for each in made.imports:
        show(
            f"  {Path(each.file).name:<16} {each.added:>5} quotes new, {each.known:>3} known, "
            f"{each.set_aside_count:>2} rows set aside"
        )
    show()
    show_craft(answer)
    show()
    _show_next(folder, written.index)


def _show_next(folder: Path, index: Path) -> None:
    import os
    import shlex

    from advisor.cli.screen import show
    from advisor.tasks.demonstrating import LAST_DAY

    place = shlex.quote(str(folder))
    page = os.path.relpath(index)
    show(f"Pages to look at: {page}")
    show()
    show("Try next:")
    show(f"  cd {place}")
    show(f"  makeworth prices --as-of {LAST_DAY}")
    show(f"  makeworth prices frostglass --quotes --as-of {LAST_DAY}")
    show(f"  makeworth route storm-lantern-etched --budget 600 --as-of {LAST_DAY}")
    show(f'  makeworth advise craft "storm lantern" --price "etching salt=2" --as-of {LAST_DAY}')
    show("  makeworth import --set-aside")
