"""Who bears the way to the market, against every combination of quantities."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.supplies_together import share_trip

QUANTITIES = np.arange(40)


def item(unit_cost, mean=15.0, leftover=0.5):
    """Newsvendor costs at one price now and later, and the chance to run short."""
    need = stats.poisson(mean)
    units = np.arange(80)
    left = np.array([np.maximum(q - units, 0) @ need.pmf(units) for q in QUANTITIES])
    return unit_cost * (1 - leftover) * left, need.sf(QUANTITIES)


def least_together(items, trip_cost):
    """The joint optimum, by trying every combination."""
    return min(
        sum(cost[q] for (cost, _), q in zip(items, way, strict=True))
        + trip_cost * max(chance[q] for (_, chance), q in zip(items, way, strict=True))
        for way in itertools.product(QUANTITIES[::2], repeat=len(items))
    )


@pytest.mark.parametrize("unit_costs", [(1, 1), (1, 10), (0.1, 5), (1, 3, 9)])
@pytest.mark.parametrize("trip_cost", [5.0, 40.0])
def test_parts_lead_to_the_joint_optimum(unit_costs, trip_cost):
    items = [item(each) for each in unit_costs]
    parts = share_trip(
        [cost for cost, _ in items], [chance for _, chance in items], trip_cost=trip_cost
    )
    assert sum(parts) == pytest.approx(trip_cost)
    chosen = [
        int(np.argmin(cost + part * chance))
        for (cost, chance), part in zip(items, parts, strict=True)
    ]
    reached = sum(cost[q] for (cost, _), q in zip(items, chosen, strict=True))
    reached += trip_cost * max(chance[q] for (_, chance), q in zip(items, chosen, strict=True))
    assert reached <= least_together(items, trip_cost) * 1.02


def test_like_items_bear_like_parts():
    cost, chance = item(2.0)
    assert share_trip([cost, cost], [chance, chance], trip_cost=10.0) == pytest.approx([5.0, 5.0])


def test_the_dear_item_bears_most():
    (cheap, chance), (dear, _) = item(0.1), item(5.0)
    parts = share_trip([cheap, dear], [chance, chance], trip_cost=20.0)
    assert parts[1] > 3 * parts[0]


def test_nothing_to_share():
    cost, chance = item(1.0)
    assert share_trip([cost], [chance], trip_cost=7.0) == [7.0]
    assert share_trip([cost, cost], [chance, chance], trip_cost=0.0) == [0.0, 0.0]
