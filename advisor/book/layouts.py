"""Saved ways to read a file, found again by the header of the next one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.book.store import Store
from advisor.times import now_us


@dataclass(frozen=True, slots=True)
class Layout:
    """A saved layout.

    Attributes:
        name: As the user gave it.
        header: The column names of the file that it was made for.
        columns: What each canonical column is called there, and whatever else
            the importer wants remembered; plain JSON values.
    """

    name: str
    header: tuple[str, ...]
    columns: Mapping[str, Any]


def save_layout(
    store: Store, name: str, *, header: Sequence[str], columns: Mapping[str, Any]
) -> None:
    """Save a layout under a name; one of the same name is replaced."""
    with store.writing() as connection:
        connection.execute(
            """INSERT INTO layouts (name, header, columns, at_us) VALUES (?, ?, ?, ?)
               ON CONFLICT (name) DO UPDATE SET
               header = excluded.header, columns = excluded.columns, at_us = excluded.at_us""",
            layout_row(name, header=header, columns=columns, at_us=now_us()),
        )


def saved_layouts(store: Store) -> list[Layout]:
    """Every saved layout, by name."""
    rows = store.connection.execute("SELECT name, header, columns FROM layouts ORDER BY name")
    return [
        Layout(name, tuple(json.loads(header)), json.loads(columns))
        for name, header, columns in rows
    ]


def layout_row(
    name: str, *, header: Sequence[str], columns: Mapping[str, Any], at_us: int
) -> tuple[str, str, str, int]:
    """A layout as the book stores it: header and columns as JSON, in one spelling."""
    return (name, _json(list(header)), _json(dict(columns)), at_us)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=isinstance(value, dict))
