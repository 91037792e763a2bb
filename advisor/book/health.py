"""Notices a damaged book before anything is answered from it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from advisor.book.faults import damaged
from advisor.book.schema import BOOK_MARK
from advisor.errors import BookFault

SQLITE_MAGIC = b"SQLite format 3\x00"
HEADER_BYTES = 100


def refuse_damage(path: Path) -> None:
    """Look at the file itself: is it there, is it a book, is it whole?

    Source: SQLite database file format, section 1.3 (the database header).

    Raises: BookFault: with the way back.
    """
    if not path.exists():
        raise BookFault(
            "there is no book yet",
            right="take prices in first: makeworth quote, or import",
            file=path,
        )
    with path.open("rb") as file:
        header = file.read(HEADER_BYTES)
    if len(header) < HEADER_BYTES or not header.startswith(SQLITE_MAGIC):
        raise damaged(path, "it is empty" if not header else "it is not a database")
    mark = int.from_bytes(header[68:72], "big")
    if mark != BOOK_MARK and not _journal_pending(path):
        raise BookFault(
            "this database is not a book of Makeworth", right="choose another file", file=path
        )
    pages = int.from_bytes(header[28:32], "big")
    page_bytes = int.from_bytes(header[16:18], "big")
    page_bytes = 65536 if page_bytes == 1 else page_bytes
    if path.stat().st_size < pages * page_bytes and not _journal_pending(path):
        raise damaged(path, "its end is missing")


def _journal_pending(path: Path) -> bool:
    """Whether pages of the book still wait beside it: then its header is not the last word."""
    journal = path.with_name(path.name + "-wal")
    return journal.exists() and journal.stat().st_size > 0


def refuse_inner_damage(connection: sqlite3.Connection, path: Path) -> None:
    """Walk through every page; takes about a second for a few million quotes.

    Raises: BookFault: with the first fault that SQLite names.
    """
    said = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if said != "ok":
        raise damaged(path, " ".join(str(said).split()))
