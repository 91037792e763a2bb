"""A replay that the book keeps, as its page shows it: what was won, day by day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reports.decision_data import ReplayDay

COSTS = (
    ("craft", "plain", "followed", "hindsight"),
    ("stock", "paid_plain", "paid", "paid_hindsight"),
)
"""Lists of a day whose money is spent: the name, then the keys of the three ways."""


def won_so_far(days: Sequence[Mapping[str, Any]]) -> tuple[ReplayDay, ...]:
    """What was won against the plain habit by each evening, and what hindsight would have won.

    Args:
        days: `by_day` of the answer of `replay --json`, oldest first.
    """
    followed = hindsight = 0.0
    found = []
    for day in days:
        for name, plain, own, best in COSTS:
            followed += sum(each[plain] - each[own] for each in day[name])
            hindsight += sum(each[plain] - each[best] for each in day[name])
        followed += sum(each["followed"] - each["plain"] for each in day["sell"])
        hindsight += sum(each["hindsight"] - each["plain"] for each in day["sell"])
        found.append(ReplayDay(day["day"], followed, hindsight))
    return tuple(found)
