"""The price to ask against published answers for logit demand and first-price bidding."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import lambertw

from advisor.decide.service.winning import GoingRate, best_price, price_to_ask


@pytest.mark.parametrize(
    ("a", "b", "cost", "price", "profit"),
    [
        (1, 1, 0, 1.56714329, 0.5671432904),
        (5, 1, 2, 4.557145599, 1.557145599),
        (10, 0.05, 0, 160.9469709, 140.9469709),
    ],
)
def test_logit_demand(a, b, cost, price, profit):
    """Li & Huh (2011), Manufacturing & Service Operations Management 13:546-563: price
    c + (1 + W(e^(a-1-bc))) / b; the omega constant W(1) = 0.5671432904 (OEIS A030178)."""

    def share(asked):
        return 1.0 / (1.0 + np.exp(b * asked - a))

    found = best_price(cost, share, low=cost, high=cost + 20 * a / b)
    assert found == pytest.approx(price, rel=1e-5)
    assert (found - cost) * share(np.array(found)) == pytest.approx(profit, rel=1e-8)


@pytest.mark.parametrize(
    ("value", "bid"),
    [(0.25, 0.1146264794), (0.5, 0.2090116466), (1, 0.3434823573), (2, 0.4626852793)],
)
def test_bid_against_exponential_values(value, bid):
    """Krishna, Auction Theory, 2nd ed. (2010), example 2.2, rate 2, two bidders: bidding
    1/2 - x e^(-2x) / (1 - e^(-2x)) is the best answer to a rival who does. Seen from a
    seller whose work is worth `value` to save, a bid b is the price 10 - b."""
    rivals = np.linspace(1e-6, 20, 400_001)
    bids = 0.5 - rivals * np.exp(-2 * rivals) / -np.expm1(-2 * rivals)

    def wins(price):
        return -np.expm1(-2 * np.interp(10 - price, bids, rivals))

    found = best_price(10 - value, wins, low=10 - min(value, 0.4999), high=10 - 1e-3)
    assert 10 - found == pytest.approx(bid, abs=2e-5)


@pytest.mark.parametrize(("bidders", "bid"), [(2, 0.5), (3, 0.6666666667), (5, 0.8)])
def test_bid_against_uniform_values(bidders, bid):
    """Krishna, Auction Theory, 2nd ed. (2010), example 2.1: with values uniform on (0, 1)
    bid (N - 1) / N of one's own; here a value of 1."""
    shade = (bidders - 1) / bidders

    def wins(price):
        return np.clip((10 - price) / shade, 0, 1) ** (bidders - 1)

    assert 10 - best_price(9.0, wins, low=9.0, high=10.0) == pytest.approx(bid, abs=1e-6)


def test_price_against_a_going_rate_without_logs():
    """In u = price ** (1/s), the optimality condition of a chance 1 / (1 + (price/level)^(1/s))
    is (1/s)(1 - floor/price) (1 - chance) = 1: checked directly, not by the same search."""
    going = GoingRate(level=66.5, sd=2.0, log_sd=0.06)
    scale = going.log_sd * np.sqrt(3) / np.pi
    for floor in (5.0, 40.0, 64.0, 80.0):
        price = price_to_ask(floor, going)
        chance = float(going.win_chance(np.array([price]))[0])
        assert (1 - floor / price) * (1 - chance) / scale == pytest.approx(1.0, rel=1e-4)
    assert price_to_ask(40.0, None) == 40.0


def test_half_accept_the_going_rate():
    """The median of the others' prices; with a small spread the bid is that of logit demand:
    close to the level a logit in the price itself gives the same price."""
    going = GoingRate(level=100.0, sd=0.0, log_sd=0.02)
    assert going.win_chance(np.array([100.0]))[0] == pytest.approx(0.5)
    slope = np.pi / (np.sqrt(3) * 0.02) / 100.0
    floor = 98.0
    linear = floor + (1 + lambertw(np.exp(slope * (100 - floor) - 1)).real) / slope
    assert price_to_ask(floor, going) == pytest.approx(linear, rel=1e-3)


@pytest.mark.parametrize(
    ("odds", "fraction", "growth"), [(0.53, 0.06, 0.0018011), (0.6, 0.2, 0.0201355)]
)
def test_search_finds_the_growth_optimal_bet(odds, fraction, growth):
    """Kelly, Bell System Technical Journal 35 (1956) 917-926: of an even bet won with chance p
    the share 2p - 1 is staked, and the log growth is log 2 + p log p + q log q. The search for
    the best price maximises x * g(x): with g the growth over x it must come to the same."""

    def growth_over(stake):
        return (odds * np.log1p(stake) + (1 - odds) * np.log1p(-stake)) / stake

    stake = best_price(0.0, growth_over, low=1e-6, high=0.9)
    assert stake == pytest.approx(fraction, abs=1e-4)
    assert stake * growth_over(stake) == pytest.approx(growth, abs=1e-6)
