"""Moves quotes to the one name that the settings now say their item goes by."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from advisor.book.items import ids_of_names
from advisor.book.kept_tables import KEPT_TABLES
from advisor.names import name_key
from advisor.quotes import SIDES, fingerprint, fingerprint_text

if TYPE_CHECKING:
    from advisor.book.settings import Settings
    from advisor.book.store import Store


def has_other_spellings(store: Store, settings: Settings) -> bool:
    """Whether the book has an item under a name that now stands for another."""
    return bool(_other_spellings(store.connection, settings))


def settle_spellings(store: Store, settings: Settings) -> int:
    """Move every quote under an `also` spelling to the item that it stands for.

    A spelling that was added to the settings after quotes had come in under it
    would else leave these behind, and let the same file count twice. A quote that
    the item has already becomes one with it, and still counts for both batches.

    Returns: How many quotes were moved or made one.
    """
    if not has_other_spellings(store, settings):
        return 0
    with store.writing() as connection:
        spellings = _other_spellings(connection, settings)
        names = list(spellings.values())
        ids = ids_of_names(connection, "items", names=names)
        heirs = {old: ids[name_key(name)] for old, name in spellings.items()}
        keys = dict(connection.execute("SELECT id, key FROM items"))
        traders = dict(connection.execute("SELECT id, key FROM traders"))
        marks = ",".join("?" * len(heirs))
        rows = connection.execute(
            f"""SELECT id, item_id, at_us, price, money_id, side, qty, trader_id, fingerprint
                FROM quotes WHERE item_id IN ({marks}) OR money_id IN ({marks})""",  # noqa: S608
            [*heirs, *heirs],
        ).fetchall()
        for row in rows:
            _move(connection, row, heirs=heirs, keys=keys, traders=traders)
        for table in KEPT_TABLES:
            for column in (name for name, other in table.names.items() if other == "items"):
                connection.executemany(
                    f"UPDATE {table.name} SET {column} = ? WHERE {column} = ?",  # noqa: S608
                    ((heir, old) for old, heir in heirs.items()),
                )
        connection.executemany("DELETE FROM items WHERE id = ?", ((old,) for old in heirs))
    return len(rows)


def _other_spellings(connection: sqlite3.Connection, settings: Settings) -> dict[int, str]:
    """Row ids of items whose name is now another's spelling, with that other's name."""
    found = {}
    for item in settings.items.values():
        for spelling in item.also:
            key = name_key(spelling)
            row = connection.execute("SELECT id FROM items WHERE key = ?", (key,)).fetchone()
            if row is not None and key != name_key(item.name):
                found[int(row[0])] = item.name
    return found


def _move(
    connection: sqlite3.Connection,
    row: tuple[Any, ...],
    *,
    heirs: Mapping[int, int],
    keys: Mapping[int, str],
    traders: Mapping[int, str],
) -> None:
    quote_id, item_id, at_us, price, money_id, side, qty, trader_id, old = row
    item_id, money_id = heirs.get(item_id, item_id), heirs.get(money_id, money_id)
    new = fingerprint(
        fingerprint_text(
            at_us=at_us,
            item_key=keys[item_id],
            price=price,
            money_key=keys[money_id],
            side=SIDES[side],
            qty=qty,
            trader_key=None if trader_id is None else traders[trader_id],
        )
    )
    connection.execute(
        "UPDATE OR IGNORE quote_overrules SET fingerprint = ? WHERE fingerprint = ?", (new, old)
    )
    connection.execute("DELETE FROM quote_overrules WHERE fingerprint = ?", (old,))
    same = connection.execute("SELECT id FROM quotes WHERE fingerprint = ?", (new,)).fetchone()
    if same is None:
        connection.execute(
            "UPDATE quotes SET item_id = ?, money_id = ?, fingerprint = ? WHERE id = ?",
            (item_id, money_id, new, quote_id),
        )
    else:
        _make_one(connection, quote_id, same[0])


def _make_one(connection: sqlite3.Connection, gone: int, stays: int) -> None:
    """Let one of two same quotes go; the other counts for the batches of both."""
    connection.execute(
        """INSERT INTO also_in (quote_id, batch_id)
           SELECT ?2, batch_id FROM quotes WHERE id = ?1
           UNION SELECT ?2, batch_id FROM also_in WHERE quote_id = ?1
           EXCEPT SELECT ?2, batch_id FROM quotes WHERE id = ?2
           ON CONFLICT DO NOTHING""",
        (gone, stays),
    )
    connection.execute("DELETE FROM quotes WHERE id = ?", (gone,))
