"""What must hold of any sale plan: more pieces, days, buyers never bring less; money scales."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.decide.sell.sale_market import SaleMarket
from advisor.decide.sell.sale_plan import plan_sale, sale_chances
from advisor.decide.sell.sell_advice import weigh_sale

DAYS = st.integers(1, 6)
COUNTS = st.integers(1, 6)


@st.composite
def markets(draw):
    days = draw(DAYS)
    level = draw(st.floats(0.1, 1000.0))
    ends = draw(st.booleans())
    return SaleMarket(
        level=level,
        a_day=draw(st.floats(0.05, 5.0)),
        width=draw(st.floats(0.02, 0.3)),
        bid=draw(st.none() | st.floats(0.5, 0.95).map(lambda share: share * level)),
        drift=np.array(draw(st.lists(st.floats(-0.1, 0.1), min_size=days, max_size=days))),
        share=np.linspace(1.0, 0.0, days + 1) if ends else np.ones(days + 1),
        kept=0.95,
        leftover=draw(st.sampled_from([0.0, 0.3 * level, 3.0 * level])),
        every=draw(st.integers(1, days)),
        bidders=tuple(
            sorted(draw(st.lists(st.tuples(st.floats(0.8, 1.2), st.integers(1, 3)), max_size=2)))
        )[::-1],
    )


@settings(max_examples=30, deadline=None)
@given(market=markets(), count=COUNTS)
def test_value_rises_and_is_concave_in_the_number_left(market, count):
    """Each further piece adds something, and less than the one before."""
    left = market.left_over(count)
    plan = plan_sale(count, market.periods(count), kept=market.kept, leftover=left)
    gains = np.diff(plan.value[0])
    assert np.all(gains >= -1e-9 * market.level)
    assert np.all(np.diff(gains) <= 1e-9 * market.level)


@settings(max_examples=30, deadline=None)
@given(market=markets(), count=COUNTS)
def test_never_worse_than_what_one_can_do_anyway(market, count):
    advice = weigh_sale(count, market)
    slack = 1e-9 * market.level * count
    assert advice.proceeds >= advice.one_ask - slack
    assert advice.proceeds >= (advice.at_bids or 0.0) - slack
    assert 0 <= advice.sell_at_once <= count
    sold = [each.sold_by_then for each in advice.days]
    assert all(0 <= each <= count + 1e-9 for each in sold)
    assert sold == sorted(sold)


@settings(max_examples=20, deadline=None)
@given(market=markets(), count=COUNTS, times=st.floats(0.01, 100.0))
def test_everything_scales_with_the_money(market, count, times):
    other = replace(
        market,
        level=market.level * times,
        bid=None if market.bid is None else market.bid * times,
        leftover=market.leftover * times,
    )
    here, there = weigh_sale(count, market), weigh_sale(count, other)
    assert there.proceeds == pytest.approx(times * here.proceeds, rel=1e-9)
    assert there.floor == pytest.approx(times * here.floor, rel=1e-6, abs=1e-9 * other.level)


@settings(max_examples=20, deadline=None)
@given(market=markets(), count=COUNTS, more=st.floats(1.1, 3.0))
def test_more_buyers_bring_no_less(market, count, more):
    busy = replace(market, a_day=market.a_day * more)
    slack = 1e-9 * market.level * count
    assert weigh_sale(count, busy).proceeds >= weigh_sale(count, market).proceeds - slack


@given(buyers=st.lists(st.floats(1e-6, 50.0), min_size=1, max_size=5), count=st.integers(1, 40))
def test_chances_sum_to_one(buyers, count):
    chances = sale_chances(np.array(buyers), count)
    assert np.all(chances >= -1e-15)
    assert chances.sum(axis=1) == pytest.approx(np.ones(len(buyers)), abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(market=markets(), count=COUNTS)
def test_bidders_who_want_more_than_there_is(market, count):
    """One bidder at the bid level who wants plenty is a bid for every piece."""
    plenty = weigh_sale(count, replace(market, bidders=((1.0, 1000.0),)))
    every = weigh_sale(count, replace(market, bidders=()))
    assert plenty.proceeds == pytest.approx(every.proceeds)
    assert plenty.sell_at_once == every.sell_at_once
    few = weigh_sale(count, replace(market, bidders=((1.0, 1.0),)))
    assert few.proceeds <= every.proceeds + 1e-9 * market.level * count


def test_what_is_worth_more_kept_is_not_sold_for_less():
    """Kept, one is worth three times what buyers pay: whatever the plan, it brings that."""
    market = SaleMarket(100.0, 1.0, 0.05, None, np.zeros(3), np.ones(4), 0.95, leftover=300.0)
    advice = weigh_sale(2, market)
    assert advice.proceeds == pytest.approx(600.0, rel=1e-6)
    assert advice.ask_now * 0.95 >= 300.0
