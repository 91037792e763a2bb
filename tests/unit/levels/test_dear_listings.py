"""One dear ask beside deals says next to nothing; a jump that a second one bears out is followed.

The book is what a player typed in a week: two asks, seven deals, two bids, one dear ask. That
dear listings are always there and sell seldom: common practice, no source.
"""

import numpy as np
import pytest

from advisor.levels.market import level_market
from advisor.levels.series import ASK, BID, DEAL, MarketSettings, make_series

DAY = 86_400_000_000
WEEK = [
    *[(0.4, 410.0, ASK, 1), (4.4, 427.7, ASK, 2), (3.4, 360.0, BID, 3), (5.4, 370.0, BID, 4)],
    *[
        (day + 0.6, price, DEAL, -1)
        for day, price in enumerate([400, 415, 405, 420, 410, 412, 408])
    ],
]


def bell(*more, of=WEEK, as_of_day=8.0, side=None):
    days, price, sides, trader = zip(*sorted([*of, *more]), strict=True)
    at_us = (np.array(days) * DAY).astype(np.int64)
    columns = {"at_us": at_us, "money": "shell", "side": sides, "trader": trader}
    series = {"tide bell": make_series("tide bell", price, **columns)}
    market = level_market(series, settings=MarketSettings("shell"), as_of_us=int(as_of_day * DAY))
    return market.items["tide bell"]


@pytest.mark.parametrize("day", [6.7, 7.5, 9.0])
def test_a_dear_ask_that_deals_deny_hardly_moves_the_price(day):
    plain, dear = (bell(*more, as_of_day=day + 0.3) for more in ((), [(day, 1050.0, ASK, 5)]))
    assert list(dear.screened.values()) == ["far off"]
    assert dear.ask.level == pytest.approx(plain.ask.level, rel=0.01)
    assert dear.ask.high_95 < 1.1 * plain.ask.high_95
    for days, at in dear.forecast:
        assert at["0.8"] < 1.1 * dict(plain.forecast)[days]["0.8"]


def test_a_low_bid_that_deals_deny_hardly_moves_the_price():
    plain, low = bell(), bell((7.5, 120.0, BID, 5))
    assert list(low.screened.values()) == ["far off"]
    assert low.bid.level == pytest.approx(plain.bid.level, rel=0.03)


def test_a_jump_that_others_bear_out_is_followed_by_its_third_ask():
    jump = [(7.2, 1050.0, ASK, 5), (8.0, 1060.0, ASK, 6), (9.0, 1040.0, ASK, 7)]
    assert bell(*jump, as_of_day=9.2).ask.level == pytest.approx(1050, rel=0.05)


def test_a_cheap_ask_is_believed_as_before():
    """A low one says more than a dear one: somebody sells at it."""
    low = bell((7.2, 250.0, ASK, 5), (8.0, 252.0, ASK, 6), as_of_day=8.3)
    assert low.ask.level == pytest.approx(251, rel=0.03)


def test_deals_of_long_ago_deny_nothing():
    ask = (30.0, 1050.0, ASK, 5)
    asks = [row for row in WEEK if row[2] == ASK]
    with_deals, without = (bell(ask, of=of, as_of_day=30.3).ask for of in (WEEK, asks))
    assert with_deals == without


def test_later_deals_deny_nothing():
    """A quote is judged by what was seen before it."""
    asks = [row for row in WEEK if row[2] == ASK]
    later = [(8.0 + k / 10, 410.0, DEAL, -1) for k in range(3)]
    ask = (7.2, 1050.0, ASK, 5)
    assert bell(ask, *later, of=asks, as_of_day=9).ask == bell(ask, of=asks, as_of_day=9).ask
