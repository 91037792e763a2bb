"""What SQLite says when something goes wrong, as one sentence a user can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from advisor.book.copies import newest_copy
from advisor.errors import BookFault

_NOTHING_LOST = "nothing was changed"


@contextmanager
def book_faults(path: Path) -> Iterator[None]:
    """Turn every SQLite error inside the block into a BookFault about the book at `path`."""
    try:
        yield
    except sqlite3.Error as error:
        raise fault_of(error, path) from error


def fault_of(error: sqlite3.Error, path: Path) -> BookFault:
    """The BookFault for one SQLite error, told by its primary result code."""
    code = getattr(error, "sqlite_errorcode", None)
    tell = _TOLD.get(code & 0xFF) if code is not None else None
    if code is None and "decode" in str(error):
        return damaged(path, "a text in it is not readable")
    if tell is None:
        return BookFault(f"the book could not be used ({error})", right=_NOTHING_LOST, file=path)
    return tell(path, str(error))


def damaged(path: Path, said: str) -> BookFault:
    """The book is damaged: what was found, and the way back."""
    copy = newest_copy(path)
    if copy is None:
        way = "put your own copy of it back, or take out what can be read: makeworth export DIR"
    else:
        way = f"the newest copy is {copy}; put it back as {path.name}"
        way += ", or take out what can be read: makeworth export DIR"
    return BookFault(f"the book is damaged ({said})", right=f"{way} --salvage", file=path)


def _full(path: Path, said: str) -> BookFault:
    return BookFault(
        "no room left on the disk", right=f"{_NOTHING_LOST}; make room and try again", file=path
    )


def _io(path: Path, said: str) -> BookFault:
    return BookFault(
        f"the disk refused to read or write ({said})",
        right=f"{_NOTHING_LOST}; see that the disk is sound and has room",
        file=path,
    )


def _read_only(path: Path, said: str) -> BookFault:
    return BookFault(
        "the book or its folder cannot be written to",
        right=f"{_NOTHING_LOST}; allow writing in {path.parent}",
        file=path,
    )


def _cannot_open(path: Path, said: str) -> BookFault:
    return BookFault(
        "the book cannot be opened",
        right=f"see that {path.parent} may be read and written",
        file=path,
    )


def _busy(path: Path, said: str) -> BookFault:
    return BookFault(
        "another makeworth is writing to the book",
        right=f"{_NOTHING_LOST}; try again when it has ended",
        file=path,
    )


def _not_a_book(path: Path, said: str) -> BookFault:
    return damaged(path, "it is not a database")


_TOLD: dict[int, Callable[[Path, str], BookFault]] = {
    sqlite3.SQLITE_FULL: _full,
    sqlite3.SQLITE_IOERR: _io,
    sqlite3.SQLITE_READONLY: _read_only,
    sqlite3.SQLITE_PERM: _read_only,
    sqlite3.SQLITE_CANTOPEN: _cannot_open,
    sqlite3.SQLITE_BUSY: _busy,
    sqlite3.SQLITE_LOCKED: _busy,
    sqlite3.SQLITE_CORRUPT: damaged,
    sqlite3.SQLITE_NOTADB: _not_a_book,
}
