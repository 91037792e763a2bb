"""Known needs on known days: the timing of purchases against lot-sizing examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.decide.stock.purchase_plan import BuyingDay, plan_purchases


def known_days(needs, *, order, keep, price=0.0):
    """Days with one known price and need each, in a unit that all needs are multiples of."""
    unit = math.gcd(*needs)
    units = [need // unit for need in needs]
    stocks = np.arange(sum(units) + 1)
    per_day = [np.broadcast_to(each, len(units)) for each in (order, keep, price)]
    days = []
    for need, order_cost, keep_cost, unit_price in zip(units, *per_day, strict=True):
        law = np.zeros(need + 1)
        law[need] = 1.0
        days.append(
            BuyingDay(
                prices=np.ones(1),
                odds=np.ones(1),
                cost=unit_price * unit * stocks,
                order_cost=float(order_cost),
                keep=keep_cost * unit * stocks,
                need=law,
            )
        )
    return plan_purchases(days, np.zeros(len(stocks))), units, unit


def follow(plan, units, unit):
    """The purchases that the plan makes, day by day."""
    stock, bought = 0, []
    for day, need in enumerate(units):
        amount = plan.units_to_buy(day, stock, price=1.0)
        bought.append(amount * unit)
        stock += amount - need
    return bought


@pytest.mark.parametrize(
    ("needs", "order", "keep", "price", "cost", "bought"),
    [
        # Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019), Example 3.9
        ([90, 120, 80, 70], 500, 2, 0, 1380, [210, 0, 150, 0]),
        # ibid., Problem 3.27
        ([150, 100, 80, 200], 120, 0.8, 0, 424, [150, 180, 0, 200]),
        # ibid., Problem 3.29
        ([730, 580, 445, 650, 880], 100, 0.1, 0, 423, [1310, 0, 1095, 0, 880]),
        # tests of stockpyl 1.0, instance scmo_ww_hw_c: buy ahead of a rise
        ([400, 500, 500, 1100, 900], 100, 0.1, [3, 1, 4, 6, 6], 4940, [400, 3000, 0, 0, 0]),
        # tutorial of stockpyl 1.0, section Wagner-Whitin
        (
            [90, 120, 80, 70],
            [300, 500, 300, 500],
            [5, 1, 1, 2],
            0,
            1020,
            [90, 270, 0, 0],
        ),
        # Wagner & Whitin, Management Science 5 (1958) 89-96, tables 1 to 3
        (
            [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56],
            [85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114],
            1,
            0,
            864,
            [98, 0, 97, 0, 121, 0, 0, 112, 0, 67, 135, 0],
        ),
        # Silver, Pyke & Peterson, Inventory Management and Production Planning and
        # Scheduling, 3rd ed., chapter on lot sizing
        (
            [10, 62, 12, 130, 154, 129, 88, 52, 124, 160, 238, 41],
            54,
            0.4,
            0,
            501.2,
            None,
        ),
    ],
)
def test_known_needs(needs, order, keep, price, cost, bought):
    plan, units, unit = known_days(needs, order=order, keep=keep, price=price)
    assert plan.before[0][0] == pytest.approx(cost, abs=1e-9)
    followed = follow(plan, units, unit)
    assert sum(followed) == sum(needs)
    if bought is not None:
        assert followed == bought
