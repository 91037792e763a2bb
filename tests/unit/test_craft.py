"""Make or buy against closed forms for normals and lognormals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from advisor.decide.craft import BuyOption, RouteOption, weigh_craft
from advisor.decide.price_risk import PriceBelief

BELIEFS = {
    "frame": PriceBelief(2.0, 0.1),
    "wax": PriceBelief(1.0, 0.3),
    "salt": PriceBelief(1.0, 0.0),
}


def option(name, mean, units, odds_sd=0.0):
    return RouteOption(name, np.array([mean]), np.array([1.0]), mean, units, odds_sd)


def lottery(name, units):
    """Costs 50 or 150 with equal chance."""
    return RouteOption(name, np.array([50.0, 150.0]), np.array([0.5, 0.5]), 100.0, units)


def buying(price, log_sd=0.0):
    return BuyOption("lantern", PriceBelief(price, log_sd))


def test_saving_is_a_difference_of_normals():
    # making 50 frames: mean 100, sd 50*2*0.1 = 10; buying 120, sd 12
    advice = weigh_craft([option("a", 100, {"frame": 50})], buying(120, 0.1), beliefs=BELIEFS)
    assert advice.verdict == "make"
    assert advice.saving == pytest.approx(20)
    assert advice.saving_sd == pytest.approx(math.hypot(10, 12))
    assert advice.chance_make_cheaper == pytest.approx(stats.norm.cdf(20 / math.hypot(10, 12)))


def test_next_piece_of_a_certain_route_is_a_ratio_of_lognormals():
    # two-way comparison of lognormals: Phi(log(120/100) / sqrt(0.1^2 + 0.1^2))
    advice = weigh_craft([option("a", 100, {"frame": 50})], buying(120, 0.1), beliefs=BELIEFS)
    expected = stats.norm.cdf(math.log(1.2) / math.hypot(0.1, 0.1))
    assert advice.chance_this_one_cheaper == pytest.approx(expected, abs=0.005)


def test_even_where_the_difference_is_not_known():
    advice = weigh_craft([option("a", 100, {"frame": 50})], buying(101, 0.1), beliefs=BELIEFS)
    assert advice.verdict == "either"


def test_known_prices_leave_no_doubt():
    advice = weigh_craft([option("a", 100, {"salt": 100})], buying(99.9), beliefs=BELIEFS)
    assert advice.verdict == "buy"
    assert advice.chance_make_cheaper == 0
    assert advice.shares is None


def test_caution_turns_to_buying():
    routes = [lottery("a", {"salt": 100})]
    assert weigh_craft(routes, buying(120), beliefs=BELIEFS).verdict == "make"
    assert weigh_craft(routes, buying(120), beliefs=BELIEFS, caution=1.0).verdict == "buy"
    # (1 - c) * 100 + c * 150 = 120 at c = 0.4
    assert weigh_craft(routes, buying(120), beliefs=BELIEFS, caution=0.39).verdict == "make"
    assert weigh_craft(routes, buying(120), beliefs=BELIEFS, caution=0.41).verdict == "buy"


def test_shares_of_the_variance():
    # luck 50^2, prices (50*2*0.1)^2
    advice = weigh_craft([lottery("a", {"frame": 50})], buying(120), beliefs=BELIEFS)
    assert advice.shares["luck"] == pytest.approx(2500 / 2600)
    assert sum(advice.shares.values()) == pytest.approx(1)
    assert advice.chance_this_one_cheaper == pytest.approx(0.5, abs=0.01)


def test_chance_of_the_cheapest_of_two_normals():
    # difference of means 5, sd of difference hypot(10, 30): frames and wax move apart
    routes = [option("a", 100, {"frame": 50}), option("b", 105, {"wax": 100})]
    advice = weigh_craft(routes, None, beliefs=BELIEFS)
    expected = stats.norm.cdf(5 / math.hypot(10, 30))
    assert advice.chance_cheapest["a"] == pytest.approx(expected, abs=0.005)
    assert sum(advice.chance_cheapest.values()) == pytest.approx(1)


def test_chance_of_the_cheapest_of_three_equal_routes_is_a_third():
    beliefs = {name: PriceBelief(1.0, 0.1) for name in "xyz"}
    routes = [option(name, 100, {name: 100}) for name in "xyz"]
    chances = weigh_craft(routes, None, beliefs=beliefs).chance_cheapest
    for chance in chances.values():
        assert chance == pytest.approx(1 / 3, abs=0.01)


def test_routes_that_share_their_supplies_do_not_blur():
    # both move by the same frames: the cheaper one is the cheaper one for certain
    routes = [option("a", 100, {"frame": 50}), option("b", 101, {"frame": 50})]
    assert weigh_craft(routes, None, beliefs=BELIEFS).chance_cheapest["a"] == pytest.approx(1)


def test_sale_compares_with_doing_nothing():
    beliefs = BELIEFS
    assert weigh_craft([option("a", -10, {})], None, beliefs=beliefs, goal="sale").verdict == "make"
    assert weigh_craft([option("a", 10, {})], None, beliefs=beliefs, goal="sale").verdict == (
        "neither"
    )
    flip = BuyOption("lantern", PriceBelief(80.0), resale=95.0)
    assert weigh_craft([option("a", -10, {})], flip, beliefs=beliefs, goal="sale").verdict == "buy"


def test_nobody_sells_and_nobody_can_make():
    assert weigh_craft([], None, beliefs={}).verdict == "neither"
    assert weigh_craft([], buying(10), beliefs={}).verdict == "buy"


def test_a_saving_that_is_rounding_alone_is_none():
    advice = weigh_craft([option("a", 0.1 + 0.2, {"frame": 1})], buying(0.3), beliefs=BELIEFS)
    assert advice.saving == 0
