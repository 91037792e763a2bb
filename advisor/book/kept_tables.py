"""Tables that an export holds row by row, beside quotes: what happened at the table and after.

A table that is added to the book's form is named here, or it would be lost on
the way out; a test sees to that.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from advisor.book.items import NameTable, ids_of_names
from advisor.errors import BadInput
from advisor.names import name_key

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class KeptTable:
    """A table with an `id`, and how its rows find their place in a book that has some already.

    Attributes:
        refers: Column -> the kept table whose id it holds.
        names: Column -> "items" or "traders": it holds the id of a name, and goes
            out and comes in as the name.
        told_by: Columns that tell a row of this table: one that the book has is
            not added again.
        part_of: Instead: the column of `refers` whose row this one is a part of;
            it is added when that one is.
    """

    name: str
    refers: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, NameTable] = field(default_factory=dict)
    told_by: tuple[str, ...] = ()
    part_of: str | None = None


# A table comes after those that it refers to.
KEPT_TABLES = (
    KeptTable("entries", told_by=("kind", "written_us", "file", "content_hash")),
    KeptTable("sessions", told_by=("route", "goal", "start", "begun_us")),
    KeptTable(
        "attempts", refers={"entry_id": "entries", "session_id": "sessions"}, part_of="entry_id"
    ),
    KeptTable(
        "orders",
        refers={"entry_id": "entries"},
        names={"customer_id": "traders", "money_id": "items"},
        part_of="entry_id",
    ),
    KeptTable(
        "order_ends", refers={"entry_id": "entries", "order_id": "orders"}, part_of="entry_id"
    ),
    KeptTable(
        "trades",
        refers={"entry_id": "entries", "order_id": "orders"},
        names={
            "item_id": "items",
            "money_id": "items",
            "trader_id": "traders",
            "piece_id": "items",
        },
        part_of="entry_id",
    ),
    KeptTable("told_alerts", told_by=("alert",)),
    KeptTable("messages", told_by=("at_us", "alert", "words")),
    KeptTable("deliveries", refers={"message_id": "messages"}, part_of="message_id"),
)


def columns_of(connection: sqlite3.Connection, table: KeptTable) -> tuple[str, ...]:
    """The table's columns, the id among them, as the book has them."""
    rows = connection.execute("SELECT name FROM pragma_table_info(?)", (table.name,))
    return tuple(name for (name,) in rows)


def kept_rows(connection: sqlite3.Connection, table: KeptTable) -> Iterator[Row]:
    """Every row of a table by its id, names as names."""
    columns = columns_of(connection, table)
    rows = connection.execute(f"SELECT {list_of(columns)} FROM {table.name} ORDER BY id")  # noqa: S608
    return named_rows(
        table,
        columns,
        rows=rows,
        names_of=lambda other: connection.execute(f"SELECT id, name FROM {other}"),  # noqa: S608
    )


def named_rows(
    table: KeptTable,
    columns: Sequence[str],
    *,
    rows: Iterable[tuple[Any, ...]],
    names_of: Callable[[NameTable], Iterable[tuple[int, str]]],
) -> Iterator[Row]:
    """Rows of all columns of a table, column by column, names as names.

    Args:
        names_of: The ids and names of a table of names.
    """
    names = {column: dict(names_of(other)) for column, other in table.names.items()}
    for values in rows:
        row = dict(zip(columns, values, strict=True))
        yield row | {column: known.get(row[column]) for column, known in names.items()}


class KeptRestore:
    """Adds exported rows to a book, table by table in the order of KEPT_TABLES."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self._ids: dict[str, dict[int, int]] = {}
        self._added: dict[str, set[int]] = {}
        self._passed: Counter[tuple[str, int]] = Counter()

    def add(self, table: KeptTable, rows: Iterable[Row]) -> int:
        """Add the rows that the book does not have yet, under ids of its own.

        Returns: How many.
        Raises: BadInput: a row that does not fit the table.
        """
        ids: dict[int, int] = {}
        added: set[int] = set()
        self._ids[table.name], self._added[table.name] = ids, added
        columns = columns_of(self.connection, table)
        for row in rows:
            try:
                if row.keys() != set(columns):
                    raise KeyError
                exported = row["id"]
                known = self._known(table, row)
                if known is None:
                    known = self._insert(table, row)
                    added.add(exported)
                ids[exported] = known
            except (KeyError, TypeError, AttributeError, OverflowError, sqlite3.Error):
                raise BadInput(
                    f"a row of {table.name} that the book would not hold",
                    right="export the book again",
                ) from None
        return len(added)

    def _known(self, table: KeptTable, row: Row) -> int | None:
        """The id of this row in the book, where it is there already."""
        if table.part_of is not None:
            whole = table.refers[table.part_of]
            if row[table.part_of] in self._added[whole]:
                return None
            return self._same_part(table, self._ids[whole][row[table.part_of]])
        same = " AND ".join(f"{column} IS ?" for column in table.told_by)
        found = self.connection.execute(
            f"SELECT id FROM {table.name} WHERE {same}",  # noqa: S608
            [row[column] for column in table.told_by],
        ).fetchone()
        return None if found is None else int(found[0])

    def _same_part(self, table: KeptTable, whole: int) -> int | None:
        """The id of the next part of a whole that the book has: parts keep their order."""
        before = self._passed[table.name, whole]
        self._passed[table.name, whole] += 1
        found = self.connection.execute(
            f"SELECT id FROM {table.name} WHERE {table.part_of} = ? "  # noqa: S608
            "ORDER BY id LIMIT 1 OFFSET ?",
            (whole, before),
        ).fetchone()
        return None if found is None else int(found[0])

    def _insert(self, table: KeptTable, row: Row) -> int:
        values = {name: value for name, value in row.items() if name != "id"}
        for column, other in table.refers.items():
            if values[column] is not None:
                values[column] = self._ids[other][values[column]]
        for column, name_table in table.names.items():
            if values[column] is not None:
                key = name_key(values[column])
                ids = ids_of_names(self.connection, name_table, names=[values[column]])
                values[column] = ids[key]
        marks = ",".join("?" * len(values))
        inserted = self.connection.execute(
            f"INSERT INTO {table.name} ({list_of(values)}) VALUES ({marks}) RETURNING id",  # noqa: S608
            list(values.values()),
        )
        return int(inserted.fetchone()[0])


def list_of(columns: Iterable[str]) -> str:
    """Column names as a query lists them."""
    return ", ".join(f'"{column}"' for column in columns)
