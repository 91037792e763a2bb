"""Backward induction: reservation prices divide buying from waiting."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.decide.cost_law import normal_nodes
from advisor.decide.stock import purchase_plan
from advisor.decide.stock.buying_now import usual_day
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.purchase_plan import BuyingDay, plan_purchases

STOCKS = np.arange(21)
NEED = NeedLaw(np.full(18, 1 / 18))


def plan(*, learn, order_cost, depth=0.1, days=4):
    day = BuyingDay(
        prices=np.exp(0.15 * normal_nodes(31)),
        odds=np.full(31, 1 / 31),
        cost=usual_day(STOCKS, usual_qty=5, depth=depth),
        order_cost=order_cost,
        learn=learn,
        growth=1.01,
    )
    short = 1.1 * usual_day(np.arange(25), usual_qty=5, depth=depth)
    ending = NEED.mean_over(STOCKS, short=short, left=-0.7 * np.arange(21.0))
    return plan_purchases([day] * days, ending)


@pytest.mark.parametrize("learn", [0.0, 0.4, 0.9])
@pytest.mark.parametrize("order_cost", [0.0, 0.3])
@pytest.mark.parametrize("stock", [0, 5, 11])
def test_buying_at_the_reservation_price_and_below_only(learn, order_cost, stock):
    made = plan(learn=learn, order_cost=order_cost)
    for day in range(4):
        price = made.reservation_price(day, stock)
        if price <= 0 or price > 3:
            continue
        assert made.units_to_buy(day, stock, price=price * 1.0005) == 0
        assert made.units_to_buy(day, stock, price=price * 0.9995) > 0


def test_a_price_that_tells_all_is_taken_or_left_whatever_it_is():
    made = plan(learn=1.0, order_cost=0.0)
    for day in range(4):
        price = made.reservation_price(day, 0)
        assert price in (0.0, math.inf)
        bought = [made.units_to_buy(day, 0, price=each) > 0 for each in (0.5, 1.0, 2.0)]
        assert bought == [price > 0] * 3


def test_the_cheaper_the_more_is_bought():
    made = plan(learn=0.3, order_cost=0.0)
    bought = [made.units_to_buy(0, 0, price=each) for each in np.linspace(0.6, 1.6, 40)]
    assert bought == sorted(bought, reverse=True)
    assert bought[0] > bought[-1]


def test_more_days_never_cost_more_where_prices_stand_still_on_average():
    values = [plan(learn=0.0, order_cost=0.0, days=n).before[0][0] / 1.01**n for n in range(6)]
    assert values == sorted(values, reverse=True)


def test_no_day_left_is_the_ending():
    ending = np.array([3.0, 2.0, 1.0])
    assert plan_purchases([], ending).before[0].tolist() == [3.0, 2.0, 1.0]


def test_many_prices_at_once_are_each_price_alone():
    prices = np.linspace(0.5, 1.5, 700)
    day = BuyingDay(prices, np.full(700, 1 / 700), STOCKS.astype(float))
    ending = 1.2 * np.maximum(12 - STOCKS, 0.0)
    together = plan_purchases([day], ending).before[0]
    alone = [
        plan_purchases([BuyingDay(np.array([p]), np.ones(1), day.cost)], ending).before[0]
        for p in prices
    ]
    assert together == pytest.approx(np.mean(alone, axis=0))


def test_needs_that_cannot_be_missed():
    """A need of two on the first day must be met; the second day is free."""
    need = np.array([0.0, 0.0, 1.0])
    one = np.ones(1)
    days = [
        BuyingDay(2 * one, one, STOCKS[:5] * 1.0, need=need),
        BuyingDay(one, one, STOCKS[:5] * 1.0),
    ]
    made = plan_purchases(days, np.zeros(5))
    assert made.units_to_buy(0, 0, price=2.0) == 2
    assert made.before[0][0] == pytest.approx(4.0)
    may_miss = [
        BuyingDay(2 * one, one, STOCKS[:5] * 1.0, need=need, short=3.0 * STOCKS[:3]),
        days[1],
    ]
    assert plan_purchases(may_miss, np.zeros(5)).before[0][0] == pytest.approx(4.0)
    cheap = [BuyingDay(2 * one, one, STOCKS[:5] * 1.0, need=need, short=1.5 * STOCKS[:3]), days[1]]
    assert plan_purchases(cheap, np.zeros(5)).before[0][0] == pytest.approx(3.0)


@pytest.mark.parametrize("seed", range(8))
def test_buying_while_worth_it_is_trying_every_purchase(seed):
    random = np.random.default_rng(seed)
    size = int(random.integers(2, 40))
    after = np.append(0.0, -np.sort(random.uniform(-0.5, 2, size - 1))[::-1].cumsum())
    cost = np.append(0.0, np.sort(random.uniform(0.2, 2, size - 1)).cumsum())
    prices = random.uniform(0.3, 2.0, 9)
    day = BuyingDay(prices, np.full(9, 1 / 9), cost, learn=float(random.uniform(0, 1)))
    quick = purchase_plan._buy_while_worth_it(day, after)
    assert quick == pytest.approx(purchase_plan._try_every_purchase(day, after), abs=1e-12)


def test_the_quick_way_is_taken_only_where_it_holds(monkeypatch):
    def never(day, after):
        raise AssertionError("taken where it does not hold")

    monkeypatch.setattr(purchase_plan, "_buy_while_worth_it", never)
    convex, one = STOCKS.astype(float) ** 2, np.ones(1)
    for day, ending in [
        (BuyingDay(one, one, np.sqrt(STOCKS)), convex),  # cheaper by the dozen
        (BuyingDay(one, one, convex), np.sqrt(STOCKS)),
        (BuyingDay(one, one, convex, order_cost=1.0), convex),
        (BuyingDay(one, one, np.where(STOCKS > 3, np.inf, STOCKS)), convex),
        (BuyingDay(-one, one, convex), convex),
    ]:
        plan_purchases([day], ending)
    with pytest.raises(AssertionError, match="does not hold"):
        plan_purchases([BuyingDay(one, one, convex)], convex)
