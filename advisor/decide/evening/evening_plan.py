"""What to make with some hours and a purse: the counts that earn most on average.

Each piece more of an item earns less than the one before, for the market takes only so
many; ways that make the same item share those earnings. Counts are whole. It is solved
as an integer programme, exactly:

    most over x, y of  sum of gain_ik y_ik - sum of cost_w x_w
    sum of y_ik over k = sum of x_w over the ways that make i,   y_ik in {0, 1}
    sum of minutes_w x_w <= time,  sum of money_w x_w <= purse,  x_w whole, >= 0

Because gains fall, the k-th piece is never counted before the one before it.

Source: the bounded knapsack with two constraints, Kellerer, Pferschy & Pisinger,
    Knapsack Problems (Springer 2004), chapters 7 and 9; solved by branch and cut (HiGHS).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

MOST_OF_ONE = 60
"""No more of one item are planned for an evening."""

EARNS = 1e-9


@dataclass(frozen=True, slots=True)
class Work:
    """One way to make an item.

    Attributes:
        item: What comes of it.
        cost: Mean cost of one.
        minutes: Mean time for one, >= 0.
        money: Money to have ready for one, >= 0.
    """

    item: str
    cost: float
    minutes: float
    money: float


@dataclass(frozen=True, slots=True)
class EveningPlan:
    """How many to make by each way, in the order asked; and what that earns on average."""

    counts: tuple[int, ...]
    profit: float


def plan_evening(
    works: Sequence[Work],
    gains: Mapping[str, Sequence[float]],
    *,
    minutes: float,
    purse: float,
) -> EveningPlan:
    """The counts of greatest mean profit.

    Args:
        works: The ways; one that makes nothing that sells is never taken.
        gains: For each item, what the first, second, ... piece brings, never rising.
        minutes: Time there is, >= 0.
        purse: Money there is, >= 0.
    """
    most = [_most(work, len(gains.get(work.item, ())), minutes, purse) for work in works]
    items = [item for item, row in gains.items() if row and item in {w.item for w in works}]
    if not any(most) or not items:
        return EveningPlan((0,) * len(works), 0.0)
    counts = _solve(works, {item: gains[item] for item in items}, most, (minutes, purse))
    return EveningPlan(tuple(counts), profit_of(works, gains, counts))


def profit_of(
    works: Sequence[Work], gains: Mapping[str, Sequence[float]], counts: Sequence[int]
) -> float:
    """Mean profit of some counts."""
    made: dict[str, int] = {}
    for work, count in zip(works, counts, strict=True):
        made[work.item] = made.get(work.item, 0) + count
    earned = sum(sum(gains[item][:count]) for item, count in made.items() if count)
    return earned - sum(work.cost * count for work, count in zip(works, counts, strict=True))


def _most(work: Work, wanted: int, minutes: float, purse: float) -> int:
    """How many of one way alone there is time, money and a market for."""
    bounds = [wanted, MOST_OF_ONE]
    for each, all_of_it in ((work.minutes, minutes), (work.money, purse)):
        if each > 0:
            bounds.append(int(all_of_it / each + 1e-9))
    return min(bounds)


def _solve(
    works: Sequence[Work],
    gains: Mapping[str, Sequence[float]],
    most: Sequence[int],
    limits: tuple[float, float],
) -> list[int]:
    from scipy.optimize import Bounds, LinearConstraint, milp

    units = [(item, gain) for item, row in gains.items() for gain in row[:MOST_OF_ONE]]
    ways = len(works)
    worth = np.array([work.cost for work in works] + [-gain for _, gain in units])
    resources = np.zeros((2, ways + len(units)))
    resources[0, :ways] = [work.minutes for work in works]
    resources[1, :ways] = [work.money for work in works]
    balance = np.zeros((len(gains), ways + len(units)))
    for row, item in enumerate(gains):
        balance[row, :ways] = [1.0 if work.item == item else 0.0 for work in works]
        balance[row, ways:] = [-1.0 if sold == item else 0.0 for sold, _ in units]
    upper = np.array([*most, *([1.0] * len(units))], dtype=float)
    for place, work in enumerate(works):
        if work.item not in gains:
            upper[place] = 0.0
    found = milp(
        worth,
        constraints=[
            LinearConstraint(resources, ub=np.array(limits) * (1 + 1e-12)),
            LinearConstraint(balance, lb=0.0, ub=0.0),
        ],
        integrality=np.ones(ways + len(units)),
        bounds=Bounds(0.0, upper),
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None or -found.fun <= EARNS:  # making nothing is always possible
        return [0] * ways
    return [round(count) for count in found.x[:ways]]
