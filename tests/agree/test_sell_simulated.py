"""Playing the advised schedule against simple habits, with buyers drawn at random (seeded)."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.decide.sell.sale_market import SaleMarket
from advisor.decide.sell.sell_advice import weigh_sale

COUNT, DAYS, RUNS = 4, 9, 6000
FEE = 0.05


def market_of(*, drift=0.0, season=None, bid=88.0, a_day=0.8):
    share = np.ones(DAYS + 1)
    if season is not None:
        share = np.clip((season - np.arange(DAYS + 1)) / 7.0, 0.0, 1.0)
    return SaleMarket(
        level=100.0,
        a_day=a_day,
        width=0.08,
        bid=bid,
        drift=np.full(DAYS, drift),
        share=share,
        kept=1 - FEE,
    )


def play(market, choose, *, seed):
    """Proceeds of each run. Buyers come one by one with a most they pay, drawn from the law.

    `choose(day, left)` says how many go to bidders and the ask for the rest.
    """
    rng = np.random.default_rng(seed)
    left, got = np.full(RUNS, COUNT), np.zeros(RUNS)
    for day in range(DAYS):
        level = 100.0 * np.exp(np.sum(market.drift[:day]))
        come = rng.poisson(2 * market.a_day * market.share[day], RUNS)
        # logistic in the log of the price: the most a buyer pays has that law
        pays = level * np.exp(0.08 * rng.logistic(size=(RUNS, max(int(come.max()), 1))))
        there = np.arange(pays.shape[1]) < come[:, None]
        for pieces in range(1, COUNT + 1):
            runs = left == pieces
            at_once, ask = choose(day, pieces)
            bought = np.sum(there & (pays >= ask), axis=1)
            sold = np.minimum(bought, pieces - at_once)
            bid = (market.bid or 0.0) * np.exp(np.sum(market.drift[:day])) * market.share[day]
            got[runs] += at_once * bid + sold[runs] * ask * (1 - FEE)
            left[runs] = -(pieces - at_once - sold[runs])  # marked, so that none is counted twice
        left = np.abs(left)
    end = (market.bid or 0.0) * np.exp(np.sum(market.drift)) * market.share[DAYS]
    return got + left * end


def advised(advice):
    kept = [advice.plan.kept_after_bids(day) for day in range(DAYS)]

    def choose(day, left):
        after = int(kept[day][left])
        return left - after, advice.plan.ask(day, max(after, 1))

    return choose


@pytest.mark.parametrize(
    "market",
    [
        market_of(),
        market_of(drift=0.02),
        market_of(drift=-0.02),
        market_of(season=9),
        market_of(bid=None, a_day=0.3),
    ],
    ids=["still", "rising", "falling", "season ends", "nobody bids"],
)
def test_schedule_brings_what_it_says_and_more_than_habits(market):
    """Four standard errors; the habits: one price, a price falling by the clock to the bid
    or to a fifth below, all to bidders today."""
    advice = weigh_sale(COUNT, market)
    followed = play(market, advised(advice), seed=11)
    error = followed.std() / np.sqrt(RUNS)
    assert followed.mean() == pytest.approx(advice.proceeds, abs=4 * error)
    floor = 80.0 if market.bid is None else market.bid / (1 - FEE)
    habits = {
        "at the level": lambda day, left: (0, 100.0),
        "dearer": lambda day, left: (0, 112.0),
        "by the clock": lambda day, left: (0, 125.0 + (floor - 125.0) * day / (DAYS - 1)),
        "at once": lambda day, left: (left if market.bid else 0, 100.0),
    }
    for habit in habits.values():
        other = play(market, habit, seed=11)
        gap = (followed - other).std() / np.sqrt(RUNS)
        assert followed.mean() >= other.mean() - 4 * gap
    plain = play(market, habits["at the level"], seed=11)
    assert followed.mean() > plain.mean() + 4 * (followed - plain).std() / np.sqrt(RUNS)


def test_waits_while_it_rises_and_sells_at_once_before_the_end():
    """Rising 6 % a day: hold. Nobody buys but bidders, whose price falls: all at once."""
    rising = weigh_sale(1, market_of(drift=0.06))
    assert rising.verdict == "hold"
    falling = weigh_sale(COUNT, market_of(drift=-0.2, a_day=0.02, bid=94.0))
    assert falling.verdict == "sell at once"
    assert falling.proceeds == pytest.approx(COUNT * 94.0)
    # where one more piece only means one more for the bidders, it is worth their price
    assert falling.floor == pytest.approx(94.0 / (1 - FEE))
    assert weigh_sale(COUNT, market_of()).verdict == "list now"
