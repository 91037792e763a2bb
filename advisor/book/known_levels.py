"""What was learned of prices, kept in the book so that it need not be learned again.

Each row stands under the fingerprint of everything it was learned from, so a row
can be out of use but never wrong; any of them may be lost without harm.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path

from advisor.book.store import Store
from advisor.times import now_us

NEWEST_KEPT = 4
"""Rows a family has: for now, for yesterday, and for a what-if or two."""

WAIT_SECONDS = 0.2
"""Where another process writes for longer than this, nothing is kept this time."""


@dataclass(frozen=True)
class KnownLevels:
    """The rows of an open book, and those to be written once it is read.

    Attributes:
        store: The book.
        learned: (family, what was learned of it) by fingerprint.
    """

    store: Store
    learned: dict[bytes, tuple[str, bytes]] = field(default_factory=dict)

    def recall(self, fingerprints: Sequence[bytes]) -> Mapping[bytes, bytes]:
        """What the book has under these."""
        found = {}
        for each in fingerprints:
            row = self.store.connection.execute(
                "SELECT learned FROM known_levels WHERE fingerprint = ?", (each,)
            ).fetchone()
            if row is not None:
                found[each] = bytes(row[0])
        return found

    def keep(self, learned: Mapping[bytes, tuple[str, bytes]]) -> None:
        """Remember what is to be written."""
        self.learned.update(learned)

    def write(self) -> None:
        """Put what was learned into the book if that can be done at once; else it is forgotten."""
        if self.learned:
            with suppress(sqlite3.Error):
                _write_rows(self.store.path, self.learned)


def _write_rows(path: Path, learned: Mapping[bytes, tuple[str, bytes]]) -> None:
    address = f"{path.absolute().as_uri()}?mode=rw"
    with closing(
        sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS, isolation_level=None)
    ) as connection:
        connection.execute("BEGIN IMMEDIATE")
        now = now_us()
        for fingerprint, (family, row) in learned.items():
            connection.execute(
                "INSERT OR REPLACE INTO known_levels VALUES (?, ?, ?, ?)",
                (fingerprint, family, now, row),
            )
            connection.execute(
                """DELETE FROM known_levels WHERE family = ?1 AND fingerprint NOT IN (
                   SELECT fingerprint FROM known_levels WHERE family = ?1
                   ORDER BY made_us DESC, fingerprint LIMIT ?2)""",
                (family, NEWEST_KEPT),
            )
        connection.execute("COMMIT")
