"""How a sale plan goes on average, and what simpler habits would bring instead."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.sell.sale_plan import Floats, Ints, SalePlan, plan_sale, sale_chances


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """One day of the plan as it is likely to go.

    Attributes:
        day: 0 is today.
        left: The middle one of the numbers that may be left in the morning.
        ask: What to ask for those of them that are not sold to bidders (with none, for one).
        sold_by_then: Mean number sold by the evening.
        at_once: Mean number sold to bidders that day.
        asks: What to ask likewise with 1, 2, ... left.
    """

    day: int
    left: int
    ask: float
    sold_by_then: float
    at_once: float
    asks: tuple[float, ...]


def follow_plan(plan: SalePlan, *, every: int = 1) -> list[PlannedDay]:
    """The plan day by day: the law of the number left is carried on exactly.

    Args:
        every: Days in a period of the plan; `day` is a period's first, and "that day" all of it.
    """
    law = np.zeros(plan.count + 1)
    law[plan.count] = 1.0
    days = []
    for day in range(len(plan.periods)):
        middle = int(np.searchsorted(np.cumsum(law), 0.5 - 1e-12))
        before = float(law @ np.arange(plan.count + 1))
        kept = plan.kept_after_bids(day)
        law = _after_bids(kept, law)
        after_bids = float(law @ np.arange(plan.count + 1))
        law = _after_listing(plan, day, law)
        days.append(
            PlannedDay(
                day=day * every,
                left=middle,
                ask=plan.ask(day, max(int(kept[max(middle, 1)]), 1)),
                sold_by_then=plan.count - float(law @ np.arange(plan.count + 1)),
                at_once=before - after_bids,
                asks=tuple(plan.ask(day, max(left, 1)) for left in kept[1:].tolist()),
            )
        )
    return days


def _after_bids(kept: Ints, law: Floats) -> Floats:
    """The law of the number left once bidders were sold to."""
    after = np.zeros_like(law)
    np.add.at(after, kept, law)
    return after


def _after_listing(plan: SalePlan, day: int, law: Floats) -> Floats:
    """The law of the number left in the evening."""
    chances = sale_chances(plan.periods[day].buyers, plan.count)[plan.place[day]]
    after = np.zeros_like(law)
    for left in np.flatnonzero(law).tolist():
        sold = np.minimum(np.arange(chances.shape[1]), left)
        np.add.at(after, left - sold, law[left] * chances[left])
    return after


def value_at_one_ask(plan: SalePlan, place: int) -> float:
    """Mean proceeds where every day's ask is the one at this place of its list."""
    periods = [
        replace(each, asks=each.asks[place : place + 1], buyers=each.buyers[place : place + 1])
        for each in plan.periods
    ]
    still = [replace(each, bid=0.0, bids=None) for each in periods]
    alone = plan_sale(plan.count, still, kept=plan.kept, leftover=plan.left)
    return float(alone.value[0, plan.count])
