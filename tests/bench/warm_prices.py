"""How quickly a remembered book answers: fifty items, and the sample's make or buy.

    python tests/bench/warm_prices.py [ROUNDS]

A book of fifty items in eight families with 120 quotes each. Prints the least wall and
processor seconds of some rounds, each in a process of its own: the libraries alone;
`prices` with nothing remembered, with everything, and after one new quote; then
`advise craft` on the sample prices, not remembered and remembered.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import numpy as np

ITEMS, FAMILIES, QUOTES = 50, 8, 120
LIBRARIES = "import numpy, scipy.special, typer, sqlite3"
MAKEWORTH = str(Path(sys.executable).with_name("makeworth"))


def run(*words: str, cwd: Path) -> tuple[float, float]:
    """Wall and processor seconds of one process."""
    wall, before = time.perf_counter(), os.times()
    subprocess.run(words, cwd=cwd, check=True, capture_output=True)
    after = os.times()
    spent = after.children_user + after.children_system
    return (
        time.perf_counter() - wall,
        spent - before.children_user - before.children_system,
    )


def write_fifty_items(folder: Path) -> None:
    """A workspace whose quotes were taken in from one file."""
    subprocess.run([MAKEWORTH, "start", folder.name], cwd=folder.parent, check=True)
    with (folder / "makeworth.toml").open("a") as file:
        for k in range(ITEMS):
            file.write(f'\n[item."item {k}"]\nfamily = "family {k % FAMILIES}"\n')
    rng = np.random.default_rng(7)
    lines = ["at,item,price,side,qty,trader,source,note"]
    for k in range(ITEMS):
        level = rng.uniform(0, 5) + np.cumsum(rng.normal(0, 0.03, QUOTES))
        for day, log in enumerate(level + rng.normal(0, 0.05, QUOTES)):
            at = np.datetime64("2026-06-01T10:00:00") + np.timedelta64(day, "D")
            lines.append(f"{at}Z,item {k},{np.exp(log):.4f},ask,5,trader {rng.integers(12)},,")
    (folder / "seen.csv").write_text("\n".join(lines) + "\n")
    subprocess.run([MAKEWORTH, "import", "seen.csv"], cwd=folder, check=True, capture_output=True)


def forget(folder: Path) -> None:
    """Take what was learned out of the book."""
    with closing(sqlite3.connect(folder / "book.db")) as book, book:
        book.execute("DELETE FROM known_levels")


def report(name: str, times: list[tuple[float, float]]) -> None:
    """The least of some rounds."""
    wall, spent = (min(each) for each in zip(*times, strict=True))
    print(f"{name:34} {wall:8.3f} {spent:10.3f}", flush=True)


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as place:
        fifty, sample = Path(place) / "fifty", Path(place) / "sample"
        write_fifty_items(fifty)
        subprocess.run([MAKEWORTH, "demo", sample], cwd=place, check=True, capture_output=True)
        times: dict[str, list[tuple[float, float]]] = {}
        craft = (MAKEWORTH, "advise", "craft", "storm lantern", "--as-of", "2026-10-30")
        for k in range(rounds):
            forget(fifty), forget(sample)
            quote = (MAKEWORTH, "quote", "item 3", f"{5 + k / 100}", "--at", "2026-10-01T10:00Z")
            for name, words, folder in (
                ("libraries alone", (sys.executable, "-c", LIBRARIES), fifty),
                ("prices, nothing remembered", (MAKEWORTH, "prices"), fifty),
                ("prices, all remembered", (MAKEWORTH, "prices"), fifty),
                ("(a quote)", quote, fifty),
                ("prices, after a new quote", (MAKEWORTH, "prices"), fifty),
                ("advise craft, nothing remembered", craft, sample),
                ("advise craft, all remembered", craft, sample),
            ):
                times.setdefault(name, []).append(run(*words, cwd=folder))
    print(f"{'':34} {'wall s':>8} {'processor s':>12}")
    for name, taken in times.items():
        report(name, taken)


if __name__ == "__main__":
    main()
