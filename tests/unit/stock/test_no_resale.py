"""Leftovers that bring more than they cost: bought for the need alone."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_tiers import make_tiers
from advisor.decide.stock.stock_reasons import StockStory, stock_cautions
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder

UNITS = np.arange(1, 900)
NEED = NeedLaw.of_values(UNITS, stats.geom.pmf(UNITS, 1 / 20))


def supply(tiers, *, leftover=0.95, lots_of=1, need=NEED, days=1):
    ladder = Ladder((), None, 2.0, 200.0, 0.0, lots_of)
    walk = SimpleNamespace(
        start_log=math.log(2.0),
        start_sd=0.0,
        drift=np.zeros(days),
        day_sd=np.zeros(days),
        quote_sd=0.0,
    )
    offers = OffersNow(ladder, make_tiers(tiers))
    asked = SupplyQuestion("squid ink", need, offers, walk, leftover=leftover, days=days)
    return weigh_supply(asked)


def told(advice):
    story = StockStory("squid ink", advice, True, None, ())
    return " ".join(stock_cautions([story], money="shell", notes=[]))


def by_hand(unit_cost, *, lots_of=1):
    """The newsvendor's quantity: short, a unit costs 2 less what is paid; over, 5 % of it."""
    ratio = (2.0 - unit_cost) / (2.0 - unit_cost + 0.05 * unit_cost)
    return math.ceil(stats.geom.ppf(ratio, 1 / 20) / lots_of) * lots_of


@pytest.mark.parametrize("days", [1, 5])
@pytest.mark.parametrize("unit_cost", [0.6, 1.0, 1.5])
def test_leftovers_are_counted_a_little_under_their_cost(unit_cost, days):
    """Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019), section 4.3:
    the critical ratio, with the geometric law's quantile by scipy."""
    advice = supply([(1, unit_cost)], days=days)
    assert advice.buy_now == by_hand(unit_cost)
    # on paper: sold at 1.9 falling, bought at less
    assert advice.best_to_resell > advice.buy_now
    assert f"on paper {advice.best_to_resell} could be bought" in told(advice)


def test_whole_lots():
    advice = supply([(1, 0.6)], lots_of=50)
    assert advice.buy_now % 50 == 0
    assert abs(advice.buy_now - by_hand(0.6)) < 50


def test_a_larger_lot_only_where_the_need_asks_for_it():
    # 60 at 1.5 cost 90, the 39 of the critical ratio 1.7 each: 66; the need may well be 60
    assert supply([(1, 1.7), (60, 1.5)]).buy_now == 60
    # 600 at 0.6 cost 360; the 135 that are enough in 999 of 1000 cases cost 2 each: 270
    assert stats.geom.ppf(0.999, 1 / 20) == 135
    lot = supply([(600, 0.6)])
    assert lot.buy_now <= 135
    assert lot.best_to_resell >= 600
    # 200 at 0.6 cost 120, less than those
    assert supply([(200, 0.6)]).buy_now == 200


def test_what_is_there_already_is_enough():
    assert supply([(200, 0.6)], need=NeedLaw(np.ones(1))).buy_now == 0


def test_leftovers_under_cost_are_left_to_the_least_mean_cost():
    """All else is the newsvendor: every quantity of the price list is weighed, none left out."""
    advice = supply([(30, 1.2)], leftover=0.5)
    assert advice.best_to_resell is None
    assert advice.quantities[-1] >= NEED.most
    assert advice.place == int(np.argmin(advice.totals))
    assert "resold" not in told(advice)
