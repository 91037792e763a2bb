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
    a new import of the same quote. Each ruling is remembered with its time.

    Raises: BadInput: no such quote, or no ruling to lift.
    """
    with store.writing() as connection:
        row = connection.execute(
            "SELECT fingerprint FROM quotes WHERE id = ?", (quote_id,)
        ).fetchone()
        if row is None:
            raise BadInput(
                f"there is no quote {quote_id}", right="see makeworth prices ITEM --quotes"
            )
        stands = connection.execute("SELECT 1 FROM rulings WHERE fingerprint = ?", row).fetchone()
        if verdict is None and stands is None:
            raise BadInput(f"quote {quote_id} is neither kept nor dropped by your word")
        # After the one before, also where the clock was set back.
        connection.execute(
            """INSERT INTO quote_overrules (fingerprint, at_us, verdict)
               SELECT ?1, max(?2, ifnull(max(at_us) + 1, ?2)), ?3
               FROM quote_overrules WHERE fingerprint = ?1""",
            (*row, now_us(), verdict or "lifted"),
        )


def ruled_quotes(store: Store) -> dict[int, Verdict]:
    """The user's ruling on each quote, by its row id; quotes without one are left out."""
    rows = store.connection.execute(
        """SELECT quotes.id, verdict FROM rulings
           JOIN quotes USING (fingerprint) ORDER BY quotes.id"""
    )
    return dict(rows.fetchall())
