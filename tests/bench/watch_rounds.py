"""Whether a watch that runs for long grows: memory over a thousand rounds, and its idle cost.

Each round brings a file of new prices, so that everything is worked out anew; pages are
written every so many rounds, for they take longest. Alerts go to nobody, by a sender
that fails every third time.
Run: python tests/bench/watch_rounds.py [ROUNDS [ROUNDS_BETWEEN_PAGES]]
"""

from __future__ import annotations

import gc
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

from advisor.tasks.inbox_look import SETTLE_SECONDS
from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import open_workspace
from advisor.watch.hold import watch_folder
from advisor.watch.journal import Event, Journal
from advisor.watch.schedule import Clock
from advisor.watch.watching import ALERTS, INBOX, PAGES, SEND, Watch

ALERTED = """
[watch]
send = ["json://127.0.0.1:9/"]
most_an_hour = 100000
[[alert]]
item = "binding wax"
above = 2.4
[[alert]]
item = "lantern frame"
below = "advice"
[[alert]]
item = "lantern frame"
moved = "5 %"
[[alert]]
item = "etching salt"
stale_days = 3
[[alert]]
piece = "storm lantern"
verdict = true
[[alert]]
route = "storm-lantern"
short = "20 %"
"""
PRICES = {"lantern frame": 2.4, "binding wax": 2.33, "etching salt": 0.95, "clear flux": 10.5}
SELDOM = {"lens setting": 35, "storm lantern": 560, "scrap glass": 0.8}
KEPT_LOOKS = 100
"""So many looks at the market, over and over: what the book knows does not grow."""

BEGUN = datetime.now(UTC) - timedelta(days=2)


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    between = int(sys.argv[2]) if len(sys.argv) > 2 else 25
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "fen"
        start_workspace(folder, timezone="UTC")
        with (folder / "makeworth.toml").open("a") as settings:
            settings.write(ALERTED)
        watch, steady = made_watch(folder)
        print("round  memory, MB  seconds a round")
        begun = time.perf_counter()
        for number in range(rounds):
            bring_prices(folder / "inbox", number)
            for _ in range(2):
                steady[0] += SETTLE_SECONDS
                watch.do_each([INBOX])
            watch.do_each([ALERTS, *([PAGES] if number % between == 0 else []), SEND])
            if number % (rounds // 20 or 1) == 0 or number == rounds - 1:
                took = (time.perf_counter() - begun) / (number + 1)
                print(f"{number:5}  {memory_mb():10.1f}  {took:.2f}", flush=True)
        print(f"{watch.failed} jobs failed; log {log_bytes(folder) / 1e6:.2f} MB")


def made_watch(folder: Path) -> tuple[Watch, list[float]]:
    steady, posts = [0.0], count()

    def send(*_: object) -> str | None:
        return "down" if next(posts) % 3 == 0 else None

    clock = Clock(wait=lambda _: False, steady=lambda: steady[0])
    files = watch_folder(folder)
    place = open_workspace(str(folder))
    journal = Journal(files, on_event=show_error)
    watch = Watch(place, files, journal, clock, threading.Event(), send, threads=False)
    return watch, steady


def show_error(event: Event) -> None:
    if event.level == "error":
        print(event.line, flush=True)


def bring_prices(inbox: Path, number: int) -> None:
    """Prices of one look; after so many the very same come again."""
    at = BEGUN + timedelta(minutes=15 * (number % KEPT_LOOKS))
    goods = PRICES | (SELDOM if number % 10 == 0 else {})
    swing = 1.0 + 0.03 * (number % 5)
    rows = [f"{at:%Y-%m-%dT%H:%MZ},{item},{price * swing:.4f}" for item, price in goods.items()]
    aside = inbox / ".prices"
    aside.write_text("\n".join(["at,item,price", *rows, ""]))
    aside.rename(inbox / "prices.csv")


def memory_mb() -> float:
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def log_bytes(folder: Path) -> int:
    return sum(each.stat().st_size for each in (folder / "watch").glob("log.txt*"))


if __name__ == "__main__":
    main()
