"""Seconds that stock advice takes: ten items, thirty days ahead. Prints; asserts nothing.

.venv/bin/python tests/bench/stock_advice.py
"""

from __future__ import annotations

import math
import time
from types import SimpleNamespace

import numpy as np
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.purse import share_purse
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder, Rung


def question(number: int, *, days: int, mean: float) -> SupplyQuestion:
    units = np.arange(int(12 * mean) + 100)
    need = NeedLaw.of_values(units, stats.nbinom.pmf(units, 3, 3 / (3 + mean)))
    level = 1.0 + number
    rungs = tuple(Rung(level * (0.95 + 0.03 * k), 10.0 + 5 * k, k) for k in range(8))
    walk = SimpleNamespace(
        start_log=math.log(level),
        start_sd=0.05,
        drift=np.full(days, 0.002 * (number - 5)),
        day_sd=np.full(days, 0.03),
        quote_sd=0.05,
    )
    ladder = Ladder(rungs, 0, level, 20, 0.05)
    return SupplyQuestion(f"item {number}", need, OffersNow(ladder), walk, days, leftover=0.85)


def main() -> None:
    """Print the seconds of each size."""
    print(f"{'items':>5} {'days':>5} {'mean need':>9} {'seconds':>8} {'with purse':>10}")
    for days in (1, 7, 30, 120):
        for mean in (50.0, 1000.0, 20_000.0):
            begin = time.perf_counter()
            answers = [weigh_supply(question(n, days=days, mean=mean)) for n in range(10)]
            for each in answers:
                each.reserve()
            middle = time.perf_counter()
            share_purse(
                [each.spent for each in answers],
                [each.totals for each in answers],
                budget=20 * mean,
            )
            end = time.perf_counter()
            print(f"{10:>5} {days:>5} {mean:>9.0f} {middle - begin:>8.2f} {end - begin:>10.2f}")


if __name__ == "__main__":
    main()
