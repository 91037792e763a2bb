"""What was taken in and when: batches, and the rows they set aside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.book.store import Store


@dataclass(frozen=True, slots=True)
class Batch:
    """One file taken in, or quotes typed at one time (layout "hand", file "")."""

    batch: int
    file: str
    layout: str
    at_us: int
    added: int
    known: int
    set_aside: int
    undone_us: int | None


@dataclass(frozen=True, slots=True)
class SetAside:
    """One row that could not be read, kept with the reason and its raw text.

    Attributes:
        content_hash: Of the file that it stood in.
    """

    id: int
    batch: int
    file: str
    content_hash: bytes | None
    line: int
    column: str | None
    reason: str
    text: str


def list_batches(store: Store) -> list[Batch]:
    """Every batch, first to last; the ones taken back among them."""
    rows = store.connection.execute(
        """SELECT id, file, layout, at_us, added, known, set_aside, undone_us
           FROM batches ORDER BY id"""
    )
    return [Batch(*row) for row in rows]


def batches_of_content(store: Store, content_hash: bytes) -> list[int]:
    """The batches, not taken back, that a file of these very bytes came in by."""
    rows = store.connection.execute(
        "SELECT id FROM batches WHERE content_hash = ? AND undone_us IS NULL ORDER BY id",
        (content_hash,),
    )
    return [batch for (batch,) in rows]


def list_set_aside(store: Store, batch: int | None = None) -> list[SetAside]:
    """Rows still set aside, of one batch or of all, in the order they came."""
    rows = store.connection.execute(
        """SELECT id, batch_id, file, content_hash, line, "column", reason, text
           FROM set_aside
           WHERE taken_by IS NULL AND (?1 IS NULL OR batch_id = ?1)
           ORDER BY id""",
        (batch,),
    )
    return [SetAside(*row) for row in rows]


def mark_taken(store: Store, rows: Iterable[int], *, by_batch: int) -> None:
    """Note that rows set aside came in by a later batch, such as a corrected file.

    Taking that batch back sets them aside again.

    Args:
        rows: `SetAside.id` of each.
    """
    with store.writing() as connection:
        connection.executemany(
            "UPDATE set_aside SET taken_by = ? WHERE id = ? AND taken_by IS NULL",
            ((by_batch, row) for row in rows),
        )
