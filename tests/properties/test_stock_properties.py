"""What must hold of stock advice whatever the market is like."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_looks import look_ahead
from advisor.decide.stock.price_tiers import make_tiers
from advisor.decide.stock.purse import share_purse
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.decide.stock.trader_trust import TraderRecord, weigh_trust
from advisor.levels.ladders import Ladder, Rung

quickly = settings(max_examples=40, deadline=None)
prices = st.floats(0.2, 20.0)


@st.composite
def questions(draw, most_days=5):
    level = draw(prices)
    rungs = tuple(
        Rung(level * factor, float(qty), -1)
        for factor, qty in sorted(
            draw(st.lists(st.tuples(st.floats(0.6, 1.5), st.integers(1, 15)), max_size=3))
        )
    )
    lots_of = draw(st.sampled_from([1, 1, 3]))
    ladder = Ladder(rungs, 0, level, draw(st.floats(1, 20)), draw(st.floats(0, 0.5)), lots_of)
    weights = draw(st.lists(st.floats(0.01, 1.0), min_size=1, max_size=25))
    days = draw(st.integers(1, most_days))
    walk = SimpleNamespace(
        start_log=math.log(level),
        start_sd=draw(st.floats(0, 0.3)),
        drift=np.full(days, draw(st.floats(-0.05, 0.05))),
        day_sd=np.full(days, draw(st.floats(0, 0.1))),
        quote_sd=draw(st.floats(0, 0.2)),
    )
    return SupplyQuestion(
        item="lantern frame",
        need=NeedLaw(np.array(weights) / sum(weights)),
        offers=OffersNow(ladder),
        walk=walk,
        days=days,
        leftover=draw(st.floats(0, 1)),
        trip_cost=draw(st.sampled_from([0.0, 1.0])),
        money_rate=draw(st.sampled_from([0.0, 0.01])),
    )


def for_use(asked):
    """The question with leftovers that bring less than the cheapest unit costs.

    Where they bring more, less is bought than would cost least on paper: no speculation.
    """
    return replace(asked, leftover=0.4 * asked.leftover)


@quickly
@given(questions().map(for_use))
def test_never_dearer_than_the_plain_habit(asked):
    advice = weigh_supply(asked)
    assert advice.expected_cost <= advice.plain_cost * (1 + 1e-9) + 1e-9


@quickly
@given(questions().map(for_use))
def test_never_dearer_than_any_other_quantity(asked):
    advice = weigh_supply(asked)
    lot = asked.offers.ladder.lots_of
    for qty in range(0, asked.need.most + lot, lot):
        total = advice.at(qty).expected_cost
        assert advice.expected_cost <= total + 1e-9 * (1 + abs(total))


@quickly
@given(questions())
def test_whole_lots_within_reason(asked):
    advice = weigh_supply(asked)
    assert advice.buy_now % asked.offers.ladder.lots_of == 0
    assert sum(lot.qty for lot in advice.lots) == pytest.approx(advice.buy_now)
    assert 0 <= advice.chance_short <= 1
    assert advice.pay_at_most >= 0
    for each in advice.reserve():
        assert math.isfinite(each.price)
        assert each.price >= 0


@quickly
@given(questions(), st.floats(0.1, 50))
def test_in_another_money_the_quantities_stay(asked, rate):
    ladder = asked.offers.ladder
    rungs = tuple(replace(each, unit_price=rate * each.unit_price) for each in ladder.steps)
    moved = SimpleNamespace(
        **{**vars(asked.walk), "start_log": asked.walk.start_log + math.log(rate)}
    )
    other = weigh_supply(
        replace(
            asked,
            offers=OffersNow(replace(ladder, steps=rungs, level=rate * ladder.level)),
            walk=moved,
            trip_cost=rate * asked.trip_cost,
        )
    )
    here = weigh_supply(asked)
    assert other.expected_cost == pytest.approx(rate * here.expected_cost, rel=1e-6, abs=1e-9)
    assert other.totals == pytest.approx(rate * here.totals, rel=1e-6, abs=1e-9)


@quickly
@given(questions(), st.integers(1, 30))
def test_stock_on_hand_never_costs(asked, on_hand):
    # where offers stand under what leftovers bring, a need is a pretext to buy and sell again
    last = look_ahead(asked.walk, asked.days)[-1]
    first = float(asked.offers.cost_of(np.ones(1))[0])
    assume(first >= asked.leftover * last.middle * last.mean_level)
    more = weigh_supply(replace(asked, need=asked.need.less(on_hand)))
    assert more.expected_cost <= weigh_supply(asked).expected_cost + 1e-9


@quickly
@given(questions(), st.floats(0.3, 1.0), st.integers(1, 30))
def test_a_price_list_never_costs(asked, factor, lot):
    tiers = make_tiers([(float(lot), factor * asked.offers.ladder.level)])
    listed = weigh_supply(replace(asked, offers=replace(asked.offers, tiers=tiers)))
    assert listed.expected_cost <= weigh_supply(asked).expected_cost + 1e-9


@quickly
@given(questions())
def test_a_dear_way_to_the_market_never_saves(asked):
    free = weigh_supply(replace(asked, trip_cost=0.0))
    assert free.expected_cost <= weigh_supply(asked).expected_cost + 1e-9


@quickly
@given(st.lists(questions(most_days=1), min_size=1, max_size=4), st.floats(0, 60))
def test_a_larger_purse_never_costs(asked, budget):
    answers = [weigh_supply(each) for each in asked]
    spent, totals = [each.spent for each in answers], [each.totals for each in answers]
    small = share_purse(spent, totals, budget=budget)
    large = share_purse(spent, totals, budget=2 * budget + 5)
    assert small.spent <= budget + 1e-9
    assert large.total <= small.total + 1e-9 * (1 + abs(small.total))
    assert small.total >= sum(each.expected_cost for each in answers) - 1e-6


@quickly
@given(questions(), st.data())
def test_a_cheaper_lot_never_costs(asked, data):
    steps = list(asked.offers.ladder.steps)
    assume(steps)
    at = data.draw(st.integers(0, len(steps) - 1))
    steps[at] = replace(steps[at], unit_price=steps[at].unit_price * data.draw(st.floats(0.3, 1.0)))
    steps.sort(key=lambda step: step.unit_price)
    offers = OffersNow(replace(asked.offers.ladder, steps=tuple(steps)))
    cheaper = weigh_supply(replace(asked, offers=offers))
    assert cheaper.expected_cost <= weigh_supply(asked).expected_cost + 1e-9


@quickly
@given(st.permutations([(1, 2.0), (10, 1.8), (30, 1.5)]), st.booleans())
def test_the_order_in_which_a_price_list_is_typed_does_not_matter(steps, incremental):
    units = np.arange(60.0)
    typed = make_tiers(steps, incremental=incremental).cost_of(units)
    assert typed == pytest.approx(make_tiers(sorted(steps), incremental=incremental).cost_of(units))


@quickly
@given(questions(), st.integers(0, 6), st.integers(0, 6))
def test_a_trader_who_failed_never_saves(asked, kept, failed):
    steps = tuple(
        replace(step, trader=number % 2) for number, step in enumerate(asked.offers.ladder.steps)
    )
    ladder = replace(asked.offers.ladder, steps=steps)
    trusted = weigh_trust(ladder, {0: TraderRecord(kept, failed)})
    risky = weigh_supply(replace(asked, offers=OffersNow(trusted.ladder, None, trusted.risks)))
    sound = weigh_supply(replace(asked, offers=OffersNow(ladder)))
    assert risky.expected_cost >= sound.expected_cost - 1e-9
    assert (
        risky.spent[risky.place] <= float(risky.question.offers.cost_of([risky.buy_now])[0]) + 1e-9
    )
