"""How many buy at which price, and until when."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.decide.sell.sale_market import SaleMarket, width_from_asks

MARKET = SaleMarket(
    level=100.0,
    a_day=2.0,
    width=0.1,
    bid=80.0,
    drift=np.array([0.1, 0.0, -0.1]),
    share=np.array([1.0, 1.0, 0.5, 0.25]),
    kept=0.95,
)


def test_as_many_as_said_at_the_level_and_twice_that_at_most():
    assert MARKET.buyers_on(0, 100.0) == pytest.approx(2.0)
    assert MARKET.buyers_on(0, 1e-9) == pytest.approx(4.0)
    assert MARKET.buyers_on(0, 1e9) == pytest.approx(0.0, abs=1e-12)


def test_levels_and_buyers_move_with_the_days():
    assert MARKET.level_on(1) == pytest.approx(100 * np.exp(0.1))
    assert MARKET.level_on(3) == pytest.approx(100.0)
    assert MARKET.buyers_on(2, MARKET.level_on(2)) == pytest.approx(1.0)


def test_bids_fade_with_the_season_but_those_of_today_stand():
    assert MARKET.bid_on(0) == 80.0
    assert MARKET.bid_on(3) == pytest.approx(80.0 * 0.25)


def test_a_quarter_buy_at_the_level_of_the_asks():
    width = width_from_asks(100.0, 120.0)
    market = SaleMarket(100.0, 2.0, width, None, np.zeros(1), np.ones(2), 0.95)
    assert market.buyers_on(0, 120.0) == pytest.approx(0.5)


def test_asks_no_dearer_than_sales_tell_nothing():
    assert width_from_asks(100.0, None) == width_from_asks(100.0, 99.0)


def test_asks_tried_move_with_the_level_and_start_at_the_bid():
    first, second, third = MARKET.periods()
    assert first.asks[0] == pytest.approx(80.0 / 0.95)
    assert second.asks == pytest.approx(first.asks * np.exp(0.1))
    assert third.buyers == pytest.approx(first.buyers * 0.5)
