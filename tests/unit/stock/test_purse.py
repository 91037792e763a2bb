"""One purse for several items, against every combination."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from advisor.decide.stock import purse
from advisor.decide.stock.purse import share_purse


def random_items(seed, items=4, choices=6):
    random = np.random.default_rng(seed)
    spent = [np.append(0.0, random.uniform(0, 10, choices - 1).cumsum()) for _ in range(items)]
    totals = [random.uniform(20, 60, choices) for _ in range(items)]
    return spent, totals


def brute_force(spent, totals, budget):
    ways = itertools.product(*(range(len(each)) for each in spent))
    return min(
        sum(t[k] for t, k in zip(totals, way, strict=True))
        for way in ways
        if sum(s[k] for s, k in zip(spent, way, strict=True)) <= budget
    )


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("budget", [0.0, 7.5, 25.0, 60.0, 1e6])
def test_every_combination(seed, budget):
    spent, totals = random_items(seed)
    found = share_purse(spent, totals, budget=budget)
    assert found.total == pytest.approx(brute_force(spent, totals, budget))
    assert found.spent <= budget
    assert found.total == pytest.approx(
        sum(t[k] for t, k in zip(totals, found.places, strict=True))
    )
    assert found.spent == pytest.approx(sum(s[k] for s, k in zip(spent, found.places, strict=True)))
    assert found.lower <= found.total + 1e-9


def test_plenty_of_money_buys_each_item_its_best():
    spent, totals = random_items(1)
    found = share_purse(spent, totals, budget=1e9)
    assert found.places == tuple(int(np.argmin(each)) for each in totals)
    assert found.lower == pytest.approx(found.total)


def test_an_empty_purse_buys_nothing():
    spent, totals = random_items(2)
    assert share_purse(spent, totals, budget=0.0).places == (0, 0, 0, 0)


@pytest.mark.parametrize("seed", range(4))
def test_thinned_out_pairs_stay_near_and_within(seed, monkeypatch):
    spent, totals = random_items(seed, items=5)
    exact = brute_force(spent, totals, 40.0)
    monkeypatch.setattr(purse, "PAIRS_KEPT", 12)
    found = share_purse(spent, totals, budget=40.0)
    assert found.spent <= 40.0
    assert found.lower - 1e-9 <= exact <= found.total + 1e-9
    assert found.total <= exact * 1.2


def test_buying_nothing_is_never_thinned_out(monkeypatch):
    """Three items whose cheapest purchases do not fit together: two of them still do."""
    monkeypatch.setattr(purse, "PAIRS_KEPT", 3)
    spent = [np.array([0.0, 0.1, 0.2, 0.3, 0.4])] * 3
    totals = [np.array([9.0, 8.0, 7.0, 6.0, 5.0])] * 3
    found = share_purse(spent, totals, budget=1.0)
    assert found.spent <= 1.0
    assert found.total <= 19.0
