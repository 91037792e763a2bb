"""The make cost under luck and prices, against closed forms and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from advisor.decide.cost_law import CostLaw, normal_nodes
from advisor.decide.price_risk import Movements, PriceBelief, basket_movements


def certain(cost, price_sd=0.0):
    return CostLaw(np.array([cost]), np.array([1.0]), price_sd)


def geometric(p, cost_of_a_try=1.0, price_sd=0.0, cells=4000):
    tries = np.arange(1, cells + 1)
    odds = stats.geom.pmf(tries, p)
    return CostLaw(tries * cost_of_a_try, odds / odds.sum(), price_sd)


def test_nodes_have_the_moments_of_a_standard_normal():
    nodes = normal_nodes()
    assert nodes.mean() == pytest.approx(0, abs=1e-12)
    assert (nodes**2).mean() == pytest.approx(1)


@pytest.mark.parametrize("chance", [0.05, 0.25, 0.5, 0.8, 0.9, 0.95])
def test_certain_cost_at_unsure_prices_is_lognormal(chance):
    # closed form: lognormal with mean 100 and sd 20 (scipy.stats)
    sigma = math.sqrt(math.log1p(0.2**2))
    law = stats.lognorm(sigma, scale=100 * math.exp(-(sigma**2) / 2))
    assert certain(100, 20).quantile(chance) == pytest.approx(law.ppf(chance), rel=0.01)
    assert certain(100, 20).sd == pytest.approx(20, rel=0.01)


def test_luck_alone_is_the_geometric_law():
    law = geometric(0.02)
    assert law.mean == pytest.approx(50)
    for chance in (0.05, 0.5, 0.8, 0.9, 0.95, 0.99):
        assert law.quantile(chance) == stats.geom.ppf(chance, 0.02)


def test_worst_twentieth_splits_the_atom():
    # two outcomes: 10 with 0.97 and 110 with 0.03: (0.03 * 110 + 0.02 * 10) / 0.05 = 70
    law = CostLaw(np.array([10.0, 110.0]), np.array([0.97, 0.03]), 0.0)
    assert law.worst_mean() == pytest.approx(70)


def test_luck_and_prices_against_simulation():
    law = geometric(0.05, price_sd=4.0)  # mean 20, prices move it by a fifth
    random = np.random.default_rng(7)
    sigma = math.sqrt(math.log1p(0.2**2))
    drawn = random.geometric(0.05, 2_000_000) * np.exp(
        sigma * random.standard_normal(2_000_000) - sigma**2 / 2
    )
    assert law.sd == pytest.approx(drawn.std(), rel=0.005)
    for chance in (0.25, 0.5, 0.8, 0.95):
        assert law.quantile(chance) == pytest.approx(np.quantile(drawn, chance), rel=0.01)
    edge = np.quantile(drawn, 0.95)
    assert law.worst_mean() == pytest.approx(drawn[drawn > edge].mean(), rel=0.01)


def test_chance_below_an_unsure_price_is_the_closed_form_of_two_lognormals():
    # P(100 < 110 e^(0.3 z)) = Phi(log(1.1) / 0.3)
    chance = certain(100).chance_below_price(110, log_sd=0.3)
    assert chance == pytest.approx(stats.norm.cdf(math.log(1.1) / 0.3), abs=0.005)


def test_costs_that_can_be_negative_are_shifted():
    law = CostLaw(np.array([-5.0, 5.0]), np.array([0.5, 0.5]), 2.0)
    assert law.mean == pytest.approx(0)
    assert law.sd == pytest.approx(math.sqrt(25 + 4))


def test_shared_movements_cancel_in_a_difference():
    prices = {
        "frame": PriceBelief(2.0, 0.1, {"crown": 0.2}),
        "lantern": PriceBelief(100.0, 0.0, {"crown": 0.2}),
    }
    made = basket_movements({"frame": 50}, prices)
    bought = basket_movements({"lantern": 1}, prices)
    assert made.sd == pytest.approx(math.hypot(10, 20))
    assert bought.minus(made).sd == pytest.approx(10)
    assert Movements({}).sd == 0
