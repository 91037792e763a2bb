"""The workspace: which folder it is, and what is in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path

from advisor.book.settings import SETTINGS_FILE, Settings
from advisor.book.settings_file import read_settings
from advisor.book.settling import has_other_spellings, settle_spellings
from advisor.book.store import Store, open_store
from advisor.errors import BadInput, BookFault

WORKSPACE_VARIABLE = "MAKEWORTH_WORKSPACE"
BOOK_FILE = "book.db"
FOLDERS = ("routes", "pools", "inbox", "reports")


@dataclass(frozen=True, slots=True)
class Workspace:
    """A workspace's folder and settings; the book is opened when it is needed."""

    folder: Path
    settings: Settings

    @property
    def book(self) -> Path:
        """The book's file."""
        return self.folder / BOOK_FILE

    @property
    def routes(self) -> Path:
        """Where the route files are."""
        return self.folder / "routes"

    @property
    def pools(self) -> Path:
        """Where the pool files are."""
        return self.folder / "pools"

    @property
    def inbox(self) -> Path:
        """Where `watch` looks for new files."""
        return self.folder / "inbox"

    @property
    def reports(self) -> Path:
        """Where reports are written."""
        return self.folder / "reports"

    @contextmanager
    def open_book(self, *, read_only: bool = False) -> Iterator[Store]:
        """Open the book; where there is none yet, writing makes it.

        Quotes under a spelling that the settings have since given to another item
        are moved to that item first.

        Args:
            read_only: Works in a folder that cannot be written to, if the book is there.
        Raises: BookFault: damaged, newer than this program, not to be read or written.
        """
        read_only = read_only and self.book.exists()
        with open_store(self.book, create=not read_only, read_only=read_only) as store:
            if has_other_spellings(store, self.settings):
                # Where nothing may be written, the book is read as it stands.
                with (
                    suppress(BookFault) if read_only else nullcontext(),
                    open_store(self.book) as other,
                ):
                    settle_spellings(other, self.settings)
            yield store


def find_workspace(option: str | None) -> Path:
    """The folder of the workspace to use.

    Args:
        option: What --workspace says; else the environment's MAKEWORTH_WORKSPACE,
            else the nearest folder from here upwards that has settings.
    Raises: BadInput: there is none.
    """
    if option is not None:
        return _with_settings(Path(option), told_by="--workspace")
    told = os.environ.get(WORKSPACE_VARIABLE)
    if told:
        return _with_settings(Path(told), told_by="the workspace named")
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / SETTINGS_FILE).is_file():
            return folder
    raise BadInput(
        f"no workspace in {here} or above it", right="make one: makeworth start DIR, then cd DIR"
    )


def open_workspace(option: str | None) -> Workspace:
    """Find the workspace and read its settings.

    Raises: BadInput: no workspace, or settings that cannot be meant.
    """
    folder = find_workspace(option).absolute()
    return Workspace(folder, read_settings(folder / SETTINGS_FILE))


def _with_settings(folder: Path, *, told_by: str) -> Path:
    if (folder / SETTINGS_FILE).is_file():
        return folder
    what = (
        f"{told_by} names a folder without {SETTINGS_FILE}"
        if folder.is_dir()
        else (f"{told_by} names no folder")
    )
    raise BadInput(what, right=f"make a workspace there: makeworth start {folder}", file=folder)
