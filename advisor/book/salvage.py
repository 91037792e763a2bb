"""Takes out of a damaged book what can still be read."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.book.faults import book_faults
from advisor.book.whole_book import QUOTE_COLUMNS, NamesById, WholeQuote, sound_quote

CHUNK_ROWS = 4096
LARGEST_ID = 2**40


@dataclass
class Salvage:
    """A damaged book, read piece by piece.

    Attributes:
        lost: Rows that could not be read so far, or were not what was once
            written; at least so many, since a lost page does not tell.
    """

    connection: sqlite3.Connection
    lost: int = 0

    def quotes(self) -> Iterator[WholeQuote]:
        """Every quote that is still what was once written, in the order it came in."""
        names = NamesById.from_rows(
            list(self.rows("items", "id, name, key")), list(self.rows("traders", "id, name, key"))
        )
        for row in self.rows("quotes", QUOTE_COLUMNS):
            quote = sound_quote(row, names)
            if quote is None:
                self.lost += 1
            else:
                yield quote

    def rows(self, table: str, columns: str) -> Iterator[tuple[Any, ...]]:
        """Every readable row of a table with an id, by id; the others are counted as lost."""
        yield from self._between(table, columns, low=0, high=LARGEST_ID)

    def small_table(self, query: str) -> list[tuple[Any, ...]]:
        """All rows of a query, or none where any of them is damaged."""
        try:
            return self.connection.execute(query).fetchall()
        except sqlite3.DatabaseError:
            self.lost += 1
            return []

    def _between(
        self, table: str, columns: str, *, low: int, high: int
    ) -> Iterator[tuple[Any, ...]]:
        """Rows with low <= id < high, halving the range around what cannot be read."""
        if high - low > CHUNK_ROWS and self._is_empty(table, low=low, high=high):
            return
        if high - low <= CHUNK_ROWS:
            try:
                query = f"SELECT {columns} FROM {table} WHERE id >= ? AND id < ? ORDER BY id"  # noqa: S608
                rows = self.connection.execute(query, (low, high)).fetchall()
            except sqlite3.DatabaseError:
                if high - low == 1:
                    self.lost += 1
                    return
            else:
                yield from rows
                return
        middle = (low + high) // 2
        yield from self._between(table, columns, low=low, high=middle)
        yield from self._between(table, columns, low=middle, high=high)

    def _is_empty(self, table: str, *, low: int, high: int) -> bool:
        """Whether a range surely has no rows; one that cannot be read may have some."""
        query = f"SELECT id FROM {table} WHERE id >= ? AND id < ? LIMIT 1"  # noqa: S608
        try:
            return self.connection.execute(query, (low, high)).fetchone() is None
        except sqlite3.DatabaseError:
            return False


@contextmanager
def open_damaged(path: Path) -> Iterator[Salvage]:
    """Open a book without asking whether it is whole; nothing is written to it.

    Raises: BookFault: so damaged that nothing can be read.
    """
    with book_faults(path):
        uri = f"{path.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as connection:
            connection.text_factory = _readable_text
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
            yield Salvage(connection)


def _readable_text(raw: bytes) -> str:
    return raw.decode("utf-8", errors="replace")
