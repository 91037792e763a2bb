"""The tables of the book, as a list of changes that only ever grows.

Each change and the record of it land in one transaction. `FORM` is the number
of changes; the book carries it in its header (`user_version`), so that opening
a book that is up to date reads one number and needs no library.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.book.copies import copy_before_change

if TYPE_CHECKING:
    from sqlite_utils.db import Database
    from sqlite_utils.migrations import Migrations

# "MkWr" in ASCII: tells a book from any other SQLite file.
BOOK_MARK = 0x4D6B5772

QUOTES_FORM = (
    """CREATE TABLE meta (
        key TEXT PRIMARY KEY,
        value TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE items (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        key TEXT NOT NULL UNIQUE
    ) STRICT""",
    """CREATE TABLE traders (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        key TEXT NOT NULL UNIQUE
    ) STRICT""",
    """CREATE TABLE batches (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        file TEXT NOT NULL,
        content_hash BLOB,
        layout TEXT NOT NULL,
        at_us INTEGER NOT NULL,
        added INTEGER NOT NULL DEFAULT 0,
        known INTEGER NOT NULL DEFAULT 0,
        set_aside INTEGER NOT NULL DEFAULT 0,
        undone_us INTEGER
    ) STRICT""",
    "CREATE INDEX batches_by_content ON batches (content_hash)",
    """CREATE TABLE quotes (
        id INTEGER PRIMARY KEY,
        item_id INTEGER NOT NULL REFERENCES items,
        at_us INTEGER NOT NULL,
        price TEXT NOT NULL,
        price_value REAL NOT NULL CHECK (price_value > 0 AND price_value < 9e999),
        money_id INTEGER NOT NULL REFERENCES items,
        side INTEGER NOT NULL CHECK (side BETWEEN 0 AND 2),
        qty INTEGER CHECK (qty >= 1),
        trader_id INTEGER REFERENCES traders,
        source TEXT,
        note TEXT,
        batch_id INTEGER NOT NULL REFERENCES batches,
        fingerprint BLOB NOT NULL UNIQUE
    ) STRICT""",
    "CREATE INDEX quotes_by_item ON quotes (item_id, at_us)",
    # Which other batches also had a quote: kept only for quotes that were known
    # already, so that undoing the first batch leaves the quote to the next.
    """CREATE TABLE also_in (
        quote_id INTEGER NOT NULL REFERENCES quotes ON DELETE CASCADE,
        batch_id INTEGER NOT NULL REFERENCES batches,
        PRIMARY KEY (quote_id, batch_id)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE set_aside (
        id INTEGER PRIMARY KEY,
        batch_id INTEGER NOT NULL REFERENCES batches,
        file TEXT NOT NULL,
        content_hash BLOB,
        line INTEGER NOT NULL,
        "column" TEXT,
        reason TEXT NOT NULL,
        text TEXT NOT NULL,
        taken_by INTEGER REFERENCES batches
    ) STRICT""",
    "CREATE INDEX set_aside_by_content ON set_aside (content_hash, line)",
    """CREATE TABLE layouts (
        name TEXT PRIMARY KEY,
        header TEXT NOT NULL,
        columns TEXT NOT NULL,
        at_us INTEGER NOT NULL
    ) STRICT""",
    """CREATE TABLE quote_overrules (
        fingerprint BLOB PRIMARY KEY,
        verdict TEXT NOT NULL CHECK (verdict IN ('keep', 'drop')),
        at_us INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID""",
)

# What was done, and what came of it. An entry is all that was written down at one
# time, so that it is taken back whole; it is marked, never deleted.
ATTEMPTS_FORM = (
    """CREATE TABLE entries (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL,
        written_us INTEGER NOT NULL,
        file TEXT NOT NULL DEFAULT '',
        content_hash BLOB,
        undone_us INTEGER
    ) STRICT""",
    "CREATE INDEX entries_by_content ON entries (content_hash)",
    """CREATE TABLE sessions (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        route TEXT NOT NULL,
        goal TEXT NOT NULL CHECK (goal IN ('keep', 'sale')),
        start TEXT NOT NULL,
        begun_us INTEGER NOT NULL,
        budget REAL CHECK (budget >= 0 AND budget < 9e999)
    ) STRICT""",
    """CREATE TABLE attempts (
        id INTEGER PRIMARY KEY,
        entry_id INTEGER NOT NULL REFERENCES entries,
        session_id INTEGER REFERENCES sessions,
        at_us INTEGER NOT NULL,
        route TEXT NOT NULL,
        action TEXT NOT NULL
            CHECK (action IN ('step', 'buy in', 'sell out', 'stop', 'moved')),
        step TEXT CHECK ((step IS NOT NULL) = (action = 'step')),
        stage TEXT,
        outcome TEXT,
        reached TEXT,
        tries INTEGER NOT NULL DEFAULT 1 CHECK (tries >= 1),
        minutes REAL CHECK (minutes >= 0 AND minutes < 9e999),
        note TEXT
    ) STRICT""",
    "CREATE INDEX attempts_by_route ON attempts (route, at_us)",
    "CREATE INDEX attempts_by_entry ON attempts (entry_id)",
    "CREATE INDEX attempts_by_session ON attempts (session_id) WHERE session_id IS NOT NULL",
)

# Who wanted what, how it ended, and what was bought and sold. Prices and amounts are
# exact text. Which batch of quotes an entry fed is a matter of this book alone.
TRADES_FORM = (
    """CREATE TABLE orders (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        entry_id INTEGER NOT NULL REFERENCES entries,
        at_us INTEGER NOT NULL,
        customer_id INTEGER NOT NULL REFERENCES traders,
        route TEXT NOT NULL,
        terms TEXT NOT NULL CHECK (terms IN ('fixed', 'per try', 'on success')),
        price TEXT NOT NULL,
        money_id INTEGER NOT NULL REFERENCES items,
        pieces INTEGER NOT NULL CHECK (pieces >= 1),
        supplies TEXT NOT NULL CHECK (supplies IN ('mine', 'customer')),
        note TEXT
    ) STRICT""",
    "CREATE INDEX orders_by_entry ON orders (entry_id)",
    """CREATE TABLE order_ends (
        id INTEGER PRIMARY KEY,
        entry_id INTEGER NOT NULL REFERENCES entries,
        order_id INTEGER NOT NULL REFERENCES orders,
        at_us INTEGER NOT NULL,
        came TEXT NOT NULL CHECK (came IN ('done', 'failed', 'broken')),
        delivered INTEGER NOT NULL CHECK (delivered >= 0),
        tries INTEGER CHECK (tries >= 0),
        paid TEXT NOT NULL,
        fee TEXT NOT NULL,
        note TEXT
    ) STRICT""",
    "CREATE INDEX order_ends_by_entry ON order_ends (entry_id)",
    "CREATE INDEX order_ends_by_order ON order_ends (order_id)",
    """CREATE TABLE trades (
        id INTEGER PRIMARY KEY,
        entry_id INTEGER NOT NULL REFERENCES entries,
        at_us INTEGER NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('buy', 'sale')),
        item_id INTEGER NOT NULL REFERENCES items,
        qty TEXT NOT NULL,
        price TEXT NOT NULL,
        money_id INTEGER NOT NULL REFERENCES items,
        fee TEXT NOT NULL DEFAULT '0',
        trader_id INTEGER REFERENCES traders,
        order_id INTEGER REFERENCES orders,
        route TEXT,
        piece_id INTEGER REFERENCES items,
        broken INTEGER NOT NULL DEFAULT 0 CHECK (broken IN (0, 1)),
        note TEXT
    ) STRICT""",
    "CREATE INDEX trades_by_entry ON trades (entry_id)",
    """CREATE TABLE entry_batches (
        entry_id INTEGER PRIMARY KEY REFERENCES entries,
        batch_id INTEGER NOT NULL REFERENCES batches
    ) STRICT""",
)

# The user's word on a quote, each time it was given: the last counts, "lifted" is none.
RULINGS_FORM = (
    "ALTER TABLE quote_overrules RENAME TO overrules_before",
    """CREATE TABLE quote_overrules (
        fingerprint BLOB NOT NULL,
        at_us INTEGER NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('keep', 'drop', 'lifted')),
        PRIMARY KEY (fingerprint, at_us)
    ) STRICT, WITHOUT ROWID""",
    """INSERT INTO quote_overrules (fingerprint, at_us, verdict)
        SELECT fingerprint, at_us, verdict FROM overrules_before""",
    "DROP TABLE overrules_before",
    # With max(), SQLite takes the other columns from the row that has it.
    """CREATE VIEW rulings AS
        SELECT fingerprint, verdict, max(at_us) AS at_us FROM quote_overrules
        GROUP BY fingerprint HAVING verdict <> 'lifted'""",
)

# What was learned of each family's prices, by what it was learned from; may be lost.
KNOWN_LEVELS_FORM = (
    """CREATE TABLE known_levels (
        fingerprint BLOB PRIMARY KEY,
        family TEXT NOT NULL,
        made_us INTEGER NOT NULL,
        learned BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX known_levels_by_family ON known_levels (family, made_us)",
)

# What the watch said, and to whom it has got through: a message that no receiver has
# taken yet waits here. Of a receiver only a mark is kept, for addresses are secrets.
# `inbox_files` holds a file between its quotes landing here and its being put away.
WATCH_FORM = (
    """CREATE TABLE told_alerts (
        id INTEGER PRIMARY KEY,
        alert TEXT NOT NULL UNIQUE,
        marks TEXT NOT NULL,
        told_us INTEGER NOT NULL
    ) STRICT""",
    """CREATE TABLE messages (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at_us INTEGER NOT NULL,
        alert TEXT NOT NULL,
        words TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE deliveries (
        id INTEGER PRIMARY KEY,
        message_id INTEGER NOT NULL REFERENCES messages,
        receiver TEXT NOT NULL,
        tries INTEGER NOT NULL DEFAULT 0 CHECK (tries >= 0),
        next_us INTEGER NOT NULL,
        sent_us INTEGER,
        fault TEXT,
        UNIQUE (message_id, receiver)
    ) STRICT""",
    "CREATE INDEX deliveries_waiting ON deliveries (next_us) WHERE sent_us IS NULL",
    "CREATE INDEX deliveries_sent ON deliveries (sent_us) WHERE sent_us IS NOT NULL",
    """CREATE TABLE inbox_files (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        content_hash BLOB NOT NULL,
        batch_id INTEGER REFERENCES batches,
        UNIQUE (name, content_hash)
    ) STRICT""",
)

# Mornings that were replayed, each under the fingerprint of all that its advice rests on.
# Nothing is lost with them.
REPLAYED_FORM = (
    """CREATE TABLE replayed_days (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        fingerprint BLOB NOT NULL UNIQUE,
        advice TEXT NOT NULL
    ) STRICT""",
)

CHANGES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("quotes and batches", QUOTES_FORM),
    ("attempts", ATTEMPTS_FORM),
    ("trades and orders", TRADES_FORM),
    ("rulings each time", RULINGS_FORM),
    ("known levels", KNOWN_LEVELS_FORM),
    ("watch", WATCH_FORM),
    ("replayed days", REPLAYED_FORM),
)
FORM = len(CHANGES)


def form_of(connection: sqlite3.Connection) -> int:
    """How many changes the book behind this connection has had."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def apply_changes(connection: sqlite3.Connection, path: Path) -> None:
    """Bring the book up to FORM, all or nothing; a book that has it is left alone.

    A book that has a form already is copied first. Safe when two processes try at
    once: the second waits, then finds nothing to do.
    """
    from sqlite_utils.db import Database

    connection.execute("BEGIN IMMEDIATE")
    try:
        form = form_of(connection)
        if 0 < form < FORM:
            copy_before_change(path, form)
        if form < FORM:
            _changes().apply(Database(connection, execute_plugins=False))
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _changes() -> Migrations:
    from sqlite_utils.migrations import Migrations

    changes = Migrations("book")
    for number, (name, statements) in enumerate(CHANGES, start=1):
        changes(name=name)(_change(number, statements))
    return changes


def _change(number: int, statements: tuple[str, ...]) -> Callable[[Database], None]:
    """One change: its statements, then the new form in the header."""

    def change(db: Database, /) -> None:
        for statement in statements:
            db.conn.execute(statement)
        db.conn.execute(f"PRAGMA application_id = {BOOK_MARK}")
        db.conn.execute(f"PRAGMA user_version = {number}")

    return change
