"""What the stock has cost, and what each thing that left it had cost.

Money is counted in whole smallest units, so that nothing is lost to rounding: what
leaves takes its share of the cost, rounded once, and the rest stays. At any moment

    cost of all that was put in = cost of all that was taken + cost of what is left

to the last unit. A pool is stock that is costed together; pools of one item may be
kept apart, such as what was bought for one order.

Source: the cost formulas that IAS 2 *Inventories* allows, paragraphs 25 to 27:
first-in, first-out, and weighted average, here after each purchase (moving).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, Literal, TypeVar

Method = Literal["average", "fifo"]
Units = int | Fraction
Pool = TypeVar("Pool", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Part(Generic[Pool]):
    """What left a pool, or lies in it.

    Attributes:
        units: How many, > 0.
        cost: What they had cost together, in smallest units of money.
    """

    pool: Pool
    units: Units
    cost: int


class StockAtCost(Generic[Pool]):
    """Stock of many items, costed by one method.

    Args:
        method: "average": each unit of a pool costs the average of what lies there;
            "fifo": what came first leaves first, at its own cost.
    """

    def __init__(self, method: Method) -> None:
        self._keeps_lots = method == "fifo"
        self._lots: dict[str, dict[Pool, deque[tuple[Units, int]]]] = {}

    def put(self, item: str, pool: Pool, *, units: Units, cost: int) -> None:
        """Lay units into a pool of an item.

        Args:
            units: How many, > 0.
            cost: What they cost together, >= 0.
        """
        lots = self._lots.setdefault(item, {}).setdefault(pool, deque())
        if lots and not self._keeps_lots:
            there, cost_there = lots.pop()
            units, cost = units + there, cost + cost_there
        lots.append((units, cost))

    def take(
        self, item: str, units: Units, *, rank: Callable[[Pool], int] | None = None
    ) -> tuple[list[Part[Pool]], Units]:
        """Take units out, as far as they are there.

        Args:
            units: How many, >= 0.
            rank: Pools of the lowest rank go first; of one rank, the one that has
                stood longest.
        Returns: What was taken, pool by pool, and how many units were not there.
        """
        pools = self._lots.get(item, {})
        order = list(pools) if rank is None or len(pools) < 2 else sorted(pools, key=rank)
        parts = []
        for pool in order:
            if units <= 0:
                break
            part = _take_from(pools[pool], units)
            if not pools[pool]:
                del pools[pool]
            parts.append(Part(pool, *part))
            units -= part[0]
        return parts, units

    def held(self) -> Iterator[tuple[str, Part[Pool]]]:
        """All that is left: item and pool, in the order in which they came."""
        for item, pools in self._lots.items():
            for pool, lots in pools.items():
                yield item, Part(pool, sum(lot[0] for lot in lots), sum(lot[1] for lot in lots))


def _take_from(lots: deque[tuple[Units, int]], wanted: Units) -> tuple[Units, int]:
    """Take up to so many units from the oldest lots: units and cost."""
    taken: Units = 0
    cost = 0
    while lots and taken < wanted:
        units, lot_cost = lots.popleft()
        left = wanted - taken
        if units > left:
            share = share_of(lot_cost, left, units)
            lots.appendleft((units - left, lot_cost - share))
            units, lot_cost = left, share
        taken += units
        cost += lot_cost
    return taken, cost


def share_of(amount: int, part: Units, whole: Units) -> int:
    """A part's share of an amount in smallest units, a half rounded up.

    >>> share_of(100, 1, 3), share_of(100, 2, 3), share_of(5, 1, 2)
    (33, 67, 3)
    """
    return int((2 * amount * part + whole) // (2 * whole))
