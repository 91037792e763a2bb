"""What a ledger holds: its lines, what was made, what is left."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from advisor.decide.happenings import Purpose
from advisor.decide.stock_at_cost import Units


class Posting(NamedTuple):
    """One line of the ledger; rows are sums of these. Money in smallest units.

    Attributes:
        spent: Money that went out, or cost that moved here from elsewhere.
        earned: Money that came in, net of fees.
        cost: Cost of what was sold, used up or lost.
        unlogged: Of `spent`: what was never bought through the log, at its level.
        failed: Deals and orders that the other side did not keep, or that failed.
        broken: Of these: those whose other side did not keep their word.
        lost: What those cost, less what was paid all the same.
    """

    at_us: int
    purpose: Purpose
    trader: str | None = None
    spent: int = 0
    earned: int = 0
    cost: int = 0
    unlogged: int = 0
    minutes: float = 0.0
    made: Units = 0
    sold: Units = 0
    deals: int = 0
    failed: int = 0
    broken: int = 0
    lost: int = 0


@dataclass(frozen=True, slots=True)
class MadePiece:
    """Pieces that were finished at one time, and what they had cost."""

    at_us: int
    piece: str
    route: str
    order: int | None
    units: int
    cost: int
    unlogged: int
    minutes: float


@dataclass(frozen=True, slots=True)
class StockLine:
    """What is left of an item."""

    item: str
    units: Units
    cost: int


@dataclass(frozen=True)
class Ledger:
    """All that came of it.

    Attributes:
        postings: In the order of time.
        stock: What is left, by item.
        in_making: Cost of what is on the table, by route.
        made: Pieces finished, in the order of time.
        unpriced: Items that were used though never bought through the log, and whose
            price nobody knows: they count as free.
        unworked: Orders that ended without a logged attempt, and without that many
            finished pieces in stock: what was used for them is not known.
    """

    postings: tuple[Posting, ...]
    stock: tuple[StockLine, ...]
    in_making: tuple[tuple[str, int], ...]
    made: tuple[MadePiece, ...]
    unpriced: tuple[str, ...]
    unworked: tuple[int, ...] = ()

    def total(self, column: str) -> int:
        """Sum of a column of the postings."""
        return sum(map(itemgetter(Posting._fields.index(column)), self.postings))

    @property
    def standing(self) -> int:
        """Cost of what is left in stock and on the table."""
        return sum(line.cost for line in self.stock) + sum(cost for _, cost in self.in_making)
