"""Whether the book says something else than before: a few numbers that change when it does."""

from __future__ import annotations

from advisor.book.store import Store

BookState = tuple[int | None, ...]

_STATE = """
    SELECT (SELECT max(id) FROM quotes),
           (SELECT max(id) FROM batches),
           (SELECT count(*) FROM batches WHERE undone_us IS NOT NULL),
           (SELECT max(id) FROM entries),
           (SELECT count(*) FROM entries WHERE undone_us IS NOT NULL),
           (SELECT count(*) FROM quote_overrules)"""


def read_state(store: Store) -> BookState:
    """Numbers that differ after quotes, entries or rulings came in or were taken back."""
    return tuple(store.connection.execute(_STATE).fetchone())
