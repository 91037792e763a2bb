"""Each way of a replay settled by hand: the arithmetic stands beside the numbers."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.decide.replay.day_advice import (
    CraftSaid,
    DayAdvice,
    ForecastSaid,
    SaleSaid,
    StockSaid,
    WayToHave,
    as_plain,
    from_plain,
)
from advisor.decide.replay.forecast_scores import ForecastCame, mean_share_off, score_forecasts
from advisor.decide.replay.replay_sums import settle_day, sum_days
from advisor.decide.replay.settled_craft import cheapest_way, settle_craft
from advisor.decide.replay.settled_sale import settle_sale
from advisor.decide.replay.settled_stock import settle_stock
from advisor.decide.replay.standing import Standing

KEPT = 0.95
MANY = float("inf")

MAKE = WayToHave("make", {"frame": 3.0, "wax": 1.0}, {"scrap": 2.0}, 1.0)
BUY = WayToHave("buy", {"lantern": 1.0}, {})


def stands(price, *, bid=None, deal=None, is_fresh=True):
    return Standing(((price, MANY),), bid, deal, is_fresh)


def test_craft_walks_the_offers_and_sells_what_comes_back():
    market = {
        "frame": Standing(((2.0, 2.0), (5.0, 9.0))),  # three of them: 2 + 2 + 5 = 9
        "wax": stands(4.0),
        "scrap": stands(1.0),  # two bring 2 x 0.95 = 1.9
        "lantern": stands(20.0),
    }
    said = CraftSaid("lantern", [MAKE, BUY], followed=0, plain=1)
    settled = settle_craft(said, market, kept=KEPT)
    assert settled.followed == pytest.approx(9 + 4 - 1.9 + 1)
    assert settled.plain == 20
    assert settled.hindsight == settled.followed
    assert settled.was_right


def test_craft_is_not_settled_where_nobody_looked_or_something_has_no_price():
    said = CraftSaid("lantern", [MAKE, BUY], followed=0, plain=1)
    prices = {name: stands(1.0) for name in ("frame", "wax", "lantern")}
    assert settle_craft(said, prices, kept=KEPT) is not None
    assert settle_craft(said, prices | {"lantern": stands(1, is_fresh=False)}, kept=KEPT) is None
    del prices["wax"]
    assert settle_craft(said, prices, kept=KEPT) is None
    bought = CraftSaid("lantern", [MAKE, BUY], followed=1, plain=1)
    assert settle_craft(bought, prices, kept=KEPT).hindsight == 1.0


def test_the_plain_habit_picks_the_way_that_is_cheapest_at_the_prices_in_mind():
    prices = {"frame": 2.0, "wax": 4.0, "lantern": 10.0}  # making: 6 + 4 + 1 = 11
    assert cheapest_way([MAKE, BUY], prices, kept=KEPT) == 1
    # the scrap brings 2 x 0.95 x 1 = 1.9: 9.1
    assert cheapest_way([MAKE, BUY], prices | {"scrap": 1.0}, kept=KEPT) == 0
    assert cheapest_way([MAKE], {"frame": 2.0}, kept=KEPT) is None


def test_supplies_bought_as_advised_by_habit_and_in_hindsight():
    said = StockSaid("lantern", "frame", [10, 30], 10, 20.0, buy_now=10, plain_qty=20,
                     reserve=[(1, 3.0), (2, 3.0)], days=3)  # fmt: skip
    days = [stands(4.0), stands(5.0), stands(2.0), stands(6.0)]
    settled = settle_stock(said, days, kept=0.5)
    # Now 10 x 4. Day 1 is above 3. Day 2: up to the mean need, 20: 10 x 2. Then the need:
    # 10, and 10 are over, which bring 10 x 6 x 0.5; or 30, and 10 x 6 are missing.
    assert settled.paid == pytest.approx(40 + 20 + (-30 + 60) / 2)
    assert settled.paid_plain == pytest.approx(80 + (-30 + 60) / 2)
    # In hindsight all that is needed costs 2, and units over bring 3: as many as the
    # bound has, 40 (the greatest need and a lot): 40 x 2 - 30 x 3, or 40 x 2 - 10 x 3.
    assert settled.paid_hindsight == pytest.approx(((80 - 90) + (80 - 30)) / 2)


def test_missing_units_are_bought_in_whole_lots_and_the_rest_of_the_lot_is_sold():
    said = StockSaid("lantern", "frame", [13], 10, 10.0, buy_now=10, plain_qty=10, reserve=[],
                     days=1)  # fmt: skip
    settled = settle_stock(said, [stands(1.0), stands(2.0)], kept=0.25)
    # 10 x 1, then a lot of 10 x 2, of which 7 are over: 7 x 2 x 0.25
    assert settled.paid == pytest.approx(10 + 20 - 3.5)


def test_supplies_without_an_offer_on_the_first_or_last_day_are_not_settled():
    said = StockSaid("lantern", "frame", [1], 1, 1.0, 1, 1, [], 1)
    assert settle_stock(said, [None, stands(1.0)], kept=KEPT) is None
    assert settle_stock(said, [stands(1.0), None], kept=KEPT) is None


def test_a_sale_as_advised_by_habit_and_in_hindsight():
    said = SaleSaid("lantern", 3, asks=[[0, 50, 50, 50], [0, 40, 40, 40], [0, 30, 30, 30]],
                    kept=[[0, 1, 2, 3]] * 3, a_day=1.0, last_price=55.0)  # fmt: skip
    days = [stands(48.0), stands(30.0, deal=41.0), stands(35.0, bid=20.0)]
    settled = settle_sale(said, days, kept=KEPT)
    # 50 is dearer than 48; 40 goes, for somebody paid 41; 30 goes; the third at the bid.
    assert settled.followed == pytest.approx(KEPT * (40 + 30 + 20))
    assert settled.plain == pytest.approx(KEPT * 3 * 20)  # nobody takes 55
    assert settled.hindsight == pytest.approx(KEPT * (48 + 41 + 35))
    assert (settled.unsold, settled.unsold_plain) == (1, 3)


def test_what_is_advised_to_go_to_bidders_goes_at_the_bid_of_that_day():
    said = SaleSaid("lantern", 2, [[0, 90, 90]], [[0, 0, 1]], a_day=5.0, last_price=10.0)
    settled = settle_sale(said, [stands(12.0, bid=9.0)], kept=1.0)
    assert settled.followed == 9 + 9  # one by advice, the other for it was the last day
    assert settled.plain == 20
    assert settled.hindsight == 24


def test_unsold_pieces_bring_nothing_where_nobody_bids():
    said = SaleSaid("lantern", 1, [[0, 90]], [[0, 1]], a_day=5.0, last_price=90.0)
    settled = settle_sale(said, [stands(12.0)], kept=1.0)
    assert (settled.followed, settled.plain, settled.hindsight) == (0, 0, 12)
    assert settle_sale(said, [stands(12.0, is_fresh=False)], kept=1.0) is None


prices = st.floats(0.5, 50.0)
standings = st.builds(
    Standing,
    st.lists(st.tuples(prices, st.floats(1, 30)), min_size=1, max_size=4).map(
        lambda offers: tuple(sorted(offers))
    ),
    st.none() | prices,
    st.none() | prices,
)


@given(
    days=st.lists(st.none() | standings, min_size=4, max_size=4),
    needs=st.lists(st.integers(0, 40), min_size=1, max_size=5).map(sorted),
    lot=st.integers(1, 7),
    lots=st.tuples(st.integers(0, 6), st.integers(0, 6)),
    reserve=prices,
    kept=st.floats(0.0, 1.0),
)
def test_supplies_are_never_cheaper_than_in_hindsight(days, needs, lot, lots, reserve, kept):
    said = StockSaid("r", "i", needs, lot, 5.0, lots[0] * lot, lots[1] * lot,
                     [(1, reserve), (2, reserve)], 3)  # fmt: skip
    settled = settle_stock(said, days, kept=kept)
    if settled is not None:
        assert settled.paid_hindsight <= min(settled.paid, settled.paid_plain) + 1e-6


@given(
    days=st.lists(st.none() | standings, min_size=3, max_size=3),
    asks=st.lists(st.lists(prices, min_size=4, max_size=4), min_size=3, max_size=3),
    bids=st.lists(st.integers(0, 3), min_size=3, max_size=3),
    a_day=st.floats(0.1, 4),
    last=prices,
)
def test_a_sale_never_brings_more_than_in_hindsight(days, asks, bids, a_day, last):
    kept = [[min(each, most) for each in range(4)] for most in bids]
    settled = settle_sale(SaleSaid("p", 3, asks, kept, a_day, last), days, kept=KEPT)
    if settled is not None:
        assert settled.hindsight >= max(settled.followed, settled.plain) - 1e-9


def test_forecasts_are_scored_on_what_was_seen_on_their_day_and_on_no_other():
    said = ForecastSaid("frame", 10.0, 4.0, [(1, [1, 2, 3, 4, 5]), (2, [1, 2, 3, 4, 5])])
    market = [{"frame": stands(4.5)}, {"frame": stands(9.0, is_fresh=False)}]
    sums = sum_days([settle_day(DayAdvice("d", [said]), market, kept=KEPT)], ahead=(1, 2))
    one, two = sums.forecast
    assert (one.n, one.inside_80, one.inside_95) == (1, 0.0, 1.0)
    assert one.error == pytest.approx(1.5 / 4.5)
    assert one.error_last_quote == pytest.approx(0.5 / 4.5)
    assert (two.n, two.inside_80, two.error) == (0, None, None)


def test_error_of_a_textbook():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., section 3.4,
    # beer in Australia: what came from 2008 on; MAPE of the last value 14.18, of the same
    # quarter of the year before 3.17.
    came = np.array([420, 390, 410, 488, 415, 398, 419, 488, 414, 374], dtype=float)
    year_before = np.resize([427.0, 383.0, 394.0, 473.0], 10)
    assert 100 * mean_share_off(np.full(10, 473.0), came) == pytest.approx(14.18, abs=0.006)
    assert 100 * mean_share_off(year_before, came) == pytest.approx(3.17, abs=0.006)


def test_scores_of_no_forecast_are_none():
    score = score_forecasts([ForecastCame(1, (1, 2, 3, 4, 5), 3.0, 3.0)], days=3)
    assert (score.n, score.inside_80, score.error_last_quote) == (0, None, None)


def test_what_a_day_said_outlives_json():
    day = DayAdvice(
        "2026-05-01",
        [ForecastSaid("frame", 10.0, 4.0, [[1, [1, 2, 3, 4, 5]]])],
        [CraftSaid("lantern", [MAKE, BUY], 0, 1)],
        [StockSaid("r", "frame", [1, 2], 1, 1.0, 1, 2, [[1, 2.5]], 3, 0.5)],
        [SaleSaid("lantern", 1, [[0, 9]], [[0, 1]], 1.0, 9.0)],
        ["nothing"],
    )
    assert from_plain(json.loads(json.dumps(as_plain(day)))) == day
