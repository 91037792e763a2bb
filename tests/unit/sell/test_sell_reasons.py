"""The sentences of the answer to selling."""

from __future__ import annotations

import numpy as np

from advisor.decide.sell.sale_market import SaleMarket
from advisor.decide.sell.sell_advice import weigh_sale
from advisor.decide.sell.sell_reasons import SellStory, sell_cautions, sell_reasons


def story_of(*, count=3, drift=0.0, bid=85.0, a_day=1.0, season_left=None):
    days = 8
    market = SaleMarket(100.0, a_day, 0.08, bid, np.full(days, drift), np.ones(days + 1), kept=0.95)
    advice = weigh_sale(count, market)
    return SellStory("storm lantern", "shell", count, advice, market, season_left, None, 110.0)


def test_listing_is_told_with_what_it_brings_and_the_floor():
    said = " ".join(sell_reasons(story_of()))
    assert said.startswith("List at ")
    assert "selling all at once to those who bid 255 shell" in said
    assert "Keep or break up rather than sell one under" in said
    assert "expected to" not in said


def test_holding_names_the_day_to_list_from():
    story = story_of(count=1, drift=0.06)
    said = " ".join(sell_reasons(story))
    assert said.startswith("Hold")
    assert f"list from day {story.advice.list_from} on" in said
    assert "rise by 62 %" in said  # exp(8 * 0.06) = 1.616


def test_selling_at_once():
    said = " ".join(sell_reasons(story_of(drift=-0.3, a_day=0.01, bid=94.0)))
    assert said.startswith("Sell at once to those who bid: 282 shell")


def test_too_many_for_the_market_is_said_only_then():
    assert not any("More than the market" in each for each in sell_cautions(story_of(), notes=()))
    told = sell_cautions(story_of(count=9, season_left=8), notes=["first", "first"])
    assert told.count("first") == 1
    assert any("about 8 in 8 days until the season ends" in each for each in told)


def test_without_bids_what_is_left_brings_nothing():
    told = sell_cautions(story_of(bid=None), notes=())
    assert any("Nobody is seen bidding" in each for each in told)


def test_a_patient_ask_in_a_still_market_is_no_holding():
    """One piece and many buyers: the ask is high, yet there is nothing to wait for."""
    advice = story_of(count=1, a_day=3.0).advice
    assert advice.verdict == "list now"
    assert advice.ask_now > 115.0


def test_the_ask_is_for_what_is_not_sold_to_bidders():
    """Too many pieces and prices fall: most go to bidders today, the ask is for the rest."""
    advice = story_of(count=12, a_day=0.3, drift=-0.02).advice
    assert 0 < advice.sell_at_once < 12
    assert advice.ask_now == advice.days[0].ask == advice.days[0].asks[12 - 1]
    assert advice.days[0].at_once == advice.sell_at_once
