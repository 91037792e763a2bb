"""Break-even against halving by hand, and against every line's own crossing (brute force)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.decide.break_even import flip_odds, flip_price

LINES = st.lists(st.tuples(st.floats(0, 100), st.floats(0.1, 20)), min_size=1, max_size=6)


def least_line(lines):
    def cost_at(price):
        return min((start + slope * price, slope) for start, slope in lines)

    return cost_at


@given(LINES, st.floats(0.01, 50), st.floats(1, 500))
def test_flip_of_rising_lines_is_the_last_crossing(lines, now, target):
    found = flip_price(least_line(lines), target, now=now)
    # the least of rising lines reaches the target where the last of them does
    by_hand = max((target - start) / slope for start, slope in lines)
    if by_hand < 0:
        assert found is None
    else:
        assert found == pytest.approx(by_hand, rel=1e-6, abs=1e-6)


def test_flip_of_a_falling_line():
    # 50 - 3 p meets 20 at p = 10, from either side
    assert flip_price(lambda p: (50 - 3 * p, -3), 20, now=4.0) == pytest.approx(10)
    assert flip_price(lambda p: (50 - 3 * p, -3), 20, now=14.0) == pytest.approx(10)
    assert flip_price(lambda p: (15 - 3 * p, -3), 20, now=4.0) is None


def test_flip_above_a_price_at_which_a_loop_earns_for_ever():
    # 20 + 3 p meets 26 at p = 2; below 1.5 the cost has no bottom
    def cost_at(price):
        return (-math.inf, 0.0) if price < 1.5 else (20 + 3 * price, 3)

    assert flip_price(cost_at, 26, now=9.0) == pytest.approx(2)
    # below the bottomless prices nothing is ever even: it flips at their edge
    assert flip_price(cost_at, 23, now=9.0) == pytest.approx(1.5, rel=1e-6)


def test_no_flip_where_a_way_without_the_item_is_cheap_enough():
    assert flip_price(lambda p: min((2 * p, 2), (30, 0)), 40, now=5.0) is None


def test_flip_to_a_way_that_is_not_taken_today():
    """Today 30 without the item; with it 10 + 4 p: even with 22 at p = 3, below today's 8."""
    assert flip_price(lambda p: min((10 + 4 * p, 4), (30, 0)), 22, now=8.0) == pytest.approx(3)
    assert flip_price(lambda p: min((10 + 4 * p, 4), (30, 0)), 9, now=8.0) is None


@given(LINES, st.floats(0, 200), st.floats(0.01, 50))
def test_flip_below_a_way_without_the_item(lines, without, now):
    target = without - 1.0
    found = flip_price(lambda price: min((without, 0.0), least_line(lines)(price)), target, now=now)
    if least_line(lines)(now)[0] > without:
        by_hand = max((target - start) / slope for start, slope in lines)
        if by_hand < -1e-9:
            assert found is None
        elif by_hand > 1e-9:
            assert found == pytest.approx(by_hand, rel=1e-6, abs=1e-6)


@given(st.floats(0.01, 0.9), st.floats(1, 100))
def test_flip_of_odds_is_the_closed_form(now, cost_of_a_try):
    # a geometric number of tries costs cost / odds on average
    target = cost_of_a_try / 0.2
    found = flip_odds(lambda q: cost_of_a_try / q, target, now=now)
    if now / 1024 < 0.2 and not math.isclose(now, 0.2):
        assert found == pytest.approx(0.2, rel=1e-6)


def test_no_flip_of_odds_out_of_reach():
    assert flip_odds(lambda q: 10 / q, 5, now=0.5) is None
