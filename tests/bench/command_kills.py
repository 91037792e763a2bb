"""Kills `makeworth quote`, `import` and `import --undo` with SIGKILL at moments drawn at random.

After each kill the book must be sound and hold exactly what it held before the
command, or after it; after it, where the command had ended well.
Run: python tests/bench/command_kills.py [KILLS [SEED]]
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from advisor.book.history import list_batches
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.tasks.starting import start_workspace
from advisor.times import us_to_rfc3339

MAKEWORTH = str(Path(sys.executable).with_name("makeworth"))
ROWS_A_FILE = 30_000
OVERLAP = 10_000
FIRST_US = 1_780_000_000_000_000

Content = tuple[frozenset[int], tuple[bool, ...]]


class Trial:
    """One workspace, and what its book should hold."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder = folder
        self.draw = random.Random(seed)
        self.batches: list[frozenset[int]] = []
        self.undone: list[bool] = []
        self.files = 0

    def content(self) -> Content:
        live = (
            batch for batch, undone in zip(self.batches, self.undone, strict=True) if not undone
        )
        return frozenset().union(*live), tuple(self.undone)

    def next_command(self) -> tuple[str, list[str], Trial]:
        """A command, its words, and the trial as it should be when it has ended."""
        after = Trial(self.folder, 0)
        after.draw = self.draw
        after.batches, after.undone, after.files = [*self.batches], [*self.undone], self.files + 1
        live = [n for n, undone in enumerate(self.undone) if not undone]
        kind = self.draw.choice(["quote", "import", "import", "undo"])
        if kind == "undo" and live:
            batch = self.draw.choice(live)
            after.undone[batch] = True
            return kind, ["import", "--undo", str(batch + 1)], after
        if kind == "import":
            first = FIRST_US + self.files * (ROWS_A_FILE - OVERLAP)
            quotes = range(first, first + ROWS_A_FILE)
            words = ["import", str(write_file(self.folder / f"prices-{self.files}.csv", quotes))]
        else:
            kind, quotes = "quote", range(1_000_000 * self.files, 1_000_000 * self.files + 1)
            words = ["quote", "lantern frame", "2.4", "--at", us_to_rfc3339(quotes[0])]
        after.batches.append(frozenset(quotes))
        after.undone.append(False)
        return kind, words, after


def write_file(file: Path, quotes: range) -> Path:
    lines = (f"{us_to_rfc3339(n)},lantern frame,{n % 977 + 1}.25,{n % 60 + 1}\n" for n in quotes)
    file.write_text("at,item,price,qty\n" + "".join(lines))
    return file


def found(book: Path) -> Content:
    with open_store(book) as store:
        said = store.connection.execute("PRAGMA integrity_check").fetchone()[0]
        if said != "ok":
            raise SystemExit(f"FAILED: the book is not sound: {said}")
        quotes = frozenset(quote.at_us for quote in every_quote(store))
        return quotes, tuple(batch.undone_us is not None for batch in list_batches(store))


def run_and_kill(words: list[str], folder: Path, wait_seconds: float) -> tuple[bool, float]:
    """Run a command and kill it if it has not ended in time.

    Returns: Whether it ended well by itself, and how long it ran.
    """
    began = time.perf_counter()
    process = subprocess.Popen(
        [MAKEWORTH, *words], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    try:
        said, _ = process.communicate(timeout=wait_seconds)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        said, _ = process.communicate()
    if process.returncode not in (0, -signal.SIGKILL):
        raise SystemExit(f"FAILED: {words} ended with {said.decode()}")
    return process.returncode == 0, time.perf_counter() - began


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    hits: Counter[str] = Counter()
    longest = {"quote": 1.0, "import": 2.0, "undo": 1.0}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "fen"
        start_workspace(folder, timezone="UTC")
        trial = Trial(folder, seed)
        while sum(hits.values()) < kills:
            kind, words, after = trial.next_command()
            wait_seconds = trial.draw.random() * longest[kind]
            ended, seconds = run_and_kill(words, folder, wait_seconds)
            if ended:
                longest[kind] = 1.1 * seconds
            seen = found(folder / "book.db")
            if seen != after.content() and (ended or seen != trial.content()):
                raise SystemExit(f"FAILED: {words} left the book in between")
            if not ended:
                hits[f"{kind}: as {'after' if seen == after.content() else 'before'}"] += 1
            trial.files += 1
            trial = after if seen == after.content() else trial
    told = ", ".join(f"{hit} {count}" for hit, count in sorted(hits.items()))
    print(f"{kills} kills of commands survived ({told})")


if __name__ == "__main__":
    main()
