"""The sale plan against the closed form of exponential demand, and a case by hand."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from advisor.decide.sell.sale_plan import SalePeriod, plan_sale

ASKS = np.linspace(0.9, 4.0, 1241)


@cache
def plan_in_steps(steps):
    """Demand 10 e^-p over one unit of time, in so many periods."""
    period = SalePeriod(ASKS, 10 * np.exp(-ASKS) / steps)
    return plan_sale(10, [period] * steps, kept=1.0, leftover=0.0)


@pytest.mark.parametrize(
    ("pieces", "value", "price"),
    [
        (1, 1.543040472, 2.543040472),
        (2, 2.437601757, 1.894561285),
        (5, 3.496200706, 1.186573459),
        (10, 3.677289328, 1.00316923),
    ],
)
def test_exponential_demand(pieces, value, price):
    """Gallego & van Ryzin (1994), Management Science 40(8):999-1020, section 2.3; Kincaid &
    Darling (1963): J(n, t) = log of the sum over i <= n of (10 t / e)^i / i!, price
    J(n) - J(n - 1) + 1. Prices that stand for 1/1000 of the time lose a little, in
    proportion to its length: what two lengths tell for none is right to 1e-5."""
    coarse, fine = (plan_in_steps(each).value[0] for each in (500, 1000))
    limit = 2 * fine - coarse
    assert limit[pieces] == pytest.approx(value, abs=1e-5)
    assert limit[pieces] - limit[pieces - 1] + 1 == pytest.approx(price, abs=2e-5)
    assert fine[pieces] == pytest.approx(
        math.log(sum((10 / math.e) ** i / math.factorial(i) for i in range(pieces + 1))), abs=2e-4
    )
    assert fine[pieces] <= value + 1e-9  # prices that may change more often lose nothing
    assert plan_in_steps(1000).ask(0, pieces) == pytest.approx(price, abs=0.008)


def test_price_falls_with_time_and_stock():
    """Gallego & van Ryzin (1994), theorem 1: the optimal price falls in the number left and
    rises in the time left; the value is increasing and concave in the number left."""
    plan = plan_in_steps(500)
    asks = np.array([[plan.ask(step, n) for n in range(1, 11)] for step in range(0, 500, 50)])
    assert np.all(np.diff(asks, axis=1) <= 1e-9)
    assert np.all(np.diff(asks, axis=0) <= 1e-9)
    gains = np.diff(plan.value[0])
    assert np.all(gains > 0)
    assert np.all(np.diff(gains) <= 1e-12)


def test_two_prices_by_hand():
    """One piece, one day, then worth 2: at 10 one buyer a day on average, at 14 half a one.
    10 (1 - e^-1) + 2 e^-1 = 7.057; 14 (1 - e^-0.5) + 2 e^-0.5 = 6.722: ask 10. With two days
    the first is worth 14 (1 - e^-0.5) + 7.057 e^-0.5 = 9.789 against 8.917: ask 14 first."""
    day = SalePeriod(np.array([10.0, 14.0]), np.array([1.0, 0.5]))
    plan = plan_sale(1, [day, day], kept=1.0, leftover=2.0)
    one = 10 - 8 / math.e
    assert plan.value[1, 1] == pytest.approx(one)
    assert plan.value[0, 1] == pytest.approx(14 - (14 - one) * math.exp(-0.5))
    assert (plan.ask(0, 1), plan.ask(1, 1)) == (14.0, 10.0)
