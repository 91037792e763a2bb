"""The market of one supply: season's end, leftovers, unseen offers, services."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.book.settings import ItemSettings, Season, Settings, TradeSettings
from advisor.decide.stock.need import NeedLaw
from advisor.errors import CannotAnswer
from advisor.levels.market import level_market
from advisor.levels.series import MarketSettings, make_series
from advisor.tasks.pricing import Pricing
from advisor.tasks.stock_items import answer_supplies
from advisor.tasks.stock_markets import (
    SELLING_DAYS,
    find_market,
    season_days_left,
    season_share,
)
from advisor.tasks.stock_needs import SupplyNeeds, chance_any_short

DAY_US = 86_400_000_000
NOW_US = 100 * DAY_US


def pricing(*, asks=(2.0,), bids=(), end_day=400, fixed=None, family="frames", hours_ago=1):
    at_us = NOW_US - hours_ago * DAY_US // 24
    rows = [(0, price) for price in asks] + [(1, price) for price in bids]
    series = {}
    if rows:
        series["frame"] = make_series(
            "frame",
            [price for _, price in rows],
            at_us=[at_us] * len(rows),
            money="shell",
            side=[side for side, _ in rows],
            qty=[10.0] * len(rows),
        )
    season = Season("fair", 0, end_day * DAY_US)
    settings = Settings(
        file=None,
        money="shell",
        seasons=(season,),
        trade=TradeSettings(sale_fee=0),
        items={"frame": ItemSettings("frame", family=family)},
    )
    market = level_market(series, settings=MarketSettings("shell"), as_of_us=NOW_US)
    return Pricing(market, series, fixed or {}, {"frame": "frame"}, settings)


def test_days_until_the_season_ends():
    assert season_days_left(pricing(end_day=130)) == 30
    over = pricing(end_day=90)
    assert season_days_left(over) is None
    assert season_share(over, 50) == 1.0


def test_leftovers_fall_to_nothing_at_the_end_of_the_season():
    known = pricing(end_day=130)
    assert season_share(known, 5) == 1.0
    assert season_share(known, 30) == 0.0
    assert season_share(known, 40) == 0.0
    half = 30 - SELLING_DAYS / 2
    assert season_share(known, half) == pytest.approx(0.5)


def test_leftover_is_the_net_sale_level_over_the_ask_level():
    known = pricing(asks=(2.0,), bids=(1.6,))
    levels = known.levels("frame")
    market = find_market("frame", known, days=1, tiers=None)
    assert market.leftover == pytest.approx(levels.sale.level / levels.ask.level, rel=0.02)
    ending = pricing(asks=(2.0,), bids=(1.6,), end_day=101)
    assert find_market("frame", ending, days=1, tiers=None).leftover == 0.0


def test_a_foreseen_rise_is_no_reason_to_buy_more_than_is_needed():
    known = pricing(asks=(2.0,), bids=(1.6,))
    levels = known.levels("frame")
    rising = replace(levels.sale_path, drift=np.full(60, 0.02))
    risen = replace(levels.ask_path, drift=np.full(60, 0.02))
    higher = replace(levels, sale_path=rising, ask_path=risen)
    moved = replace(known, market=replace(known.market, items={"frame": higher}))
    market = find_market("frame", moved, days=10, tiers=None)
    # the sale price counts as today's, against an asking price ten days of 2 % higher
    still = find_market("frame", known, days=10, tiers=None).leftover
    assert market.leftover <= still * math.exp(-0.2) * 1.05


def test_offers_seen_long_ago_do_not_stand():
    fresh = find_market("frame", pricing(asks=(2.0, 2.2)), days=1, tiers=None)
    assert len(fresh.offers.ladder.steps) == 2
    old = find_market("frame", pricing(asks=(2.0, 2.2), hours_ago=72), days=1, tiers=None)
    assert old.offers.ladder.steps == ()
    # unsure, so dearer on average than its middle
    assert (
        old.offers.ladder.level > pricing(asks=(2.0, 2.2), hours_ago=72).levels("frame").ask.level
    )


def test_what_if_price_is_known_and_stays():
    market = find_market("frame", pricing(fixed={"frame": 3.0}), days=4, tiers=None)
    assert market.walk.start_log == pytest.approx(math.log(3.0))
    assert float(market.offers.cost_of([7])[0]) == pytest.approx(21.0)
    assert market.sellers is None


def test_no_price_no_answer():
    with pytest.raises(CannotAnswer, match="ever quoted"):
        find_market("frame", pricing(asks=()), days=1, tiers=None)
    with pytest.raises(CannotAnswer, match="nobody is known to ask"):
        find_market("frame", pricing(asks=(), bids=(1.5,)), days=1, tiers=None)


def test_services_are_paid_when_used():
    known = pricing(family="Services", fixed={"frame": 3.0})
    market = find_market("frame", known, days=5, tiers=None)
    assert not market.stockable
    use = {"frame": NeedLaw(np.array([0.0, 0.5, 0.5]))}
    needs = SupplyNeeds(use, {"frame": 0}, [("frame",)], ())
    (answer,) = answer_supplies(needs, {"frame": market}, days=5, trip_cost=100.0, money_rate=0.0)
    assert answer.advice.buy_now == 0
    assert answer.advice.expected_cost == pytest.approx(1.5 * 3.0)
    assert answer.advice.plain_cost == pytest.approx(1.5 * 3.0)


def test_one_way_to_the_market_fetches_a_whole_group():
    known = pricing(fixed={"frame": 3.0})
    market = find_market("frame", known, days=1, tiers=None)
    need = NeedLaw(np.full(11, 1 / 11))
    use, stock = {"frame": need, "wax": need}, {"frame": 0, "wax": 0}
    markets = {item: SimpleNamespace(**{**vars(market), "item": item}) for item in use}
    together = SupplyNeeds(use, stock, [("frame", "wax")], ())
    apart = SupplyNeeds(use, stock, [("frame",), ("wax",)], ())
    shared = answer_supplies(together, markets, days=1, trip_cost=20.0, money_rate=0.0)
    alone = answer_supplies(apart, markets, days=1, trip_cost=20.0, money_rate=0.0)
    assert sum(each.advice.question.trip_cost for each in shared) == pytest.approx(20.0)
    assert sum(each.advice.question.trip_cost for each in alone) == pytest.approx(40.0)


def test_chance_that_anything_runs_short():
    chances = {"frame": 0.2, "wax": 0.3, "flux": 0.5}
    one_pace = chance_any_short(chances, [("frame", "wax"), ("flux",)])
    assert one_pace == pytest.approx(1 - 0.7 * 0.5)
    each_alone = chance_any_short(chances, [("frame",), ("wax",), ("flux",)])
    assert each_alone == pytest.approx(1 - 0.8 * 0.7 * 0.5)


@pytest.mark.parametrize("asks", [(2.0, 2.2, 2.1, 2.6), (2.6, 2.1, 2.0, 2.2), (2.2, 2.6, 2.1, 2.0)])
def test_the_order_of_quotes_does_not_matter(asks):
    market = find_market("frame", pricing(asks=asks), days=3, tiers=None)
    in_order = find_market("frame", pricing(asks=sorted(asks)), days=3, tiers=None)
    units = np.arange(80.0)
    assert market.offers.cost_of(units) == pytest.approx(in_order.offers.cost_of(units))
    assert market.walk.start_log == pytest.approx(in_order.walk.start_log)
    assert market.leftover == pytest.approx(in_order.leftover)
