"""Whether what answers rest on has changed: the book, settings, routes and pools."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from advisor.book.changes_seen import BookState, read_state
from advisor.book.settings import SETTINGS_FILE
from advisor.tasks.workspace import Workspace

Stamp = tuple[str, int, int]


@dataclass
class Sources:
    """Remembers what was there at the last look; looks at files before it opens any."""

    _stamps: tuple[Stamp, ...] = ()
    _book_stamps: tuple[Stamp, ...] = ()
    _state: BookState = ()
    _settings: tuple[Stamp, ...] = field(default=())

    def settings_changed(self, folder: Path) -> bool:
        """Whether the settings are not the ones of the last look."""
        stamps = _stamps([folder / SETTINGS_FILE])
        changed, self._settings = stamps != self._settings, stamps
        return changed

    def changed(self, workspace: Workspace) -> bool:
        """Whether anything is not as it was; the first look says yes.

        Raises: BookFault: the book cannot be read.
        """
        files = [workspace.folder / SETTINGS_FILE]
        for folder in (workspace.routes, workspace.pools):
            files += sorted(folder.glob("*.toml"))
        stamps = _stamps(files)
        changed, self._stamps = stamps != self._stamps, stamps
        return self._book_changed(workspace) or changed

    def _book_changed(self, workspace: Workspace) -> bool:
        book = workspace.book
        stamps = _stamps([book, book.with_name(book.name + "-wal")])
        if stamps == self._book_stamps or not book.exists():
            return False
        with workspace.open_book(read_only=True) as store:
            state = read_state(store)
        self._book_stamps = stamps
        changed, self._state = state != self._state, state
        return changed


def _stamps(files: list[Path]) -> tuple[Stamp, ...]:
    found = []
    for file in files:
        with suppress(OSError):
            said = file.stat()
            found.append((file.name, said.st_size, said.st_mtime_ns))
    return tuple(found)
