"""Takes quotes in, a batch at a time, and takes a batch back whole."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from advisor.book.columns import quote_columns
from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.times import now_us

if TYPE_CHECKING:
    import polars as pl

    from advisor.quotes import Quote

SetAsideRow = Sequence[int | str | None]

INSERT_QUOTE = """
    INSERT INTO quotes (item_id, at_us, price, price_value, money_id, side, qty,
                        trader_id, source, note, batch_id, fingerprint)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (fingerprint) DO NOTHING"""


class ReadChunk(Protocol):
    """A part of a file as read.

    Attributes:
        rows: Columns at_us, item, price (canonical text), price_value, money,
            side, qty, trader, source, note; others are left out.
        set_aside: (line, column or None, reason, raw text) of each unreadable row;
            what may follow is not kept.
    """

    @property
    def rows(self) -> pl.DataFrame: ...  # noqa: D102
    @property
    def set_aside(self) -> Sequence[SetAsideRow]: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class BatchResult:
    """What came of taking in one file; rows = added + known + set_aside.

    Attributes:
        batch: Its number; None for a trial.
        added: Quotes that are new to the book.
        known: Quotes that the book, or the same file further up, already had.
        set_aside: Rows kept unread.
    """

    batch: int | None
    rows: int
    added: int
    known: int
    set_aside: int


@dataclass(frozen=True, slots=True)
class UndoResult:
    """What came of taking a batch back: quotes gone, and quotes another batch also had."""

    batch: int
    removed: int
    kept: int


def add_batch(
    store: Store,
    chunks: Iterable[ReadChunk],
    *,
    file: str,
    content_hash: bytes | None,
    layout: str,
    check: bool = False,
    then: Callable[[BatchResult], None] | None = None,
) -> BatchResult:
    """Take in one file, all or nothing.

    Rows of the same content that an earlier batch had set aside count from now
    on as this batch's, so that no line is set aside twice.

    Args:
        chunks: The file's parts in order; read while the transaction is open.
        content_hash: Of the file's bytes; None for quotes typed by hand.
        check: Count truly, but keep nothing.
        then: What is written down with the batch, in the same transaction; not
            for a trial.
    """
    with store.writing(keep=not check) as connection:
        result = fill_batch(connection, chunks, file=file, content_hash=content_hash, layout=layout)
        if content_hash is not None:
            connection.execute(_TAKE_OVER, (result.batch, content_hash))
        if then is not None and not check:
            then(result)
    return replace(result, batch=None) if check else result


_TAKE_OVER = """
    UPDATE set_aside SET taken_by = ?1
    WHERE taken_by IS NULL AND content_hash = ?2 AND batch_id <> ?1"""


def fill_batch(
    connection: sqlite3.Connection,
    chunks: Iterable[ReadChunk],
    *,
    file: str,
    content_hash: bytes | None,
    layout: str,
) -> BatchResult:
    """Write a batch down inside a transaction that the caller has opened."""
    batch = _open_batch(connection, file=file, content_hash=content_hash, layout=layout)
    read = added = aside = 0
    for chunk in chunks:
        read += chunk.rows.height
        added += _add_rows(connection, chunk.rows, batch=batch)
        connection.executemany(
            _SET_ASIDE, ((batch, file, content_hash, *row[:4]) for row in chunk.set_aside)
        )
        aside += len(chunk.set_aside)
    known = read - added
    connection.execute(
        "UPDATE batches SET added = ?, known = ?, set_aside = ? WHERE id = ?",
        (added, known, aside, batch),
    )
    return BatchResult(batch, read + aside, added, known, aside)


_SET_ASIDE = """
    INSERT INTO set_aside (batch_id, file, content_hash, line, "column", reason, text)
    VALUES (?, ?, ?, ?, ?, ?, ?)"""


def add_quotes(store: Store, quotes: Sequence[Quote]) -> BatchResult:
    """Take in quotes typed by hand, as one batch."""
    from advisor.book.columns import hand_chunk

    return add_batch(store, [hand_chunk(quotes)], file="", content_hash=None, layout="hand")


def undo_batch(store: Store, batch: int) -> UndoResult:
    """Take a batch back whole; a quote that another batch also had stays, as that batch's.

    Rows that this batch had taken over from an earlier one's set-aside are set
    aside again, unless a later batch of the same content has read them too.

    Raises: BadInput: no such batch, or taken back already.
    """
    with store.writing() as connection:
        _refuse_unknown_batch(connection, batch)
        kept = _pass_on_shared(connection, batch)
        removed = connection.execute("DELETE FROM quotes WHERE batch_id = ?", (batch,)).rowcount
        connection.execute("DELETE FROM also_in WHERE batch_id = ?", (batch,))
        connection.execute("UPDATE batches SET undone_us = ? WHERE id = ?", (now_us(), batch))
        connection.execute("DELETE FROM set_aside WHERE batch_id = ?", (batch,))
        connection.execute(_HAND_BACK_SET_ASIDE, (batch,))
    return UndoResult(batch, removed, kept)


# To a later batch of the same content, if one stands; else to the batch they came in by.
_HAND_BACK_SET_ASIDE = """
    UPDATE set_aside SET taken_by =
        (SELECT min(later.id) FROM batches AS later
         WHERE later.content_hash = set_aside.content_hash
           AND later.id > set_aside.batch_id AND later.undone_us IS NULL)
    WHERE taken_by = ?"""


def _open_batch(
    connection: sqlite3.Connection, *, file: str, content_hash: bytes | None, layout: str
) -> int:
    row = connection.execute(
        "INSERT INTO batches (file, content_hash, layout, at_us) VALUES (?, ?, ?, ?) RETURNING id",
        (file, content_hash, layout, now_us()),
    )
    return int(row.fetchone()[0])


def _add_rows(connection: sqlite3.Connection, rows: pl.DataFrame, *, batch: int) -> int:
    """Insert the rows that are new; note for the others that this batch had them too."""
    if rows.height == 0:
        return 0
    columns = quote_columns(connection, rows, batch=batch)
    before = connection.total_changes
    connection.executemany(INSERT_QUOTE, zip(*columns, strict=True))
    added = connection.total_changes - before
    if added < rows.height:
        _note_also_in(connection, columns[-1], batch=batch)
    return added


def _note_also_in(
    connection: sqlite3.Connection, fingerprints: Sequence[bytes], *, batch: int
) -> None:
    connection.executemany(
        """INSERT INTO also_in (quote_id, batch_id)
           SELECT id, ?1 FROM quotes WHERE fingerprint = ?2 AND batch_id <> ?1
           ON CONFLICT DO NOTHING""",
        ((batch, each) for each in fingerprints),
    )


def _refuse_unknown_batch(connection: sqlite3.Connection, batch: int) -> None:
    row = connection.execute("SELECT undone_us FROM batches WHERE id = ?", (batch,)).fetchone()
    if row is None:
        raise BadInput(f"there is no batch {batch}", right="see makeworth import --batches")
    if row[0] is not None:
        raise BadInput(f"batch {batch} has been taken back already")


def _pass_on_shared(connection: sqlite3.Connection, batch: int) -> int:
    """Give the batch's quotes that later batches also had to the first of these."""
    connection.execute(
        """UPDATE quotes SET batch_id = heir.batch_id
           FROM (SELECT quote_id, min(batch_id) AS batch_id FROM also_in GROUP BY quote_id) AS heir
           WHERE quotes.id = heir.quote_id AND quotes.batch_id = ?""",
        (batch,),
    )
    kept = int(connection.execute("SELECT changes()").fetchone()[0])
    connection.execute(
        """DELETE FROM also_in WHERE EXISTS
           (SELECT 1 FROM quotes
            WHERE quotes.id = also_in.quote_id AND quotes.batch_id = also_in.batch_id)"""
    )
    return kept
