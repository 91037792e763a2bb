"""Which price to ask day by day for some pieces that must be gone by a day.

Buyers come at random, the fewer the dearer one asks; what is left after the last
day brings little. So each day has its best price for each number of pieces left:
it falls as days pass and rises as pieces go. A price stands for a period; within
one, sales follow a Poisson law cut off at the pieces there are. In every period a
piece may also be sold at once to whoever bids.

    V_d(n) = max over prices p of the mean of [sold * kept * p + V_{d+1}(n - sold)],
    V_d(n) >= bid_d + V_d(n - 1),   V_D(n) = n * leftover

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
    """

    asks: Floats
    buyers: Floats
    bid: float = 0.0


@dataclass(frozen=True, eq=False)
class SalePlan:
    """The best price for each period and number of pieces left.

    Attributes:
        periods: As asked about.
        kept: The part of a price that is left after the fee.
        leftover: What a piece brings after the last period.
        value: Mean proceeds to come, shape (periods + 1, count + 1).
        place: Which of the period's asks is best, shape (periods, count + 1).
        at_once: Whether one piece is better sold to a bidder first, same shape.
    """

    periods: Sequence[SalePeriod]
    kept: float
    leftover: float
    value: Floats
    place: Ints
    at_once: NDArray[np.bool_]

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
        kept = np.arange(self.count + 1)
        for left in range(1, self.count + 1):
            if self.at_once[period, left]:
                kept[left] = kept[left - 1]
        return kept


def plan_sale(
    count: int, periods: Sequence[SalePeriod], *, kept: float, leftover: float
) -> SalePlan:
    """The best plan for selling so many pieces.

    Args:
        count: Pieces, >= 1. [n]
        periods: First to last.
        kept: The part of a price that is left after the fee, 0 to 1.
        leftover: What a piece brings after the last period, >= 0.
    """
    value = np.zeros((len(periods) + 1, count + 1))
    value[-1] = leftover * np.arange(count + 1)
    place = np.zeros((len(periods), count + 1), dtype=np.int64)
    at_once = np.zeros((len(periods), count + 1), dtype=bool)
    chances: dict[int, Floats] = {}
    for day in range(len(periods) - 1, -1, -1):
        period = periods[day]
        if id(period.buyers) not in chances:
            chances[id(period.buyers)] = sale_chances(period.buyers, count)
        listed = value_of_asks(
            period.asks * kept, value[day + 1], chances=chances[id(period.buyers)]
        )
        place[day] = np.argmax(listed, axis=0)
        value[day] = listed[place[day], np.arange(count + 1)]
        if period.bid > 0:
            at_once[day] = _sell_at_once(value[day], period.bid)
    return SalePlan(periods, kept, leftover, value, place, at_once)


def _sell_at_once(value: Floats, bid: float) -> NDArray[np.bool_]:
    """Raise the values to what bidders pay, in place; where they do."""
    sold = np.zeros(len(value), dtype=bool)
    for left in range(1, len(value)):
        offered = bid + value[left - 1]
        sold[left] = offered >= value[left]
        value[left] = max(value[left], offered)
    return sold


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
