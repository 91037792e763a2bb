"""Days that were replayed, kept in the book so that a replay that was stopped goes on from there.

Each stands under the fingerprint of everything that its advice was made from, so that
one can be out of use but never wrong; any of them may be lost without harm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256

from advisor.book.store import Store

NEWEST_KEPT = 2000
"""Days; the oldest give way to new ones."""

# What advice rests on beside quotes: whole tables, each row with the time it speaks of.
_ROWS_BY_TIME = (
    "SELECT at_us, 'quote', fingerprint, 0 FROM quotes",
    """SELECT attempts.at_us, 'attempt',
              route || '|' || ifnull(step, '') || '|' || ifnull(outcome, ''), tries
       FROM attempts JOIN entries ON entries.id = entry_id WHERE undone_us IS NULL""",
    """SELECT trades.at_us, 'trade',
              trades.kind || '|' || item_id || '|' || qty || '|' || price || '|' || money_id
              || '|' || ifnull(trader_id, ''),
              broken
       FROM trades JOIN entries ON entries.id = entry_id WHERE undone_us IS NULL""",
)


def fingerprints_by_day(store: Store, ends_us: Sequence[int], *, rest: bytes) -> list[bytes]:
    """A fingerprint of all that was known by each of these moments.

    Args:
        ends_us: Ascending.
        rest: What else the answer rests on: settings, routes, the question.
    """
    mark = sha256(rest)
    for row in store.connection.execute("SELECT fingerprint, verdict FROM rulings ORDER BY 1"):
        mark.update(repr(row).encode())
    rows = _rows_in_time(store)
    row = next(rows, None)
    found = []
    for end in ends_us:
        while row is not None and row[0] <= end:
            mark.update(repr(row).encode())
            row = next(rows, None)
        found.append(mark.digest())
    return found


def _rows_in_time(store: Store) -> Iterator[tuple[int, str, object, int]]:
    union = " UNION ALL ".join(_ROWS_BY_TIME)
    yield from store.connection.execute(f"SELECT * FROM ({union}) ORDER BY 1, 2, 3, 4")  # noqa: S608


def keeps_days(store: Store) -> bool:
    """Whether the book has any."""
    return store.connection.execute("SELECT 1 FROM replayed_days LIMIT 1").fetchone() is not None


def recall_days(store: Store, fingerprints: Iterable[bytes]) -> dict[bytes, str]:
    """What the book has under these fingerprints."""
    found = {}
    for each in fingerprints:
        row = store.connection.execute(
            "SELECT advice FROM replayed_days WHERE fingerprint = ?", (each,)
        ).fetchone()
        if row is not None:
            found[each] = str(row[0])
    return found


def keep_day(store: Store, fingerprint: bytes, advice: str) -> None:
    """Keep one day's advice."""
    with store.writing() as connection:
        connection.execute(
            "INSERT OR REPLACE INTO replayed_days (fingerprint, advice) VALUES (?, ?)",
            (fingerprint, advice),
        )
        connection.execute(
            """DELETE FROM replayed_days WHERE id <=
                   (SELECT max(id) FROM replayed_days) - ?""",
            (NEWEST_KEPT,),
        )
