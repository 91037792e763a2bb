"""Takes out of a damaged book what can still be read."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.book.faults import book_faults
from advisor.book.kept_tables import KeptTable, Row, columns_of, list_of, named_rows
from advisor.book.whole_book import QUOTE_COLUMNS, NamesById, WholeQuote, sound_quote

CHUNK_ROWS = 4096
SMALLEST_ROW_BYTES = 16


@dataclass
class Salvage:
    """A damaged book, read piece by piece.

    Attributes:
        lost: Places that could not be read so far: stretches of a table, and
            quotes that are not what was once written.
    """

    connection: sqlite3.Connection
    lost: int = 0
    _stretch_end: tuple[str, int] = ("", 0)

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
        """Every readable row of a table with an id, by id."""
        return self._between(table, columns, low=0, high=self._beyond_last_id(table))

    def kept_rows(self, table: KeptTable) -> Iterator[Row]:
        """Every readable row of a kept table."""
        columns = columns_of(self.connection, table)
        return named_rows(
            table,
            columns,
            rows=self.rows(table.name, list_of(columns)),
            names_of=lambda other: ((row[0], row[1]) for row in self.rows(other, "id, name")),
        )

    def small_table(self, query: str) -> list[tuple[Any, ...]]:
        """All rows of a query, or none where any of them is damaged."""
        try:
            return self.connection.execute(query).fetchall()
        except sqlite3.DatabaseError:
            self.lost += 1
            return []

    def _beyond_last_id(self, table: str) -> int:
        """A number over every id; a guess from the size of the book where its end is damaged."""
        try:
            last = self.connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]  # noqa: S608
            return (last or 0) + 1
        except sqlite3.DatabaseError:
            pages, page_bytes = (
                self.connection.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("page_count", "page_size")
            )
            return int(pages * page_bytes // SMALLEST_ROW_BYTES)

    def _between(
        self, table: str, columns: str, *, low: int, high: int
    ) -> Iterator[tuple[Any, ...]]:
        """Rows with low <= id < high, halving the range around what cannot be read."""
        if high - low <= CHUNK_ROWS:
            query = f"SELECT {columns} FROM {table} WHERE id >= ? AND id < ? ORDER BY id"  # noqa: S608
            try:
                yield from self.connection.execute(query, (low, high)).fetchall()
                return
            except sqlite3.DatabaseError:
                if high - low == 1:
                    self._lose(table, low)
                    return
        middle = (low + high) // 2
        yield from self._between(table, columns, low=low, high=middle)
        yield from self._between(table, columns, low=middle, high=high)

    def _lose(self, table: str, row_id: int) -> None:
        """Count a stretch of ids that cannot be read once."""
        if self._stretch_end != (table, row_id):
            self.lost += 1
        self._stretch_end = (table, row_id + 1)


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
