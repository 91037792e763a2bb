"""One purse for several items: what to buy of each today, with at most so much money.

Each item has quantities to choose from, with what they cost today and what they
come to in the end. Least total subject to the sum of today's costs: exact by
joining one item after the other and keeping every pair (spent, total) that no
other beats in both. Where more pairs remain than are kept, the purse is ruled
into that many cells and the best pair of each stays; the answer is then still
within the purse, and `lower` says how far from the least it can be at most.

Source: Nemhauser & Ullmann, Discrete dynamic programming and capital allocation,
    Management Science 15 (1969) 494-505; the bound: Everett, Generalized Lagrange
    multiplier method, Operations Research 11 (1963) 399-417.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.need import Floats, Ints

PAIRS_KEPT = 4000


@dataclass(frozen=True, slots=True)
class SharedPurse:
    """How a purse is best used.

    Attributes:
        places: For each item, which of its quantities.
        spent: Money spent today.
        total: What all of it comes to in the end, on average.
        lower: No way of using the purse comes to less.
    """

    places: tuple[int, ...]
    spent: float
    total: float
    lower: float


def share_purse(spent: Sequence[Floats], totals: Sequence[Floats], *, budget: float) -> SharedPurse:
    """The choice for each item that comes to the least in all, within the purse.

    Args:
        spent: What each quantity costs today, one array an item; the least is 0.
        totals: What each comes to, likewise.
        budget: Money for today, >= 0.
    """
    paid, value = np.zeros(1), np.zeros(1)
    trail: list[tuple[Ints, Ints]] = []
    for cost, total in zip(spent, totals, strict=True):
        places = np.flatnonzero(cost <= budget * (1 + 1e-12))
        places = places[_unbeaten(cost[places], total[places], budget)]
        pair_paid = (paid[:, None] + cost[places]).ravel()
        pair_value = (value[:, None] + total[places]).ravel()
        inside = np.flatnonzero(pair_paid <= budget * (1 + 1e-12))
        kept = inside[_unbeaten(pair_paid[inside], pair_value[inside], budget)]
        trail.append((kept // len(places), places[kept % len(places)]))
        paid, value = pair_paid[kept], pair_value[kept]
    at = int(np.argmin(value))
    best, spent_now = float(value[at]), float(paid[at])
    chosen: list[int] = []
    for parents, places in reversed(trail):
        chosen.append(int(places[at]))
        at = int(parents[at])
    lower = _lower_bound(spent, totals, budget)
    return SharedPurse(tuple(reversed(chosen)), spent_now, best, min(lower, best))


def _unbeaten(paid: Floats, value: Floats, budget: float) -> Ints:
    """Those that nothing cheaper today equals in the end, thinned out where they are too many."""
    order = np.lexsort((value, paid))
    least = np.minimum.accumulate(value[order])
    better = np.ones(len(order), dtype=bool)
    better[1:] = value[order][1:] < least[:-1]
    kept = order[better]
    if len(kept) <= PAIRS_KEPT:
        return kept
    # values fall along `kept`, so the last of a cell is its best; the first of all stays
    cell = np.floor(paid[kept] / max(budget, 1e-300) * (PAIRS_KEPT - 1))
    last = np.append(cell[1:] != cell[:-1], True)
    last[0] = True
    thinned: Ints = kept[last]
    return thinned


def _lower_bound(spent: Sequence[Floats], totals: Sequence[Floats], budget: float) -> float:
    """The greatest of the bounds sum of min (total + m * spent) - m * budget over prices m >= 0."""

    def bound(price: float) -> tuple[float, float]:
        used, value = 0.0, -price * budget
        for cost, total in zip(spent, totals, strict=True):
            at = int(np.argmin(total + price * cost))
            used, value = used + float(cost[at]), value + float(total[at] + price * cost[at])
        return value, used

    best, used = bound(0.0)
    low, high = 0.0, 1.0
    while used > budget and high < 1e12:
        value, used = bound(high)
        best = max(best, value)
        low, high = (high, 4 * high) if used > budget else (low, high)
    for _ in range(60):
        price = 0.5 * (low + high)
        value, used = bound(price)
        best = max(best, value)
        low, high = (price, high) if used > budget else (low, price)
    return best
