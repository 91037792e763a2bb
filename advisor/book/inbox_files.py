"""Which files of the inbox the book has taken in that are still to be put away.

A row lands in the same transaction as the file's quotes, and goes when the file
has been moved: so that whatever happens between, no file is taken in twice.
"""

from __future__ import annotations

from advisor.book.store import Store


def is_taken(store: Store, name: str, content_hash: bytes) -> bool:
    """Whether this very file has been taken in and only waits to be put away."""
    row = store.connection.execute(
        "SELECT 1 FROM inbox_files WHERE name = ? AND content_hash = ?", (name, content_hash)
    ).fetchone()
    return row is not None


def note_taken(store: Store, name: str, content_hash: bytes, *, batch: int | None) -> None:
    """Note it, inside the transaction that takes it in."""
    with store.writing() as connection:
        connection.execute(
            "INSERT INTO inbox_files (name, content_hash, batch_id) VALUES (?, ?, ?)",
            (name, content_hash, batch),
        )


def forget_put_away(store: Store, name: str) -> None:
    """The file is out of the inbox."""
    with store.writing() as connection:
        connection.execute("DELETE FROM inbox_files WHERE name = ?", (name,))


def names_taken(store: Store) -> list[str]:
    """Names of the files that wait to be put away."""
    return [name for (name,) in store.connection.execute("SELECT name FROM inbox_files")]
