"""Turns a table of quotes as read into the columns that the book stores."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b
from typing import TYPE_CHECKING, Any

from advisor.book.items import ids_of_names
from advisor.names import name_key
from advisor.quotes import FIELD_SEPARATOR, SIDES, Quote, price_text

if TYPE_CHECKING:
    import polars as pl


@dataclass(frozen=True, slots=True)
class HandChunk:
    """Quotes typed by hand, in the shape of a part of a file."""

    rows: pl.DataFrame
    set_aside: tuple[()] = ()


def hand_chunk(quotes: Sequence[Quote]) -> HandChunk:
    """The quotes as a table with the columns of a file's part."""
    import polars as pl

    columns: dict[str, Any] = {
        "at_us": [quote.at_us for quote in quotes],
        "item": [quote.item for quote in quotes],
        "price": [price_text(quote.price) for quote in quotes],
        "price_value": [float(quote.price) for quote in quotes],
        "money": [quote.money for quote in quotes],
        "side": [quote.side for quote in quotes],
        "qty": [quote.qty for quote in quotes],
        "trader": [quote.trader for quote in quotes],
        "source": [quote.source for quote in quotes],
        "note": [quote.note for quote in quotes],
    }
    kinds = {"at_us": pl.Int64, "price_value": pl.Float64, "qty": pl.Int64}
    schema = {name: kinds.get(name, pl.String) for name in columns}
    return HandChunk(pl.DataFrame(columns, schema=schema))


def quote_columns(
    connection: sqlite3.Connection, rows: pl.DataFrame, *, batch: int
) -> tuple[Sequence[Any], ...]:
    """The columns of `batches.INSERT_QUOTE`, in its order; new names are written down.

    Args:
        rows: As `batches.ReadChunk.rows`.
    """
    import polars as pl

    stripped = [pl.col(name).cast(pl.String).str.strip_chars() for name in ("source", "note")]
    keyed = rows.select(
        "at_us",
        "price",
        "price_value",
        "side",
        "qty",
        *(pl.when(text.str.len_bytes() > 0).then(text) for text in stripped),
        *_keys(rows, ("item", "money", "trader")),
    )
    item_ids = ids_of_names(connection, "items", names=_distinct(rows, "item", "money"))
    trader_ids = ids_of_names(connection, "traders", names=_distinct(rows, "trader"))
    sides = {side: code for code, side in enumerate(SIDES)}
    return (
        _codes(keyed["item_key"], item_ids),
        keyed["at_us"].to_list(),
        keyed["price"].to_list(),
        keyed["price_value"].to_list(),
        _codes(keyed["money_key"], item_ids),
        _codes(keyed["side"], sides),
        keyed["qty"].to_list(),
        _codes(keyed["trader_key"], trader_ids),
        keyed["source"].to_list(),
        keyed["note"].to_list(),
        [batch] * rows.height,
        fingerprints(keyed.select(pl.exclude("price_value", "source", "note"))),
    )


def fingerprints(keyed: pl.DataFrame) -> list[bytes]:
    """The fingerprint of each row, as `quotes.fingerprint` gives it one by one."""
    import polars as pl

    order = ("at_us", "item_key", "price", "money_key", "side", "qty", "trader_key")
    texts = keyed.select(
        pl.concat_str(
            [pl.col(name).cast(pl.String).fill_null("") for name in order],
            separator=FIELD_SEPARATOR,
        )
    ).to_series()
    return [blake2b(text.encode(), digest_size=16).digest() for text in texts.to_list()]


def _distinct(rows: pl.DataFrame, *columns: str) -> list[str]:
    """Every name in these columns, in the order first seen."""
    names: dict[str, None] = {}
    for column in columns:
        distinct = rows[column].drop_nulls().unique(maintain_order=True)
        names.update(dict.fromkeys(name for name in distinct.to_list() if name_key(name)))
    return list(names)


def _keys(rows: pl.DataFrame, columns: Sequence[str]) -> list[pl.Expr]:
    """The key of each name, worked out once a spelling."""
    import polars as pl

    return [
        pl.col(column)
        .cast(pl.String)
        .replace_strict(
            {name: name_key(name) or None for name in _distinct(rows, column)},
            default=None,
            return_dtype=pl.String,
        )
        .alias(f"{column}_key")
        for column in columns
    ]


def _codes(names: pl.Series, ids: dict[str, int]) -> list[int | None]:
    return [ids.get(name) if name is not None else None for name in names.to_list()]
