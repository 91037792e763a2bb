"""Wanted posts: Poisson sellers, their least prices, how fast asks vanish."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.wanted_post import (
    SellerFlow,
    asks_vanishing_a_day,
    best_offer,
    find_sellers,
)

DAY_US = 86_400_000_000
FLOW = SellerFlow(a_day=2.0, lot=20, middle=2.0, log_sd=0.1)


def test_half_the_sellers_accept_the_middle():
    # 2 sellers a day for 3 days, half accept: Poisson with mean 3; 50 units are 3 lots
    law = stats.poisson(3.0)
    assert FLOW.chance_filled(2.0, 50, days=3) == pytest.approx(law.sf(2))
    mean_sold = sum(min(20 * k, 50) * law.pmf(k) for k in range(60))
    assert FLOW.share_filled(2.0, 50, days=3) == pytest.approx(mean_sold / 50)


def test_simulated_sellers_fill_as_often():
    random = np.random.default_rng(3)
    runs, price, units, days = 40_000, 1.9, 30, 4
    sellers = random.poisson(FLOW.a_day * days, runs)
    accepts = np.array(
        [
            (FLOW.middle * np.exp(FLOW.log_sd * random.standard_normal(n)) <= price).sum()
            for n in sellers
        ]
    )
    filled = np.minimum(accepts * 20, units)
    assert FLOW.chance_filled(price, units, days=days) == pytest.approx(
        (filled == units).mean(), abs=0.01
    )
    assert FLOW.share_filled(price, units, days=days) == pytest.approx(
        filled.mean() / units, abs=0.01
    )


def test_best_bid_is_the_best_of_all_bids():
    offer = best_offer(FLOW, 40, days=2, otherwise=2.3)
    bids = np.linspace(1.2, 2.3, 4001)
    shares = FLOW.share_filled(bids, 40, days=2)
    costs = shares * bids + (1 - shares) * 2.3
    assert offer.mean_unit_cost == pytest.approx(costs.min(), rel=1e-3)
    assert offer.price == pytest.approx(bids[np.argmin(costs)], rel=0.01)
    assert offer.mean_unit_cost < 2.3


def test_more_time_means_a_lower_bid_and_a_lower_cost():
    offers = [best_offer(FLOW, 40, days=days, otherwise=2.3) for days in (1, 3, 10, 30)]
    assert all(np.diff([each.mean_unit_cost for each in offers]) < 0)
    assert offers[-1].price < offers[0].price


def test_no_bid_where_nothing_is_wanted_or_all_is_cheap():
    assert best_offer(FLOW, 0, days=3, otherwise=2.0) is None
    assert best_offer(FLOW, 10, days=3, otherwise=0.0) is None
    assert best_offer(FLOW, 10, days=3, otherwise=0.4) is None


def test_sellers_between_bid_and_ask():
    flow = find_sellers(ask=2.42, bid=2.0, quote_sd=0.01, turnover=3.0, lot=20)
    assert flow.middle == pytest.approx(2.2)
    assert flow.log_sd == pytest.approx(math.log(1.1))
    assert flow.a_day == 3.0
    assert not flow.assumptions


@pytest.mark.parametrize("bid", [None, 2.42, 3.0])
def test_little_data_is_said(bid):
    flow = find_sellers(ask=2.42, bid=bid, quote_sd=0.01, turnover=None, lot=20)
    assert flow.a_day == 1.0
    assert flow.middle < 2.42
    assert len(flow.assumptions) == 2


def looks_at(rate, *, gap_days, looks, standing, seed):
    """Asks with exponential lives looked at every so often; each that goes is replaced."""
    random = np.random.default_rng(seed)
    names = list(range(standing))
    fresh = standing
    at_us, price, trader = [], [], []
    for look in range(looks):
        for name in names:
            at_us.append(int(look * gap_days * DAY_US))
            price.append(2.0 + 0.001 * name)
            trader.append(name)
        for k in range(standing):
            if random.random() > math.exp(-rate * gap_days):
                names[k], fresh = fresh, fresh + 1
    return (
        np.array(at_us),
        np.array(price),
        {"qty": np.full(len(price), 20.0), "trader": np.array(trader)},
    )


@pytest.mark.parametrize("rate", [0.1, 0.3, 0.7])
def test_vanishing_is_found_again(rate):
    at_us, price, rest = looks_at(rate, gap_days=0.5, looks=200, standing=6, seed=5)
    found = asks_vanishing_a_day(at_us, price, **rest)
    assert found == pytest.approx(6 * rate, rel=0.15)


def test_asks_that_never_vanish_and_too_few_asks():
    at_us, price, rest = looks_at(0.0, gap_days=1, looks=10, standing=3, seed=1)
    assert asks_vanishing_a_day(at_us, price, **rest) == 0.0
    few = slice(0, 6)
    assert (
        asks_vanishing_a_day(
            at_us[few], price[few], qty=rest["qty"][few], trader=rest["trader"][few]
        )
        is None
    )
    none = np.zeros(0, dtype=np.int64)
    assert (
        asks_vanishing_a_day(none, none.astype(float), qty=none.astype(float), trader=none) is None
    )


def test_unknown_traders_are_told_by_price_and_quantity():
    at_us = np.repeat(np.arange(6) * DAY_US, 2)
    price = np.tile([2.0, 2.0], 6)
    qty = np.tile([10.0, 30.0], 6)
    unknown = np.full(12, -1)
    assert asks_vanishing_a_day(at_us, price, qty=qty, trader=unknown) == 0.0
