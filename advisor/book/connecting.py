"""How the book's file is connected to: to write, to read only, and made where it is missing."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from advisor.book.schema import apply_changes

# Another process may be in the middle of a large import: wait for it this long.
WAIT_SECONDS = 60.0
CACHE_KIB = 64 * 1024


def connect(
    path: Path,
    *,
    mode: str = "rw",
    then: Callable[[sqlite3.Connection, Path], object] | None = None,
) -> sqlite3.Connection:
    """Connect in autocommit mode, every commit on the disk before it is acknowledged.

    Args:
        mode: SQLite's: "rw", "rwc" (make the file), "ro", "ro&immutable=1".
        then: What to do first; should it fail, the connection is closed.
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=WAIT_SECONDS,
        isolation_level=None,
    )
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        # FULL, so that a commit also survives a power cut.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        if then is not None:
            then(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def connect_to_read(path: Path) -> sqlite3.Connection:
    """Connect without changing what the book says; works where nothing may be written.

    Where SQLite may not even make its own files beside the book, and none is
    there with pages of the book in it, the book is read as one that nobody changes.
    """
    try:
        return connect(path, then=_only_read)
    except sqlite3.OperationalError:
        journal = path.with_name(path.name + "-wal")
        pending = journal.exists() and journal.stat().st_size > 0
        return connect(path, mode="ro" if pending else "ro&immutable=1", then=_only_read)


def _only_read(connection: sqlite3.Connection, path: Path) -> None:
    connection.execute("PRAGMA query_only = ON")
    connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()


def create_book(path: Path) -> None:
    """Make an empty book: aside first, so that no kill and no other process meets half of it."""
    aside = path.with_name(f".new-{path.name}-{secrets.token_hex(8)}")
    try:
        connect(aside, mode="rwc", then=_lay_out).close()
        with suppress(FileExistsError):
            _put_in_place(aside, path)
    finally:
        aside.unlink(missing_ok=True)


def _lay_out(connection: sqlite3.Connection, path: Path) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    apply_changes(connection, path)


def _put_in_place(aside: Path, path: Path) -> None:
    try:
        path.hardlink_to(aside)
    except FileExistsError:
        raise
    except OSError:  # a disk that knows no second names
        if not path.exists():
            aside.rename(path)
