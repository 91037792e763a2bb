"""Lots at a lower price, against textbook tables.

With yearly demand D, a cost K of each order and carrying cost i of the money tied
up, ordering Q at a time costs  D c(Q)/Q + K D/Q + i c(Q)/2  a year, where c(Q) is
what a lot costs: the price tiers are ours, the rest is the textbooks' arithmetic.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from advisor.decide.stock.price_tiers import make_tiers


def yearly_cost(tiers, lot, *, demand, order, rate):
    cost = float(tiers.cost_of(np.array([lot]))[0])
    return demand * cost / lot + order * demand / lot + rate * cost / 2


def least_lot(tiers, *, demand, order, rate):
    """The best lot by search inside every tier and at every break."""
    edges = [*tiers.breaks, 40 * tiers.breaks[-1] + 1000]
    found = []
    for low, high in pairwise(edges):
        inside = minimize_scalar(
            lambda lot: yearly_cost(tiers, lot, demand=demand, order=order, rate=rate),
            bounds=(max(low, 1e-6), high - 1e-6),
            method="bounded",
            options={"xatol": 1e-8},
        )
        found += [inside.x, max(low, 1e-6)]
    costs = [yearly_cost(tiers, lot, demand=demand, order=order, rate=rate) for lot in found]
    best = int(np.argmin(costs))
    return found[best], costs[best]


CANDY = {"steps": [(0, 0.75), (400, 0.72), (800, 0.68)], "demand": 1300, "order": 8, "rate": 0.3}
PLANES = {
    "steps": [(0, 1490), (1200, 1220), (2400, 1100)],
    "demand": 182500,
    "order": 2250,
    "rate": 0.25,
}


def solve(case, *, incremental):
    tiers = make_tiers(case["steps"], incremental=incremental)
    return least_lot(tiers, demand=case["demand"], order=case["order"], rate=case["rate"])


@pytest.mark.parametrize(
    ("case", "lot", "cost"),
    [
        # Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019), Example 3.6
        (CANDY, 800, 978.6),
        # ibid., Problem 3.12(a)
        (PLANES, 2400, 201251093.75),
        # docstring of stockpyl 1.0, economic_order_quantity_with_all_units_discounts
        (
            {
                "steps": [(0, 500), (200, 475), (500, 450)],
                "demand": 1000,
                "order": 200,
                "rate": 0.2,
            },
            500,
            472900.0,
        ),
    ],
)
def test_all_units_discount(case, lot, cost):
    found, least = solve(case, incremental=False)
    assert found == pytest.approx(lot, abs=1e-4)
    assert least == pytest.approx(cost, rel=1e-9)


@pytest.mark.parametrize(
    ("case", "lot", "cost"),
    [
        # Snyder & Shen, 2nd ed., Example 3.7
        (CANDY, 304.04678003, 1043.41052551),
        # ibid., Problem 3.12(b)
        (PLANES, 28553.06065428, 208678591.67992836),
        # docstring of stockpyl 1.0, economic_order_quantity_with_incremental_discounts
        (
            {
                "steps": [(0, 100), (300, 90), (600, 80)],
                "demand": 2400,
                "order": 150,
                "rate": 0.25,
            },
            1481.8906842274164,
            222762.8136845483,
        ),
    ],
)
def test_incremental_discount(case, lot, cost):
    found, least = solve(case, incremental=True)
    assert found == pytest.approx(lot, rel=1e-5)
    assert least == pytest.approx(cost, rel=1e-10)


def test_discount_store():
    # Heizer & Render, Operations Management (8th to 10th ed.), Wohl's Discount Store:
    # rows at the lots 700, 1000, 2000
    tiers = make_tiers([(0, 5.0), (1000, 4.8), (2000, 4.75)])
    rows = [yearly_cost(tiers, lot, demand=5000, order=49, rate=0.2) for lot in (700, 1000, 2000)]
    assert rows == pytest.approx([25700.0, 24725.0, 24822.5])
    assert least_lot(tiers, demand=5000, order=49, rate=0.2)[0] == pytest.approx(1000, abs=1e-4)


def test_constant_carrying_cost():
    # Stevenson, Operations Management, chapter Inventory Management, hospital cleaning
    # supply (from memory): lot 100, total 13354; carrying cost 4 a unit, not a share
    tiers = make_tiers([(1, 20), (50, 18), (80, 17), (100, 16)])
    lots = np.arange(1.0, 816.0)
    totals = 816 * tiers.cost_of(lots) / lots + 12 * 816 / lots + 4 * lots / 2
    assert lots[np.argmin(totals)] == 100
    assert totals.min() == pytest.approx(13354, abs=0.6)
    assert math.sqrt(2 * 816 * 12 / 4) == pytest.approx(69.97, abs=0.006)


def test_same_data_under_both_schedules():
    # Nahmias, Production and Operations Analysis, ch. 4, Examples 4.4 and 4.5 (from memory)
    steps = [(0, 0.3), (500, 0.29), (1000, 0.28)]
    both = {"demand": 600, "order": 8, "rate": 0.2}
    all_units = make_tiers(steps)
    rows = [yearly_cost(all_units, lot, **both) for lot in (400, 500, 1000)]
    assert rows == pytest.approx([204.0, 198.1, 200.8], abs=0.006)
    assert least_lot(all_units, **both)[0] == pytest.approx(500, abs=1e-4)
    incremental = make_tiers(steps, incremental=True)
    rows = [yearly_cost(incremental, lot, **both) for lot in (400, 519)]
    assert rows == pytest.approx([204.0, 204.58], abs=0.006)
    assert least_lot(incremental, **both)[0] == pytest.approx(400, abs=0.5)


def test_one_price_is_the_square_root_law():
    # Snyder & Shen, 2nd ed., Example 3.1: K 8, h 0.225 = 0.3 * 0.75, demand 1300
    one_price = {"steps": [(0, 0.75)], "demand": 1300, "order": 8, "rate": 0.3}
    found, least = solve(one_price, incremental=False)
    assert found == pytest.approx(304.0467800264368, rel=1e-6)
    assert least - 1300 * 0.75 == pytest.approx(68.41052550594829, rel=1e-9)
