"""What pieces would have brought, sold as advised, by the plain habit, and in hindsight.

A listing sells on a day if it asks no more than the cheapest ask that stands then, or
than the highest deal of that day; in all no more units a day than the market takes.
To bidders one sells as many as one likes, at the highest bid of the day. On the last day
what is left goes to the bidders; where nobody bids it brings nothing. All after the fee.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from advisor.decide.replay.day_advice import SaleSaid
from advisor.decide.replay.standing import Standing

SAME = 1e-9


@dataclass(frozen=True, slots=True)
class SaleSettled:
    """What all pieces together brought.

    Attributes:
        unsold, unsold_plain: Pieces that were left on the last day, as advised and by habit.
    """

    followed: float
    plain: float
    hindsight: float
    unsold: int = 0
    unsold_plain: int = 0


def settle_sale(
    said: SaleSaid, days: Sequence[Standing | None], *, kept: float
) -> SaleSettled | None:
    """Settle the sale of some pieces.

    Args:
        days: What stood on the day itself and on those after it, the last one included.
        kept: The part of a price that is left after the fee.
    Returns: None where nobody looked on any of these days.
    """
    if not any(seen is not None and seen.is_fresh for seen in days):
        return None
    takes = units_taken(said.a_day, days=len(days))
    followed, unsold = _follow(said, days, takes)
    plain, unsold_plain = _list_at_last_price(said, days, takes)
    return SaleSettled(
        kept * followed,
        kept * plain,
        kept * _in_hindsight(said, days, takes),
        unsold=unsold,
        unsold_plain=unsold_plain,
    )


def units_taken(a_day: float, *, days: int) -> list[int]:
    """Whole units that the market takes on each day.

    >>> units_taken(1.5, days=4)
    [1, 2, 1, 2]
    """
    by_then = [math.floor(a_day * day + SAME) for day in range(days + 1)]
    return [after - before for before, after in pairwise(by_then)]


def highest_price_paid(seen: Standing) -> float:
    """The highest price at which a listing sells that day."""
    return max(seen.cheapest, seen.deal or 0.0)


def _sold(ask: float, seen: Standing | None, takes: int) -> int:
    if seen is None or ask > highest_price_paid(seen) * (1 + SAME):
        return 0
    return takes


def _follow(
    said: SaleSaid, days: Sequence[Standing | None], takes: Sequence[int]
) -> tuple[float, int]:
    """What it brought, and how many were left."""
    left, brought = said.count, 0.0
    for day, seen in enumerate(days[: len(said.asks)]):
        if seen is not None and seen.bid is not None:
            rest = int(said.kept[day][left])
            brought += (left - rest) * seen.bid
            left = rest
        ask = float(said.asks[day][left])
        sold = min(left, _sold(ask, seen, takes[day]))
        brought += sold * ask
        left -= sold
    return brought + left * _last_bid(days), left


def _list_at_last_price(
    said: SaleSaid, days: Sequence[Standing | None], takes: Sequence[int]
) -> tuple[float, int]:
    left, brought = said.count, 0.0
    for day, seen in enumerate(days):
        sold = min(left, _sold(said.last_price, seen, takes[day]))
        brought += sold * said.last_price
        left -= sold
    return brought + left * _last_bid(days), left


def _in_hindsight(said: SaleSaid, days: Sequence[Standing | None], takes: Sequence[int]) -> float:
    listed = [
        highest_price_paid(seen)
        for seen, units in zip(days, takes, strict=True)
        if seen is not None
        for _ in range(units)
    ]
    best_bid = max((seen.bid or 0.0 for seen in days if seen is not None), default=0.0)
    prices = sorted([*listed, *([best_bid] * said.count)], reverse=True)
    return sum(prices[: said.count])


def _last_bid(days: Sequence[Standing | None]) -> float:
    last = days[-1]
    return 0.0 if last is None or last.bid is None else last.bid
