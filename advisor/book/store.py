"""Opens the book: one SQLite file, its form up to date, its writes all or nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from advisor.book.connecting import connect, connect_to_read, create_book
from advisor.book.faults import book_faults, damaged
from advisor.book.health import refuse_damage, refuse_inner_damage
from advisor.book.schema import FORM, apply_changes, form_of
from advisor.errors import BookFault

# Every page of a book up to this size is looked through on opening: some 20 ms
# to read, some 200 ms to write. Damage in a larger one shows where it is met,
# and export looks through all of it.
LOOKED_THROUGH_TO_READ_BYTES = 8_000_000
LOOKED_THROUGH_TO_WRITE_BYTES = 64_000_000

_WHOLE = ("BEGIN IMMEDIATE", ("COMMIT",), ("ROLLBACK",))
_PART = ("SAVEPOINT part", ("RELEASE part",), ("ROLLBACK TO part", "RELEASE part"))


@dataclass(frozen=True, slots=True)
class Store:
    """An open book.

    Attributes:
        path: The file.
        connection: In autocommit mode; write only inside `writing()`.
    """

    path: Path
    connection: sqlite3.Connection

    @contextmanager
    def writing(self, *, keep: bool = True) -> Iterator[sqlite3.Connection]:
        """One transaction: on leaving the block all of it is on the disk, or none.

        Inside another such block it is a part of that one's transaction, which
        may still be taken back as a whole.

        Args:
            keep: False takes everything back at the end, also when all went well.
        """
        connection = self.connection
        inside_another = connection.in_transaction
        begin, commit, rollback = _PART if inside_another else _WHOLE
        connection.execute(begin)
        try:
            yield connection
            for statement in commit if keep else rollback:
                connection.execute(statement)
        except BaseException:
            # A full disk may have ended the transaction already.
            if connection.in_transaction:
                for statement in rollback:
                    connection.execute(statement)
            raise

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """One unchanging view of the book for several reads, whatever others write."""
        connection = self.connection
        inside_another = connection.in_transaction
        if not inside_another:
            connection.execute("BEGIN")
        try:
            yield connection
        finally:
            # Ending it well keeps what a writing() inside has written.
            if not inside_another and connection.in_transaction:
                connection.execute("COMMIT")


@contextmanager
def open_store(path: Path, *, create: bool = False, read_only: bool = False) -> Iterator[Store]:
    """Open the book at `path`; every SQLite error in the block becomes a BookFault.

    A book of an older form is copied and then changed; one of a newer form is
    refused.

    Args:
        path: The file, usually `book.db` of a workspace.
        create: Make it where there is none.
        read_only: Change nothing; works in a folder that cannot be written to.
    Raises: BookFault: missing, damaged, not a book, newer than this program,
        not to be read or written.
    """
    path = Path(path)
    with book_faults(path):
        connection = _opened_or_told(path, create=create, read_only=read_only)
        try:
            yield Store(path, connection)
        finally:
            connection.close()


def _opened_or_told(path: Path, *, create: bool, read_only: bool) -> sqlite3.Connection:
    try:
        return _opened(path, create=create, read_only=read_only)
    except UnicodeDecodeError as error:
        # What SQLite has to say quotes bytes of the book that are no text.
        raise damaged(path, "its tables cannot be read") from error
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise BookFault(f"the book cannot be opened ({said})", file=path) from None


def _opened(path: Path, *, create: bool, read_only: bool) -> sqlite3.Connection:
    if create and not path.exists():
        create_book(path)
    refuse_damage(path)
    connection = connect_to_read(path) if read_only else connect(path)
    try:
        form = form_of(connection)
        if form > FORM:
            raise BookFault(
                f"the book has form {form}, newer than this Makeworth knows ({FORM})",
                right="update Makeworth: pip install --upgrade makeworth",
                file=path,
            )
        limit = LOOKED_THROUGH_TO_READ_BYTES if read_only else LOOKED_THROUGH_TO_WRITE_BYTES
        if path.stat().st_size <= limit:
            refuse_inner_damage(connection, path)
        if form == FORM:
            return connection
    except BaseException:
        connection.close()
        raise
    connection.close()
    return connect(path, then=apply_changes)
