"""Entries: all that was written down at one time. One is marked when taken back, never deleted."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from advisor.book.batches import fill_batch, undo_batch
from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.quotes import SIDES, Quote, fingerprint, fingerprint_text
from advisor.times import now_us

TRADE, ORDER, DECLINED = "trade", "order", "declined"
LOGGED = "log"
RESTORED = "export"


def open_entry(
    connection: sqlite3.Connection, kind: str, *, file: str = "", content_hash: bytes | None = None
) -> int:
    """Begin an entry inside a transaction; gives its number."""
    row = connection.execute(
        """INSERT INTO entries (kind, written_us, file, content_hash)
           VALUES (?, ?, ?, ?) RETURNING id""",
        (kind, now_us(), file, content_hash),
    ).fetchone()
    return int(row[0])


def feed_prices(
    connection: sqlite3.Connection, entry: int, quotes: Sequence[Quote], *, file: str = ""
) -> int:
    """Give the price book the deals of an entry; one that it has already counts once.

    Returns: How many are new to it.
    """
    from advisor.book.columns import hand_chunk

    if not quotes:
        return 0
    fed = fill_batch(connection, [hand_chunk(quotes)], file=file, content_hash=None, layout=LOGGED)
    connection.execute(
        "INSERT INTO entry_batches (entry_id, batch_id) VALUES (?, ?)", (entry, fed.batch)
    )
    return fed.added


def mark_undone(connection: sqlite3.Connection, entry: int, kind: str) -> None:
    """Mark an entry as taken back.

    Raises: BadInput: no such entry of this kind, or taken back already.
    """
    row = connection.execute(
        "SELECT undone_us FROM entries WHERE id = ? AND kind = ?", (entry, kind)
    ).fetchone()
    if row is None:
        article = "an" if kind[0] in "aeiou" else "a"
        raise BadInput(f"there is no entry {entry} of {article} {kind}", right="see --list")
    if row[0] is not None:
        raise BadInput(f"entry {entry} has been taken back already")
    connection.execute("UPDATE entries SET undone_us = ? WHERE id = ?", (now_us(), entry))


def take_back_deals(store: Store, entry: int, quotes: Sequence[Quote]) -> None:
    """Take the deals of an entry out of the price book, unless they came in another way too.

    In a book that was taken in from an export, the deals stand in the batch of the
    export; they go from there.

    Args:
        quotes: The deals that the entry fed.
    """
    row = store.connection.execute(
        """SELECT batch_id, undone_us FROM entry_batches JOIN batches ON batches.id = batch_id
           WHERE entry_id = ?""",
        (entry,),
    ).fetchone()
    if row is not None:
        if row[1] is None:
            undo_batch(store, row[0])
        return
    with store.writing() as connection:
        connection.executemany(
            """DELETE FROM quotes WHERE fingerprint = ?1 AND NOT EXISTS
                   (SELECT 1 FROM batches
                    WHERE layout <> ?2 AND (id = quotes.batch_id OR id IN
                        (SELECT batch_id FROM also_in WHERE quote_id = quotes.id)))""",
            ((_fingerprint(quote), RESTORED) for quote in quotes),
        )


def _fingerprint(quote: Quote) -> bytes:
    from advisor.names import name_key
    from advisor.quotes import price_text

    return fingerprint(
        fingerprint_text(
            at_us=quote.at_us,
            item_key=name_key(quote.item),
            price=price_text(quote.price),
            money_key=name_key(quote.money),
            side=SIDES[2],
            qty=quote.qty,
            trader_key=None if quote.trader is None else name_key(quote.trader),
        )
    )


def entry_of_file(connection: sqlite3.Connection, kind: str, content_hash: bytes) -> int | None:
    """The standing entry that a file of these very bytes came in by; None where there is none."""
    row = connection.execute(
        "SELECT min(id) FROM entries WHERE content_hash = ? AND kind = ? AND undone_us IS NULL",
        (content_hash, kind),
    ).fetchone()
    return None if row[0] is None else int(row[0])
