"""How many now, at most at what price: small cases that can be done by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_tiers import make_tiers
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.errors import BadInput
from advisor.levels.ladders import Ladder, Rung


def still(price, days=1):
    return SimpleNamespace(
        start_log=math.log(price),
        start_sd=0.0,
        drift=np.zeros(days),
        day_sd=np.zeros(days),
        quote_sd=0.0,
    )


def flat(price, *, level=None, lots_of=1):
    """As many as one wants at one price today."""
    return OffersNow(Ladder((Rung(price, 1e9, 5),), 0, level or price, 1e9, 0.0, lots_of))


def question(need, *, now, later, leftover=0.0, **more):
    lots_of = more.pop("lots_of", 1)
    return SupplyQuestion(
        item="lantern frame",
        need=NeedLaw(np.array(need, dtype=float)),
        offers=flat(now, lots_of=lots_of),
        walk=still(later, more.get("days", 1)),
        leftover=leftover,
        **more,
    )


def test_critical_ratio_by_hand():
    # now 2, later 3, left over 0.5 * 3: under 1, over 0.5; ratio 2/3 of needs 0 to 3
    advice = weigh_supply(question([0.25, 0.25, 0.25, 0.25], now=2, later=3, leftover=0.5))
    assert advice.buy_now == 2
    # 2 * 2 + 3 * 0.25 - 1.5 * (2 * 0.25 + 1 * 0.25)
    assert advice.expected_cost == pytest.approx(4 + 0.75 - 1.125)
    assert advice.chance_short == pytest.approx(0.25)
    # holding a second unit saves 3 half the time and brings 1.5 the other half
    assert advice.pay_at_most == pytest.approx(0.5 * 3 + 0.5 * 1.5)


def test_plain_habit_by_hand():
    # mean 1.5, rounded up 2; the same two units here
    advice = weigh_supply(question([0.25, 0.25, 0.25, 0.25], now=2, later=3, leftover=0.5))
    assert advice.plain_qty == 2
    assert advice.plain_cost == pytest.approx(advice.expected_cost)
    dear = weigh_supply(question([0.25, 0.25, 0.25, 0.25], now=4, later=3))
    assert dear.buy_now == 0
    # 4 * 2 + 3 * 0.25 against 3 * 1.5
    assert dear.plain_cost == pytest.approx(8.75)
    assert dear.expected_cost == pytest.approx(4.5)


def test_a_certain_need_is_bought_where_it_is_cheaper():
    sure = [0.0] * 7 + [1.0]
    assert weigh_supply(question(sure, now=2, later=2.5)).buy_now == 7
    assert weigh_supply(question(sure, now=2.6, later=2.5)).buy_now == 0
    at_most = weigh_supply(question(sure, now=2.6, later=2.5)).pay_at_most
    assert at_most == pytest.approx(2.5)


def test_whole_lots_only():
    advice = weigh_supply(question([0.0] * 23 + [1.0], now=2, later=4, leftover=0.25, lots_of=10))
    # 30 for 60 with 7 left over at 1 each, against 20 for 40 and a lot of 10 for 40 with 7 left
    assert advice.buy_now == 30
    assert advice.expected_cost == pytest.approx(60 - 7)
    assert advice.plain_qty == 30


def test_a_lot_larger_than_any_need_is_bought_or_not():
    small = [0.2, 0.4, 0.4]
    # 2000 now against 2200 later, four times in five
    huge = weigh_supply(question(small, now=2, later=2.2, lots_of=1000))
    assert huge.buy_now == 0
    assert huge.expected_cost == pytest.approx(0.8 * 2200)
    cheap = weigh_supply(question(small, now=0.5, later=3, leftover=0.5, lots_of=1000))
    assert cheap.buy_now == 1000
    assert cheap.lots[0].qty == 1000


def test_a_price_list_can_be_worth_leftovers():
    need = [0.0] * 45 + [1.0]
    asked = question(need, now=2.0, later=2.0, leftover=0.5)
    offers = replace(asked.offers, tiers=make_tiers([(60, 1.2)]))
    advice = weigh_supply(replace(asked, offers=offers))
    # 60 at 1.2 less 15 left over at 1: 57, against 45 at 2: 90
    assert advice.buy_now == 60
    assert advice.expected_cost == pytest.approx(57)
    assert [(lot.qty, lot.unit_price) for lot in advice.lots] == [(60, pytest.approx(1.2))]


def test_a_list_under_the_sale_price_is_no_reason_to_buy_without_end():
    """Leftovers bring 2.1 at first, the list asks 2: for resale only as far as that lasts."""
    need = [0.5, *([0.5 / 2000] * 2000)]
    asked = question(need, now=3.0, later=3.0, leftover=0.7)
    ladder = replace(asked.offers.ladder, usual_qty=20)
    offers = replace(asked.offers, ladder=ladder, tiers=make_tiers([(1, 2.0)]))
    advice = weigh_supply(replace(asked, offers=offers))
    # the last unit: short with S saves 3, else brings 2.1 e^(-0.05 over / 20), over <= qty
    short = advice.question.need.chance_above(advice.buy_now)
    assert advice.buy_now < 2000
    assert 3 * short + 2.1 * (1 - short) >= 2.0
    one_more = advice.at(advice.buy_now + 1).expected_cost
    assert one_more >= advice.expected_cost


def test_ways_to_the_market_are_worth_stock():
    need = [0.5, 0.3, 0.15, 0.05]
    free = weigh_supply(question(need, now=2, later=2, leftover=0.5))
    costly = weigh_supply(question(need, now=2, later=2, leftover=0.5, trip_cost=50.0))
    assert free.buy_now == 0
    assert costly.buy_now == 3
    # without stock: 50 half the time, and 2 a unit
    assert costly.at(0).expected_cost == pytest.approx(25 + 2 * 0.75)


def test_money_tied_up_is_paid_for():
    sure = [0.0] * 10 + [1.0]
    asked = question(sure, now=2, later=2.1, days=5, money_rate=0.02)
    free = weigh_supply(replace(asked, money_rate=0.0))
    tied = weigh_supply(asked)
    assert free.buy_now == 10
    assert tied.buy_now == 0
    # bought today for 20: 2 % of 20 tonight, then 2 % of the level 2.1 a unit for four days
    assert tied.at(10).expected_cost == pytest.approx(20 * 1.02 + 4 * 0.02 * 21)


def test_nothing_needed_nothing_bought():
    advice = weigh_supply(question([1.0], now=2, later=3))
    assert advice.buy_now == 0
    assert advice.expected_cost == 0
    assert advice.plain_cost == 0
    assert advice.lots == []


def test_on_a_still_market_the_days_between_change_nothing():
    need = [0.1] * 10
    one = weigh_supply(question(need, now=2, later=2.5, leftover=0.4))
    many = weigh_supply(question(need, now=2, later=2.5, leftover=0.4, days=9))
    assert many.buy_now == one.buy_now
    assert many.expected_cost == pytest.approx(one.expected_cost)


def test_a_falling_price_is_waited_for():
    falling = SimpleNamespace(
        start_log=math.log(2.0),
        start_sd=0.0,
        drift=np.full(6, -0.05),
        day_sd=np.full(6, 0.01),
        quote_sd=0.02,
    )
    sure = NeedLaw(np.array([0.0] * 30 + [1.0]))
    offers = OffersNow(Ladder((), None, 2.0, 10, 0.0))
    advice = weigh_supply(SupplyQuestion("wax", sure, offers, falling, days=6))
    assert advice.buy_now == 0
    prices = [each.price for each in advice.reserve()]
    assert len(prices) == 5
    # under each day's expected price 2 e^(-0.05 d): only a surprise is a reason to buy early
    assert all(p < 2 * math.exp(-0.05 * d) for d, p in enumerate(prices, 1))
    rising = SimpleNamespace(**{**vars(falling), "drift": np.full(6, 0.05)})
    advice = weigh_supply(SupplyQuestion("wax", sure, offers, rising, days=6))
    assert advice.buy_now == 30


def test_large_needs_are_searched_to_the_single_unit():
    units = np.arange(9000)
    law = NeedLaw.of_values(units, np.where((units >= 3000) & (units < 6000), 1.0, 0.0))
    advice = weigh_supply(SupplyQuestion("salt", law, flat(1.0), still(2.0), leftover=0.25))
    # uniform on 3000 to 5999, ratio (2 - 1) / (2 - 0.5): the 2000th value
    assert advice.buy_now == 4999


def test_curve_agrees_with_the_answer():
    advice = weigh_supply(question([0.25] * 4, now=2, later=3, leftover=0.5))
    point = advice.at(advice.buy_now)
    assert point.expected_cost == pytest.approx(advice.expected_cost)
    assert point.spent_now == pytest.approx(4)
    assert point.chance_short == advice.chance_short


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"days": 0}, "0 days to buy in"),
        ({"leftover": 1.2}, "leftovers that bring 1.2"),
        ({"leftover": -0.1}, "leftovers that bring -0.1"),
    ],
)
def test_questions_that_cannot_be_meant(change, said):
    with pytest.raises(BadInput, match=said):
        weigh_supply(replace(question([0.5, 0.5], now=2, later=3), **change))


def test_a_hole_in_the_ladder_is_refused():
    ladder = Ladder((Rung(2.0, float("nan"), 1),), 0, 2.0, 10, 0.0)
    asked = replace(question([0.5, 0.5], now=2, later=3), offers=OffersNow(ladder))
    with pytest.raises(BadInput, match="has no quantity"):
        weigh_supply(asked)


def test_an_unsure_level_is_worth_its_mean():
    """Nothing is needed: one unit bought today is sold tomorrow, at a lognormal price."""
    asked = question([1.0 - 1e-8, 1e-8], now=2, later=2, leftover=0.5)
    unsure = SimpleNamespace(**{**vars(asked.walk), "start_sd": 0.4})
    point = weigh_supply(replace(asked, walk=unsure)).at(1)
    assert point.expected_cost == pytest.approx(2 - 0.5 * 2 * math.exp(0.4**2 / 2), rel=1e-6)


@pytest.mark.parametrize("days", [1, 4])
def test_what_is_beyond_every_need_is_sold(days):
    asked = question([0.5, 0.5], now=2, later=2, leftover=0.5, days=days)
    point = weigh_supply(asked).at(41)
    assert point.expected_cost == pytest.approx(41 * 2 - 40.5 * 1)


def test_later_purchases_add_up_to_the_need():
    """Offers that grow dear: a sure need of 40 is bought in parts, some each day."""
    calm = SimpleNamespace(
        start_log=math.log(2.0),
        start_sd=0.0,
        drift=np.zeros(4),
        day_sd=np.full(4, 0.02),
        quote_sd=0.02,
    )
    sure = NeedLaw(np.array([0.0] * 40 + [1.0]))
    offers = OffersNow(Ladder((), None, 2.0, 10, 0.3))
    advice = weigh_supply(SupplyQuestion("wax", sure, offers, calm, days=4))
    later = advice.reserve()
    assert 5 <= advice.buy_now <= 15
    assert all(5 <= each.units <= 15 for each in later)
    # what is left for the last day is a part like the others
    assert 25 <= advice.buy_now + sum(each.units for each in later) <= 35
