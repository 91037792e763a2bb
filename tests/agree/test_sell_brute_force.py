"""The sale plan against every policy there is, small numbers, and against another solver."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy import stats

from advisor.decide.sell.sale_course import follow_plan, value_at_one_ask
from advisor.decide.sell.sale_plan import SalePeriod, plan_sale

PERIODS = [
    SalePeriod(np.array([8.0, 10.0, 13.0]), np.array([1.9, 1.0, 0.3]), bid=5.0),
    SalePeriod(np.array([9.0, 11.0, 14.0]), np.array([1.2, 0.8, 0.4]), bid=7.5),
]
KEPT, LEFTOVER = 0.9, 3.0
BIDS, LEFT = ([9.5, 6.0], [8.2, 0.0]), [7.0, 1.0]
"""Likewise where the second piece is wanted for less, or not at all."""


def branches(left, mean):
    """(chance, sold) of a period, cut off at the pieces there are."""
    cases = [(math.exp(-mean) * mean**k / math.factorial(k), k) for k in range(left)]
    return [*cases, (1 - sum(chance for chance, _ in cases), left)]


def value_of_policy(policy, day, left, *, bids=False):
    """Mean proceeds of: in each state sell so many to bidders, then ask a price."""
    if day == len(PERIODS):
        return sum(LEFT[:left]) if bids else left * LEFTOVER
    if left == 0:
        return 0.0
    at_once, place = policy[day, left]
    kept = left - at_once
    total = sum(BIDS[day][:at_once]) if bids else at_once * PERIODS[day].bid
    price, mean = PERIODS[day].asks[place] * KEPT, PERIODS[day].buyers[place]
    for chance, sold in branches(kept, mean):
        total += chance * (sold * price + value_of_policy(policy, day + 1, kept - sold, bids=bids))
    return total


def every_policy(count):
    states = [(day, left) for day in range(2) for left in range(1, count + 1)]
    states = [state for state in states if state[0] or state[1] == count]
    choices = [[(k, place) for k in range(left + 1) for place in range(3)] for _, left in states]
    for chosen in product(*choices):
        yield dict(zip(states, chosen, strict=True))


@pytest.mark.parametrize("count", [1, 2])
def test_no_policy_brings_more(count):
    """All policies written out: up to 486 for two pieces in two periods."""
    best = max(value_of_policy(policy, 0, count) for policy in every_policy(count))
    plan = plan_sale(count, PERIODS, kept=KEPT, leftover=LEFTOVER)
    assert plan.value[0, count] == pytest.approx(best, rel=1e-10)


@pytest.mark.parametrize("count", [1, 2])
def test_no_policy_brings_more_with_bids_for_so_many(count):
    """All policies again, with bids that fall piece by piece and one that is for one only."""
    best = max(value_of_policy(policy, 0, count, bids=True) for policy in every_policy(count))
    periods = [replace(e, bids=np.array(b)) for e, b in zip(PERIODS, BIDS, strict=True)]
    left = np.concatenate([[0.0], np.cumsum(LEFT)])[: count + 1]
    plan = plan_sale(count, periods, kept=KEPT, leftover=left)
    assert plan.value[0, count] == pytest.approx(best, rel=1e-10)


def test_selling_on_without_a_limit():
    """So many pieces that none is ever short: each day's own best price, no law needed."""
    many = 60
    periods = [SalePeriod(each.asks, each.buyers) for each in PERIODS]
    plan = plan_sale(many, periods, kept=KEPT, leftover=0.0)
    best = sum(max(each.asks * KEPT * each.buyers) for each in PERIODS)
    assert plan.value[0, many] == pytest.approx(best, rel=1e-9)


def test_plan_goes_on_as_followed():
    """Sold by then, day by day, against the tree of all cases of the plan's own asks."""
    plan = plan_sale(2, PERIODS, kept=KEPT, leftover=LEFTOVER)
    law, sold = {2: 1.0}, []
    for day in range(2):
        kept_after = plan.kept_after_bids(day)
        after: dict[int, float] = {}
        for left, weight in law.items():
            here = int(kept_after[left])
            mean = float(PERIODS[day].buyers[plan.place[day, here]])
            for chance, gone in branches(here, mean):
                after[here - gone] = after.get(here - gone, 0.0) + weight * chance
        law = after
        sold.append(2 - sum(left * weight for left, weight in law.items()))
    assert [each.sold_by_then for each in follow_plan(plan)] == pytest.approx(sold, abs=1e-12)


def test_one_ask_that_stays():
    """With one price throughout, only the sum of the buyers counts: a single Poisson law."""
    plan = plan_sale(3, PERIODS, kept=KEPT, leftover=LEFTOVER)
    mean = PERIODS[0].buyers[1] + PERIODS[1].buyers[1]
    flat = [SalePeriod(np.full(3, 10.0), each.buyers) for each in PERIODS]
    flat_plan = plan_sale(3, flat, kept=KEPT, leftover=LEFTOVER)
    sold = np.minimum(np.arange(60), 3) @ stats.poisson(mean).pmf(np.arange(60))
    expected = sold * 10.0 * KEPT + (3 - sold) * LEFTOVER
    assert value_at_one_ask(flat_plan, 1) == pytest.approx(expected, rel=1e-9)
    assert value_at_one_ask(plan, 1) <= plan.value[0, 3]
