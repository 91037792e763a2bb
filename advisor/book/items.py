"""Names in the book: each item and trader once, whatever way it is spelled."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal

from advisor.names import name_key

if TYPE_CHECKING:
    from advisor.book.settings import Settings
    from advisor.book.store import Store

NameTable = Literal["items", "traders"]


def ids_of_names(
    connection: sqlite3.Connection, table: NameTable, *, names: Iterable[str]
) -> dict[str, int]:
    """The row id of each name, by its key; names that are new are written down.

    The first spelling seen is the one the book keeps.
    """
    ids: dict[str, int] = {}
    for name in names:
        key = name_key(name)
        if key in ids:
            continue
        connection.execute(
            f"INSERT INTO {table} (name, key) VALUES (?, ?) ON CONFLICT (key) DO NOTHING",  # noqa: S608
            (" ".join(name.split()), key),
        )
        row = connection.execute(f"SELECT id FROM {table} WHERE key = ?", (key,))  # noqa: S608
        ids[key] = int(row.fetchone()[0])
    return ids


def id_of_item(store: Store, name: str) -> int | None:
    """The row id of an item that the book knows, by any spelling of the same key."""
    row = store.connection.execute("SELECT id FROM items WHERE key = ?", (name_key(name),))
    found = row.fetchone()
    return None if found is None else int(found[0])


def item_names(store: Store) -> list[str]:
    """Every item of the book, in the book's spelling, sorted."""
    rows = store.connection.execute("SELECT name FROM items ORDER BY key")
    return [name for (name,) in rows]


def known_names(store: Store, settings: Settings) -> dict[str, str]:
    """Every spelling that is known, by its key, with the name that it stands for.

    An item that the book has goes by the book's spelling; an `also` spelling
    stands for its item even where the book has quotes under that spelling too.
    """
    known = {name_key(name): name for name in item_names(store)}
    known.setdefault(name_key(settings.money), settings.money)
    for item in settings.items.values():
        name = known.setdefault(name_key(item.name), item.name)
        known.update({name_key(spelling): name for spelling in item.also})
    return known
