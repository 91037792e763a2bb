"""Shares of what is uncertain, against a simulation that draws odds, price and luck.

A step that is tried until it works: p ~ Beta(a, b), a try costs one unit at an unsure
price. Shares by the law of total variance: odds Var(E[X | p]), price Var(E[X | price]),
luck E[Var(X | p, price)]; what odds and price do together is left to none of them and
is under 3 % here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import betaln

from advisor.decide.craft import RouteOption, weigh_craft
from advisor.decide.price_risk import PriceBelief

RUNS = 400_000
PRICE = 3.0


def tries_law(a, b, cells=20_000):
    """P(the k-th try is the first to work), p ~ Beta(a, b): B(a + 1, b + k - 1) / B(a, b)."""
    tries = np.arange(1, cells + 1)
    odds = np.exp(betaln(a + 1, b + tries - 1) - betaln(a, b))
    return tries * PRICE, odds / odds.sum()


@pytest.mark.parametrize(
    ("a", "b", "log_sd"), [(8.0, 150.0, 0.3), (20.0, 60.0, 0.1), (60.0, 400.0, 0.2)]
)
def test_shares_are_those_of_a_simulation(a, b, log_sd):
    values, chances = tries_law(a, b)
    mean = (a + b - 1) / (a - 1)
    square = (a + b - 1) * (a + b - 2) / ((a - 1) * (a - 2))
    option = RouteOption(
        "etched", values, chances, PRICE * mean, {"wax": mean}, PRICE * (square - mean**2) ** 0.5
    )
    advice = weigh_craft([option], None, beliefs={"wax": PriceBelief(PRICE, log_sd)})

    random = np.random.default_rng(17)
    odds = random.beta(a, b, RUNS)
    price = PRICE * (1.0 + log_sd * random.standard_normal(RUNS))  # sd of the level to first order
    cost = price * random.geometric(odds)
    by_odds, by_price = np.var(PRICE / odds), np.var(price * mean)
    luck = np.mean(price**2 * (1 - odds) / odds**2)
    total = by_odds + by_price + luck
    assert total == pytest.approx(cost.var(), rel=0.04)
    assert advice.shares == pytest.approx(
        {"luck": luck / total, "prices": by_price / total, "odds": by_odds / total}, abs=0.02
    )
    assert sum(advice.shares.values()) == pytest.approx(1.0)
