"""How long a ledger of 100,000 entries takes: reading, levelling, walking, grouping.

python tests/bench/ledger_speed.py [entries]
"""

from __future__ import annotations

import random
import sys
import tempfile
from fractions import Fraction
from pathlib import Path
from time import perf_counter

from advisor.book.trades import Trade, add_trades, read_trades
from advisor.tasks.accounts import read_accounts
from advisor.tasks.ledger_rows import group_rows, ledger_json
from advisor.tasks.pricing import read_pricing
from advisor.tasks.routing import read_routes
from advisor.tasks.workspace import open_workspace

DAY_US = 86_400_000_000
ITEMS = 60
BEGIN_US = 1_780_000_000_000_000


def make_trades(count: int) -> list[Trade]:
    chance = random.Random(7)
    step = 110 * DAY_US // count
    trades = []
    for number in range(count):
        item = f"ware {chance.randrange(ITEMS)}"
        kind = "buy" if chance.random() < 0.5 else "sale"
        money = "crown" if chance.random() < 0.2 else "shell"
        price = Fraction(chance.randrange(100, 400), chance.choice((100, 3, 7, 12)))
        trades.append(
            Trade(
                BEGIN_US + number * step,
                kind,
                item,
                Fraction(chance.randrange(1, 60)),
                price / 20 if money == "crown" else price,
                money,
                trader=f"trader {chance.randrange(200)}",
            )
        )
    return trades


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "makeworth.toml").write_text('money = "shell"\n')
        (folder / "routes").mkdir()
        place = open_workspace(str(folder))
        with place.open_book() as store:
            rate = Trade(BEGIN_US - DAY_US, "buy", "crown", Fraction(1), Fraction(20), "shell")
            begin = perf_counter()
            add_trades(store, [rate, *make_trades(count)])
            print(f"written down: {perf_counter() - begin:.2f} s")
        begin = perf_counter()
        with place.open_book(read_only=True) as store:
            read_trades(store, until_us=2**62)
        print(f"read back: {perf_counter() - begin:.2f} s")
        begin = perf_counter()
        pricing = read_pricing(place)
        print(f"levels of {count} deals: {perf_counter() - begin:.2f} s")
        begin = perf_counter()
        accounts = read_accounts(place, read_routes(place), pricing)
        print(f"ledger, read and kept: {perf_counter() - begin:.2f} s")
        for by in ("piece", "trader", "day"):
            begin = perf_counter()
            group_rows(accounts, by)
            print(f"by {by}: {perf_counter() - begin:.2f} s")
        begin = perf_counter()
        ledger_json(accounts, "piece")
        print(f"as JSON: {perf_counter() - begin:.2f} s")


if __name__ == "__main__":
    main()
