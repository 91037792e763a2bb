"""Newsvendor and lot sizing against the library stockpyl (test-only)."""

from __future__ import annotations

import math
import warnings
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_tiers import make_tiers
from advisor.decide.stock.purchase_plan import BuyingDay, plan_purchases
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder, Rung


def other(module):
    """A module of stockpyl, whatever warnings its own imports give."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip(f"stockpyl.{module}", reason="stockpyl is not installed")


def newsvendor(need, overage, underage):
    later = 2 * overage + underage
    still = SimpleNamespace(
        start_log=math.log(later),
        start_sd=0.0,
        drift=np.zeros(1),
        day_sd=np.zeros(1),
        quote_sd=0.0,
    )
    offers = OffersNow(Ladder((Rung(2 * overage, 1e9, -1),), 0, later, 1e9, 0.0))
    advice = weigh_supply(SupplyQuestion("paper", need, offers, still, leftover=overage / later))
    return advice.buy_now, advice.expected_cost - 2 * overage * need.mean


@pytest.mark.parametrize("mean", [3.0, 17.5, 120.0])
@pytest.mark.parametrize(("overage", "underage"), [(1, 1), (1, 9), (0.3, 2)])
def test_poisson_newsvendor(mean, overage, underage):
    units = np.arange(int(mean + 15 * math.sqrt(mean) + 20))
    qty, cost = newsvendor(
        NeedLaw.of_values(units, stats.poisson.pmf(units, mean)), overage, underage
    )
    best, least = other("newsvendor").newsvendor_poisson(overage, underage, mean)
    assert qty == best
    assert cost == pytest.approx(least, rel=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_newsvendor_of_any_law(seed):
    random = np.random.default_rng(seed)
    pmf = random.dirichlet(np.full(12, 0.5))
    qty, cost = newsvendor(NeedLaw(pmf), 1.0, 3.0)
    best, least = other("newsvendor").newsvendor_discrete(
        1.0, 3.0, demand_pmf=dict(enumerate(pmf.tolist()))
    )
    assert qty == best
    assert cost == pytest.approx(least)


@pytest.mark.parametrize("seed", range(6))
def test_known_needs_on_known_days(seed):
    random = np.random.default_rng(seed)
    days = 7
    needs = random.integers(1, 12, days)
    order = random.uniform(2, 20, days).round(1)
    keep = float(random.uniform(0.1, 2))
    price = random.uniform(1, 4, days).round(1)
    stocks = np.arange(needs.sum() + 1)
    plan = plan_purchases(
        [
            BuyingDay(
                prices=price[d : d + 1],
                odds=np.ones(1),
                cost=stocks.astype(float),
                order_cost=float(order[d]),
                keep=keep * stocks,
                need=np.eye(1, needs[d] + 1, needs[d]).ravel(),
            )
            for d in range(days)
        ],
        np.zeros(len(stocks)),
    )
    _, least, *_ = other("wagner_whitin").wagner_whitin(
        days, keep, order.tolist(), needs.tolist(), price.tolist()
    )
    assert plan.before[0][0] == pytest.approx(least)


@pytest.mark.parametrize("incremental", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_cost_of_a_lot_under_price_tiers(seed, incremental):
    random = np.random.default_rng(seed)
    breaks = np.append(0, random.integers(20, 300, 3).cumsum())
    prices = np.sort(random.uniform(1, 5, 4))[::-1]
    demand, order, rate = 900.0, 25.0, 0.2
    tiers = make_tiers(list(zip(breaks, prices, strict=True)), incremental=incremental)
    lots = np.arange(1.0, 20_000.0, 0.5)
    cost = tiers.cost_of(lots)
    yearly = demand * cost / lots + order * demand / lots + rate * cost / 2
    eoq = other("eoq")
    solve = (
        eoq.economic_order_quantity_with_incremental_discounts
        if incremental
        else eoq.economic_order_quantity_with_all_units_discounts
    )
    lot, _, least = solve(order, rate, demand, breaks.tolist(), prices.tolist())
    assert yearly.min() == pytest.approx(least, rel=1e-6)
    assert lots[np.argmin(yearly)] == pytest.approx(lot, abs=0.5)
