"""Quantity and timing together, against plain recursions that share no code with ours."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow, usual_day
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.purchase_plan import BuyingDay, plan_purchases
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder, Rung


@dataclass(frozen=True)
class Walk:
    start_log: float
    start_sd: float
    drift: np.ndarray
    day_sd: np.ndarray
    quote_sd: float


def negative_binomial_need(mean, shape, most=400):
    units = np.arange(most)
    return NeedLaw.of_values(units, stats.nbinom.pmf(units, shape, shape / (shape + mean)))


@pytest.mark.parametrize("order_cost", [0.0, 1.5])
def test_every_price_and_every_purchase(order_cost):
    """Three days, three prices each, needs of 0 to 4: all ways tried, by recursion on tuples."""
    prices, odds = (0.7, 1.0, 1.3), (0.2, 0.5, 0.3)
    curve = (0.0, 1.0, 2.2, 3.6, 5.2, 7.0)  # each unit dearer than the one before
    need = (0.1, 0.2, 0.3, 0.25, 0.15)
    later_price, salvage = 1.4, 0.6

    @lru_cache
    def least(day, stock):
        if day == 3:
            return sum(
                chance * (later_price * max(n - stock, 0) - salvage * max(stock - n, 0))
                for n, chance in enumerate(need)
            )
        return sum(
            chance
            * min(
                price * curve[q] + (order_cost if q else 0.0) + least(day + 1, stock + q)
                for q in range(6 - stock)
            )
            for price, chance in zip(prices, odds, strict=True)
        )

    days = [BuyingDay(np.array(prices), np.array(odds), np.array(curve), order_cost=order_cost)] * 3
    ending = NeedLaw(np.array(need)).mean_over(
        np.arange(6), short=later_price * np.arange(6.0), left=-salvage * np.arange(6.0)
    )
    plan = plan_purchases(days, ending)
    for day, stock in itertools.product(range(4), range(6)):
        assert plan.before[day][stock] == pytest.approx(least(day, stock), abs=1e-12)


@pytest.mark.parametrize("lots_of", [1, 5])
def test_one_purchase_by_listing_every_need(lots_of):
    """No days between: each quantity against each need, summed one by one."""
    walk = Walk(math.log(3.0), 0.0, np.zeros(1), np.zeros(1), 0.0)
    need = negative_binomial_need(12, 3, most=150)
    ladder = Ladder((Rung(2.5, 10, 0), Rung(2.9, 15, 1)), 0, 3.0, 10, 0.08, lots_of=lots_of)
    advice = weigh_supply(
        SupplyQuestion(
            "wax", need, OffersNow(ladder), walk, leftover=0.8, trip_cost=2.0, money_rate=0.01
        )
    )
    for qty, total in zip(advice.quantities.tolist(), advice.totals.tolist(), strict=True):
        expected = ladder.cost_of(qty) * 1.01 if qty else 0.0
        for units, chance in enumerate(need.pmf):
            missing = max(units - qty, 0)
            bought = math.ceil(missing / lots_of) * lots_of
            later = 3.0 * float(usual_day(np.array([bought]), usual_qty=10, depth=0.08)[0])
            left = max(qty - units, 0) + bought - missing
            # each unit put up brings 0.8 % less than the one before: its middle is summed
            parts = (np.arange(1000 * left) + 0.5) / 1000
            brought = 0.8 * 3.0 * float(np.exp(-0.08 / 10 * parts).sum()) / 1000
            expected += chance * (later + (2.0 if missing else 0.0) - brought)
        assert total == pytest.approx(expected, rel=1e-9)
    assert advice.buy_now % lots_of == 0
