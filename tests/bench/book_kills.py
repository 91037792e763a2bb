"""Kills a writer of the book with SIGKILL, again and again, at moments drawn at random.

After each kill the book must be sound, and hold exactly what the steps up to the
last acknowledged one made of it, or up to the one after: never anything between.
Run: python tests/bench/book_kills.py [KILLS [SEED]]
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import polars as pl

from advisor.book.batches import add_batch, add_quotes, undo_batch
from advisor.book.columns import hand_chunk
from advisor.book.history import list_batches, list_set_aside
from advisor.book.store import Store, open_store
from advisor.book.whole_book import every_quote
from advisor.quotes import Quote

LONGEST_WAIT_SECONDS = 0.06
STEPS_AN_OPENING = 3


@dataclass
class Chunk:
    rows: pl.DataFrame
    set_aside: list = field(default_factory=list)


# Quotes by their number, lines set aside, and for each batch whether it is taken back.
Seen = tuple[set[int], set[int], list[bool]]


@dataclass
class Expected:
    """The book as it should be, in plain Python."""

    batches: list[set[int]] = field(default_factory=list)
    set_aside: list[set[int]] = field(default_factory=list)
    undone: set[int] = field(default_factory=set)

    def seen(self) -> Seen:
        live = [n for n in range(len(self.batches)) if n not in self.undone]
        quotes = set().union(*(self.batches[n] for n in live))
        aside = set().union(*(self.set_aside[n] for n in live))
        return quotes, aside, [n in self.undone for n in range(len(self.batches))]


def step(number: int, seed: int) -> tuple[str, int, int]:
    """What step N does: quote, import or undo; the first quote number, and how many."""
    draw = random.Random(seed * 1_000_003 + number)
    kind = draw.choice(["quote", "quote", "import", "import", "undo"])
    return kind, draw.randrange(6_000), 3 if kind == "quote" else draw.randrange(500, 3_000)


def apply_to(expected: Expected, number: int, seed: int) -> None:
    kind, first, many = step(number, seed)
    if kind == "undo":
        expected.undone |= set(undoable(expected, first)[:1])
        return
    expected.batches.append(set(range(first, first + many)))
    expected.set_aside.append({number} if kind == "import" else set())


def undoable(expected: Expected, pick: int) -> list[int]:
    live = [n for n in range(len(expected.batches)) if n not in expected.undone]
    return [live[pick % len(live)]] if live else []


def quote(number: int) -> Quote:
    price = Fraction(number % 977 + 1, 7)
    return Quote(number, f"lantern part {number % 13}", price, "shell", trader=f"t{number % 5}")


def child(path: Path, start: int, seed: int) -> None:
    """Do step after step from `start` on, saying when each begins and when it is done."""
    expected = Expected()
    for number in range(start):
        apply_to(expected, number, seed)
    number = start
    while True:
        with open_store(path, create=True) as store:
            for _ in range(STEPS_AN_OPENING):
                say(f"begun {number}")
                do_step(store, expected, number, seed)
                say(f"done {number}")
                apply_to(expected, number, seed)
                number += 1


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def do_step(store: Store, expected: Expected, number: int, seed: int) -> None:
    kind, first, many = step(number, seed)
    if kind == "undo":
        for batch in undoable(expected, first):
            undo_batch(store, batch + 1)
    elif kind == "quote":
        add_quotes(store, [quote(n) for n in range(first, first + many)])
    else:
        half = first + many // 2
        parts = [range(first, half), range(half, first + many)]
        chunks = [Chunk(hand_chunk([quote(n) for n in part]).rows) for part in parts]
        chunks[0].set_aside.append((number, "price", "empty", "a,"))
        content = number.to_bytes(8, "big")
        add_batch(store, chunks, file="f.csv", content_hash=content, layout="canonical")


def found(path: Path) -> Seen:
    if not path.exists():
        return set(), set(), []
    with open_store(path) as store:
        said = store.connection.execute("PRAGMA integrity_check").fetchone()[0]
        orphans = store.connection.execute("PRAGMA foreign_key_check").fetchall()
        if said != "ok" or orphans:
            raise SystemExit(f"FAILED: the book is not sound: {said} {orphans[:3]}")
        quotes = {each.at_us for each in every_quote(store)}
        aside = {each.line for each in list_set_aside(store)}
        return quotes, aside, [each.undone_us is not None for each in list_batches(store)]


def killed_once(path: Path, start: int, seed: int, draw: random.Random) -> tuple[int, str]:
    """Run the child, kill it, and return the step to go on from and what the kill hit."""
    command = [sys.executable, __file__, "--child", str(path), str(start), str(seed)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    # Let a few steps go by, so that kills are spread over all kinds of moments.
    said_first = [process.stdout.readline() for _ in range(draw.randrange(12))]
    time.sleep(draw.random() * LONGEST_WAIT_SECONDS)
    process.send_signal(signal.SIGKILL)
    said = [line.split() for line in [*said_first, *process.stdout.read().splitlines()]]
    if process.wait() != -signal.SIGKILL:
        raise SystemExit("FAILED: the child ended by itself")
    process.stdout.close()
    done = max((int(line[1]) + 1 for line in said if line[0] == "done"), default=start)
    inside = any(line == ["begun", str(done)] for line in said)
    expected = Expected()
    for number in range(done):
        apply_to(expected, number, seed)
    seen = found(path)
    moment = f"in {step(done, seed)[0]}" if inside else "opening or closing"
    if seen == expected.seen():
        return done, f"{moment}: as before"
    apply_to(expected, done, seed)
    if seen == expected.seen():
        return done + 1, f"{moment}: as after"
    raise SystemExit(f"FAILED {moment} {done}: the book is between two steps")


def main() -> None:
    if sys.argv[1:2] == ["--child"]:
        child(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 120
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    draw = random.Random(seed)
    hits: dict[str, int] = {}
    with tempfile.TemporaryDirectory() as folder:
        path, start = Path(folder) / "book.db", 0
        for _ in range(kills):
            start, hit = killed_once(path, start, seed, draw)
            hits[hit] = hits.get(hit, 0) + 1
    told = ", ".join(f"{hit} {count}" for hit, count in sorted(hits.items()))
    print(f"{kills} kills survived, {start} steps done ({told})")


if __name__ == "__main__":
    main()
