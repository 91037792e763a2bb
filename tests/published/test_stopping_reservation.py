"""Reservation prices against published stopping problems.

To sell at an offer w is to buy one unit at the price -w: the same induction.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from advisor.decide.stock.purchase_plan import BuyingDay, plan_purchases

ONE = np.array([0.0, 1.0])


def uniform_offers(count):
    """The offers -w, w uniform on (0, 1), each the middle of a stretch."""
    return -(np.arange(count) + 0.5) / count, np.full(count, 1.0 / count)


def test_selling_with_few_offers_left():
    # Moser, Scripta Math. 22 (1956), on a problem of Cayley; Gilbert & Mosteller, J. Amer.
    # Statist. Assoc. 61 (1966) 35-73: A_1 = 1/2, A_(n+1) = (1 + A_n^2) / 2
    prices, odds = uniform_offers(20_000)
    printed = [0.5, 0.625, 0.6953125, 0.7417, 0.7751, 0.8004, 0.8203, 0.8364, 0.8498, 0.8611]
    plan = plan_purchases([BuyingDay(prices, odds, ONE)] * 10, np.zeros(2))
    values = [-float(each[0]) for each in plan.before[9::-1]]
    assert values == pytest.approx(printed, abs=6e-5)
    # with n offers still to come an offer is taken from A_n on
    taken_from = [-plan.reservation_price(day, 0) for day in range(8, -1, -1)]
    assert taken_from == pytest.approx(printed[:9], abs=6e-5)


def test_selling_without_a_deadline():
    # Bertsekas, Dynamic Programming and Optimal Control, vol. 1, asset selling:
    # x = b E max(x, w), for w uniform on (0, 1): b (1 + x^2) / 2 = x
    prices, odds = uniform_offers(20_000)
    plan = plan_purchases([BuyingDay(prices, odds, ONE, growth=0.9)] * 150, np.zeros(2))
    closed_form = (1 - np.sqrt(1 - 0.9**2)) / 0.9
    assert closed_form == pytest.approx(0.6267890063, abs=1e-9)
    assert -plan.reservation_price(0, 0) == pytest.approx(closed_form, abs=1e-6)


def test_reservation_wage():
    # McCall, Quart. J. Econ. 84 (1970) 113-126, in Sargent & Stachurski, QuantEcon lectures,
    # Job Search I: wages 10 to 60, beta-binomial(50, 200, 100), 25 a period, discount 0.99
    wages, discount, dole = np.linspace(10, 60, 51), 0.99, 25.0
    odds = stats.betabinom.pmf(np.arange(51), 50, 200, 100)
    day = BuyingDay(
        prices=-wages / (1 - discount),
        odds=odds,
        cost=ONE,
        growth=discount,
        keep=np.array([-dole, 0.0]),
    )
    plan = plan_purchases([day] * 2500, np.zeros(2))
    wage = -plan.reservation_price(0, 0) * (1 - discount)
    assert wage == pytest.approx(47.31649976, abs=1e-6)
    # second road: the root of the lecture's equation for the continuation value
    root = brentq(
        lambda w: w - dole * (1 - discount) - discount * (odds @ np.maximum(wages, w)), 10, 60
    )
    assert wage == pytest.approx(root, abs=1e-6)
