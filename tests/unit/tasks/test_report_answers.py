"""What pages show beside the answers: losses over the price, profit and winnings added up."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.routes.total_law import CostDistribution
from advisor.tasks.report_answers import loss_curves, profit_by_day, quoted
from advisor.tasks.report_replay import won_so_far


def coin(count):
    """The law of the cost of so many orders, each 100 or 300 with one half."""
    from math import comb

    chances = np.array([comb(count, k) / 2**count for k in range(count + 1)])
    return CostDistribution(100.0 * count, 200.0, chances, 200.0 * count, 100.0 * count**0.5)


def test_losses_are_those_of_the_law():
    """Closed form: one order loses with one half below 300 kept, never above."""
    one, twenty = loss_curves(coin, kept=0.8)
    assert (one.orders, twenty.orders) == (1, 20)
    for price, chance in zip(one.prices, one.chances, strict=True):
        kept = 0.8 * price
        assert chance == pytest.approx(
            0.0 if kept >= 300 - 1e-6 else 0.5 if kept >= 100 - 1e-6 else 1.0
        )
    # of 20 orders more than half cost 300: with one half less half the middle chance
    at = int(np.argmin(np.abs(np.array(twenty.prices) * 0.8 - 205)))
    from math import comb

    assert twenty.chances[at] == pytest.approx(0.5 - comb(20, 10) / 2**21, abs=1e-9)


def test_profit_is_added_up():
    rows = [
        {"day": "2026-11-01", "spent": 5.0, "earned": 0.0, "profit": -2.0},
        {"day": "2026-11-03", "spent": 0.0, "earned": 9.0, "profit": 4.5},
    ]
    days = profit_by_day(rows)
    assert [(each.day, each.profit_so_far) for each in days] == [
        ("2026-11-01", -2.0),
        ("2026-11-03", 2.5),
    ]


def test_winnings_count_what_is_saved_and_what_is_brought():
    """By hand: 10 saved in making and 2 in supplies, 3 less brought; the next day 1 more."""
    day = {
        "day": "2026-10-22",
        "craft": [{"followed": 90.0, "plain": 100.0, "hindsight": 85.0}],
        "stock": [{"paid": 8.0, "paid_plain": 10.0, "paid_hindsight": 7.0}],
        "sell": [{"followed": 47.0, "plain": 50.0, "hindsight": 60.0}],
    }
    later = {
        "day": "2026-10-23",
        "craft": [],
        "stock": [],
        "sell": [{"followed": 51.0, "plain": 50.0, "hindsight": 51.0}],
    }
    first, second = won_so_far([day, later])
    assert (first.won_so_far, first.best_so_far) == (9.0, 28.0)
    assert (second.day, second.won_so_far, second.best_so_far) == ("2026-10-23", 10.0, 29.0)


def test_names_are_typed_as_a_terminal_takes_them():
    assert quoted("storm-lantern") == "storm-lantern"
    assert quoted("storm lantern") == '"storm lantern"'
