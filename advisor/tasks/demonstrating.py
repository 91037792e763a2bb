"""The demo: a workspace in a new folder that holds the sample of Harrow Fen."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

from advisor.book.settings_file import read_settings
from advisor.errors import BadInput
from advisor.tasks.importing import ImportReport, import_file
from advisor.tasks.starting import ROUTE_FILE, start_workspace
from advisor.tasks.workspace import Workspace

PIECE = "storm lantern"
LAST_DAY = "2026-10-30"
"""The sample's last day: the date of the demo's answers."""

PRICE_FILES = (
    "spring-fair.csv",
    "autumn-fair.csv",
    "evening-hall.csv",
    "stall-book.csv",
    "guild-sheet.xlsx",
)


@dataclass(frozen=True)
class Demo:
    """The demo's workspace, ready to answer."""

    workspace: Workspace
    imports: tuple[ImportReport, ...]


def make_demo(folder: Path, *, on_file: Callable[[str], None] | None = None) -> Demo:
    """Make a workspace in a new folder and take in the sample, all five layouts.

    Args:
        on_file: Called with the name of each price file before it is taken in.
    Raises: BadInput: the folder is in use or cannot be made.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput(
            "the demo wants a new folder, this one is in use",
            right="name another: makeworth demo DIR",
            file=folder,
        )
    start_workspace(folder, money="shell", timezone="Europe/Lisbon")
    with as_file(files("sample_prices")) as sample:
        _copy_files(sample, folder)
        workspace = Workspace(folder.absolute(), read_settings(folder / "makeworth.toml"))
        return Demo(workspace, tuple(_take_in(workspace, sample / "inbox", on_file)))


def _copy_files(sample: Path, folder: Path) -> None:
    (folder / "routes" / ROUTE_FILE).unlink()
    shutil.copyfile(sample / "makeworth.toml", folder / "makeworth.toml")
    for kind in ("routes", "pools"):
        for file in sorted((sample / kind).glob("*.toml")):
            shutil.copyfile(file, folder / kind / file.name)


def _take_in(
    workspace: Workspace, inbox: Path, on_file: Callable[[str], None] | None
) -> Iterable[ImportReport]:
    for name in PRICE_FILES:
        if on_file is not None:
            on_file(name)
        yield import_file(workspace, inbox / name)
