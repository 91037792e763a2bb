"""Writes back what an export holds besides quotes; what the book has already stays as it is."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple


class RestoredSetAside(NamedTuple):
    """A row set aside, with the file that it once stood in."""

    file: str
    content_hash: bytes | None
    line: int
    column: str | None
    reason: str
    text: str


def add_set_aside(
    connection: sqlite3.Connection, rows: Iterable[RestoredSetAside], *, batch: int
) -> int:
    """Set rows aside under a batch; the same rows of earlier batches count as taken over.

    Returns: How many.
    """
    before = connection.total_changes
    connection.executemany(
        """INSERT INTO set_aside (batch_id, file, content_hash, line, "column", reason, text)
           VALUES (?, ?, ?, ?, ?, ?, ?)""",
        ((batch, *row) for row in rows),
    )
    added = connection.total_changes - before
    connection.execute(
        """UPDATE set_aside AS earlier SET taken_by = ?1
           WHERE taken_by IS NULL AND batch_id <> ?1 AND EXISTS
               (SELECT 1 FROM set_aside AS restored
                WHERE restored.content_hash IS earlier.content_hash
                  AND restored.line = earlier.line AND restored.file = earlier.file
                  AND restored.text = earlier.text AND restored.batch_id = ?1)""",
        (batch,),
    )
    connection.execute("UPDATE batches SET set_aside = set_aside + ? WHERE id = ?", (added, batch))
    return added


def add_layouts(
    connection: sqlite3.Connection, layouts: Iterable[tuple[str, str, str, int]]
) -> None:
    """Save layouts (name, header and columns as JSON, when); names that are taken stay."""
    connection.executemany(
        """INSERT INTO layouts (name, header, columns, at_us) VALUES (?, ?, ?, ?)
           ON CONFLICT (name) DO NOTHING""",
        layouts,
    )


def add_rulings(connection: sqlite3.Connection, rulings: Iterable[tuple[bytes, str, int]]) -> None:
    """Note rulings (fingerprint, verdict, when) that the book has not; the last one counts."""
    connection.executemany(
        """INSERT INTO quote_overrules (fingerprint, verdict, at_us) VALUES (?, ?, ?)
           ON CONFLICT DO NOTHING""",
        rulings,
    )
