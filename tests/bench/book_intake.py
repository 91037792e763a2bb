"""What taking a million quotes into the book costs, against the plain way of doing it.

Plain: parse the same CSV with polars and insert the rows with sqlite3's own
executemany into the same indexed tables, ids and fingerprints ready-made for
nothing. Run: python tests/bench/book_intake.py [ROWS]
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import polars as pl

from advisor.book.batches import INSERT_QUOTE, add_batch, add_quotes, undo_batch
from advisor.book.health import refuse_inner_damage
from advisor.book.series import read_series
from advisor.book.store import open_store
from advisor.quotes import Quote

CHUNK_ROWS = 200_000


@dataclass(frozen=True)
class Chunk:
    rows: pl.DataFrame
    set_aside: tuple[()] = ()


def made_up_quotes(rows: int) -> pl.DataFrame:
    draw = random.Random(11)
    items = [f"lantern part {number}" for number in range(30)]
    traders = [f"trader {number}" for number in range(200)] + [None] * 100
    cents = [draw.randrange(100, 100_000) for _ in range(rows)]
    return pl.DataFrame(
        {
            "at_us": [1_756_000_000_000_000 + 7_000_000 * n for n in range(rows)],
            "item": draw.choices(items, k=rows),
            "price": [f"{cent // 100}.{cent % 100:02d}" for cent in cents],
            "money": draw.choices(["shell", "crown"], weights=[9, 1], k=rows),
            "side": draw.choices(["ask", "bid", "deal"], weights=[8, 1, 1], k=rows),
            "qty": draw.choices([*range(1, 100)], k=rows),
            "trader": draw.choices(traders, k=rows),
            "source": draw.choices(["board", "stall", None], k=rows),
            "note": [None] * rows,
        },
        schema_overrides={"note": pl.String},
    )


def timed(what: str, work: Callable[[], object]) -> float:
    took = seconds(work)
    print(f"{what:<44} {took:8.2f} s", flush=True)
    return took


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made_up_quotes(rows).write_csv(folder / "quotes.csv")
        plain = timed("plain: polars parse + executemany", lambda: plain_way(folder))
        ours = timed("parse + add_batch", lambda: our_way(folder))
        print(f"{'ratio':<44} {ours / plain:8.2f}")
        timed("the same again (all known)", lambda: our_way(folder))
        with open_store(folder / "book.db") as store:
            rare = [Quote(n, "rare lens", Fraction(n + 1), "shell") for n in range(100)]
            add_quotes(store, rare)
        rare_item(folder / "book.db")
        with open_store(folder / "book.db") as store:
            timed("read one item of thirty", lambda: read_series(store, ["lantern part 3"]))
            timed("read all", lambda: read_series(store))
            timed("walk every page", lambda: refuse_inner_damage(store.connection, store.path))
            timed("undo the first batch", lambda: undo_batch(store, 1))
            timed("undo the second batch", lambda: undo_batch(store, 2))
        print(f"{'size of the book':<44} {(folder / 'book.db').stat().st_size / 1e6:8.1f} MB")


def rare_item(book: Path) -> None:
    """One item with a hundred quotes out of the million: the index look-up, and ours."""
    with open_store(book, read_only=True) as store:
        query = (
            "SELECT * FROM quotes WHERE item_id = (SELECT id FROM items WHERE key = 'rare lens')"
        )
        look_up = min(seconds(lambda: store.connection.execute(query).fetchall()) for _ in range(9))
        ours = min(seconds(lambda: read_series(store, ["rare lens"])) for _ in range(9))
    opening = min(seconds(lambda: opened(book)) for _ in range(9))
    print(f"{'index look-up of 100 quotes':<44} {1000 * look_up:8.2f} ms")
    print(f"{'read_series of the same':<44} {1000 * ours:8.2f} ms")
    print(f"{'opening the book to read':<44} {1000 * opening:8.2f} ms")


def opened(book: Path) -> None:
    with open_store(book, read_only=True):
        pass


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def plain_way(folder: Path) -> None:
    with open_store(folder / "plain.db", create=True) as store:
        connection = store.connection
        connection.execute("BEGIN IMMEDIATE")
        for item in range(32):
            connection.execute("INSERT INTO items (name, key) VALUES (?1, ?1)", (f"i{item}",))
        for trader in range(200):
            connection.execute("INSERT INTO traders (name, key) VALUES (?1, ?1)", (f"t{trader}",))
        connection.execute("INSERT INTO batches (file, layout, at_us) VALUES ('', '', 0)")
        quotes = pl.read_csv(folder / "quotes.csv")
        height = quotes.height
        draw = random.Random(5)
        connection.executemany(
            INSERT_QUOTE,
            zip(
                [1 + n % 30 for n in range(height)],
                quotes["at_us"].to_list(),
                quotes["price"].cast(pl.String).to_list(),
                quotes["price"].to_list(),
                [31] * height,
                [0] * height,
                quotes["qty"].to_list(),
                [1 + n % 200 for n in range(height)],
                quotes["source"].to_list(),
                quotes["note"].to_list(),
                [1] * height,
                [draw.randbytes(16) for _ in range(height)],
                strict=True,
            ),
        )
        connection.execute("COMMIT")


def our_way(folder: Path) -> None:
    quotes = pl.read_csv(folder / "quotes.csv", schema_overrides={"price": pl.String})
    quotes = quotes.with_columns(price_value=pl.col("price").cast(pl.Float64))
    with open_store(folder / "book.db", create=True) as store:
        chunks = (Chunk(part) for part in quotes.iter_slices(CHUNK_ROWS))
        add_batch(store, chunks, file="quotes.csv", content_hash=b"q" * 16, layout="plain")


if __name__ == "__main__":
    main()
