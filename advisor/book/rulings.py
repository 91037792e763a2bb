"""The user's own word on a quote: keep it, or drop it, whatever the screen says."""

from __future__ import annotations

from typing import Literal

from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.times import now_us

Verdict = Literal["keep", "drop"]


def rule_quote(store: Store, quote_id: int, *, verdict: Verdict | None) -> None:
    """Set or, with None, lift the user's ruling on one quote.

    It is tied to what the quote says, not to its row: it outlives an undo and
    a new import of the same quote.

    Raises: BadInput: no such quote.
    """
    with store.writing() as connection:
        row = connection.execute(
            "SELECT fingerprint FROM quotes WHERE id = ?", (quote_id,)
        ).fetchone()
        if row is None:
            raise BadInput(
                f"there is no quote {quote_id}", right="see makeworth prices ITEM --quotes"
            )
        if verdict is None:
            connection.execute("DELETE FROM quote_overrules WHERE fingerprint = ?", row)
            return
        connection.execute(
            """INSERT INTO quote_overrules (fingerprint, verdict, at_us) VALUES (?, ?, ?)
               ON CONFLICT (fingerprint) DO UPDATE SET
               verdict = excluded.verdict, at_us = excluded.at_us""",
            (*row, verdict, now_us()),
        )


def ruled_quotes(store: Store) -> dict[int, Verdict]:
    """The user's ruling on each quote, by its row id; quotes without one are left out."""
    rows = store.connection.execute(
        """SELECT quotes.id, verdict FROM quote_overrules
           JOIN quotes USING (fingerprint) ORDER BY quotes.id"""
    )
    return dict(rows.fetchall())
