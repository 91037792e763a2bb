"""Leftovers that bring more than they cost: no more is bought than the need asks for."""

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
ENOUGH = int(stats.geom.ppf(0.999, 1 / 20))  # the quantile of the geometric law, by scipy


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


@pytest.mark.parametrize("days", [1, 5])
@pytest.mark.parametrize("lots_of", [1, 50])
def test_no_more_than_is_enough_in_nearly_all_cases(lots_of, days):
    advice = supply([(30, 0.6)], lots_of=lots_of, days=days)
    assert advice.buy_now == math.ceil(ENOUGH / lots_of) * lots_of
    # on paper: sold at 1.9 falling, bought at 0.6, so as many as are looked at
    assert advice.best_to_resell >= NEED.most > advice.buy_now
    assert f"on paper {advice.best_to_resell} could be bought and the rest resold" in told(advice)


def test_a_larger_lot_only_where_it_costs_no_more():
    # 200 at 0.6 cost 120; all that is enough costs 2 each otherwise, more than that
    assert supply([(200, 0.6)]).buy_now == 200
    # 600 at 0.6 cost 360, more than what is enough does at 2 each
    assert supply([(600, 0.6)]).buy_now <= ENOUGH


def test_what_is_there_already_is_enough():
    assert supply([(200, 0.6)], need=NeedLaw(np.ones(1))).buy_now == 0


def test_leftovers_under_cost_are_left_to_the_least_mean_cost():
    """All else is the newsvendor: every quantity of the price list is weighed, none left out."""
    advice = supply([(30, 1.2)], leftover=0.5)
    assert advice.best_to_resell is None
    assert advice.quantities[-1] >= NEED.most
    assert advice.place == int(np.argmin(advice.totals))
    assert "resold" not in told(advice)
