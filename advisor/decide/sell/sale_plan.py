"""Which price to ask day by day for some pieces that must be gone by a day.

Buyers come at random, the fewer the dearer one asks; what is left after the last
day brings little. So each day has its best price for each number of pieces left:
it falls as days pass and rises as pieces go. A price stands for a period; within
one, sales follow a Poisson law cut off at the pieces there are. In every period
pieces may also be sold at once to those who bid, the best bid first.

    L_d(n) = max over prices p of the mean of [sold * kept * p + V_{d+1}(n - sold)],
    V_d(n) = max over k of  bid_d1 + ... + bid_dk + L_d(n - k),   V_D(n) = left(n)

Source: Gallego & van Ryzin (1994), Optimal dynamic pricing of inventories with
    stochastic demand over finite horizons, Management Science 40(8):999-1020.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TAIL = 1e-13
"""More buyers than all but this share of cases are counted as the most."""


@dataclass(frozen=True, eq=False)
class SalePeriod:
    """A stretch of time at one price, such as a day.

    Attributes:
        asks: Prices that may be asked, shape (prices,), > 0.
        buyers: Mean number of buyers in the period at each of them, shape (prices,).
        bid: What a piece sold at once brings, fee taken off; 0: nobody bids.
        bids: Instead: what the first, second, ... piece sold at once brings, falling, shape
            (count,); None: every piece brings `bid`.
    """

    asks: Floats
    buyers: Floats
    bid: float = 0.0
    bids: Floats | None = None


@dataclass(frozen=True, eq=False)
class SalePlan:
    """The best price for each period and number of pieces left.

    Attributes:
        periods: As asked about.
        kept: The part of a price that is left after the fee.
        left: What the pieces left after the last period bring, shape (count + 1,).
        value: Mean proceeds to come, shape (periods + 1, count + 1).
        place: Which of the period's asks is best, shape (periods, count + 1).
        listed: How many are left once what is better sold to bidders is, same shape.
    """

    periods: Sequence[SalePeriod]
    kept: float
    left: Floats
    value: Floats
    place: Ints
    listed: Ints

    @property
    def count(self) -> int:
        """Pieces at the start."""
        return len(self.value[0]) - 1

    def ask(self, period: int, left: int) -> float:
        """The price to ask with so many pieces left."""
        return float(self.periods[period].asks[self.place[period, left]])

    def worth_of_one(self, period: int, left: int) -> float:
        """What the last of so many pieces adds to the proceeds to come."""
        return float(self.value[period, left] - self.value[period, left - 1])

    def kept_after_bids(self, period: int) -> Ints:
        """How many are left once what is better sold to bidders is, by how many there were."""
        kept: Ints = self.listed[period]
        return kept


def plan_sale(
    count: int, periods: Sequence[SalePeriod], *, kept: float, leftover: float | Floats
) -> SalePlan:
    """The best plan for selling so many pieces.

    Args:
        count: Pieces, >= 1. [n]
        periods: First to last.
        kept: The part of a price that is left after the fee, 0 to 1.
        leftover: What a piece brings after the last period, >= 0; or what 0, 1, ... of
            them bring together, shape (count + 1,).
    """
    left: Floats = np.asarray(
        leftover * np.arange(count + 1) if np.ndim(leftover) == 0 else leftover, dtype=np.float64
    )
    value = np.zeros((len(periods) + 1, count + 1))
    value[-1] = left
    place = np.zeros((len(periods), count + 1), dtype=np.int64)
    listed = np.tile(np.arange(count + 1), (len(periods), 1))
    chances: dict[int, Floats] = {}
    for day in range(len(periods) - 1, -1, -1):
        period = periods[day]
        if id(period.buyers) not in chances:
            chances[id(period.buyers)] = sale_chances(period.buyers, count)
        by_ask = value_of_asks(
            period.asks * kept, value[day + 1], chances=chances[id(period.buyers)]
        )
        place[day] = np.argmax(by_ask, axis=0)
        value[day] = by_ask[place[day], np.arange(count + 1)]
        if period.bids is not None:
            listed[day] = _sell_to_some(value[day], period.bids)
        elif period.bid > 0:
            listed[day] = _sell_to_all(value[day], period.bid)
    return SalePlan(periods, kept, left, value, place, listed)


def _sell_to_all(value: Floats, bid: float) -> Ints:
    """Raise the values to what bidders pay for every piece, in place; how many are then left."""
    left = np.arange(len(value))
    for count in range(1, len(value)):
        offered = bid + value[count - 1]
        if offered >= value[count]:
            value[count], left[count] = offered, left[count - 1]
    return left


def _sell_to_some(value: Floats, bids: Floats) -> Ints:
    """Likewise where each piece more brings less, and only so many are wanted."""
    counts = np.arange(len(value))
    best, sold = value.copy(), np.zeros(len(value), dtype=np.int64)
    earned = 0.0
    for wanted, bid in enumerate(bids[: len(value) - 1].tolist(), start=1):
        if bid <= 0:
            break
        earned += bid
        offered = earned + value[: len(value) - wanted]
        better = np.flatnonzero(offered >= best[wanted:]) + wanted
        best[better], sold[better] = offered[better - wanted], wanted
    value[:] = best
    return counts - sold


def sale_chances(buyers: Floats, count: int) -> Floats:
    """Chance that k buyers come, shape (prices, most + 1); the last column is `most` or more.

    Args:
        buyers: Mean number at each price, shape (prices,).
        count: Pieces there are; more buyers than pieces need not be told apart.
    """
    from scipy.special import pdtrc, pdtrik

    most = int(min(count, np.ceil(pdtrik(1.0 - TAIL, max(float(buyers.max()), 1e-12))) + 1))
    more = pdtrc(np.arange(most), np.maximum(buyers, 1e-300)[:, None])
    at_least = np.column_stack([np.ones(len(buyers)), more])
    chances: Floats = at_least - np.column_stack([more, np.zeros(len(buyers))])
    return chances


def value_of_asks(net: Floats, after: Floats, *, chances: Floats) -> Floats:
    """Mean proceeds at each price with each number left, shape (prices, count + 1).

    Args:
        net: What one piece brings at each price, shape (prices,).
        after: Mean proceeds from the next period on by the number left, shape (count + 1,).
        chances: From `sale_chances`.
    """
    left = np.arange(len(after))
    total = np.zeros((len(net), len(after)))
    for buyers in range(chances.shape[1]):
        sold = np.minimum(buyers, left)
        total += chances[:, buyers, None] * (net[:, None] * sold + after[left - sold])
    return total
