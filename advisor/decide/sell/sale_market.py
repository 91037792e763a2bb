"""Who buys at which price, and how that moves until the last day.

At the price at which listings sell in their usual time the market takes so many a
day; at twice that many it is sated, however cheap one asks; above, buyers grow
few by a logistic law in the log of the price. Its width is set by what is seen:
at the level of the standing asks a quarter as many buy as at the sale level, for
there one is no cheaper than the others. That part is an assumption.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.decide.sell.sale_plan import Floats, SalePeriod

SHARE_AT_ASKS = 0.25
"""Part of the buyers at the sale level who also buy at the level of the standing asks."""

PLAIN_WIDTH = 0.05
LEAST_WIDTH, MOST_WIDTH = 0.02, 0.3
ASKS_TRIED = 241
WIDTHS_UP = 4.0
"""Asks are tried up to so many widths above the level: there one in 27 still buys."""

WIDTHS_DOWN = 6.0


@dataclass(frozen=True, eq=False)
class SaleMarket:
    """What is known of selling one item.

    Attributes:
        level: What buyers pay in the usual time today, before the fee.
        a_day: Units that the market takes of yours in a day at that price.
        width: Scale of the logistic law, log price.
        bid: What bidders pay today, fee taken off; None: nobody bids.
        drift: Expected log change of prices in each coming day, shape (days,).
        share: Part of the usual buyers that is there, today and on each coming day,
            shape (days + 1,): falls to 0 as the season ends.
        kept: The part of a price that is left after the fee.
        leftover: What one that is never sold is worth to you.
        every: Days that an ask stands before one looks again and lists anew, >= 1.
        bidders: (part of `bid`, units wanted) of those seen bidding, best first; as many are
            taken to bid each day. Empty: any number is wanted at `bid`.
    """

    level: float
    a_day: float
    width: float
    bid: float | None
    drift: Floats
    share: Floats
    kept: float
    leftover: float = 0.0
    every: int = 1
    bidders: tuple[tuple[float, float], ...] = ()

    @property
    def days(self) -> int:
        """Days to sell in."""
        return len(self.drift)

    def level_on(self, day: int) -> float:
        """The level expected so many days from now."""
        return self.level * math.exp(float(np.sum(self.drift[:day])))

    def bid_on(self, day: int) -> float:
        """What a piece sold to bidders brings then."""
        if self.bid is None:
            return 0.0
        if day == 0:
            return self.bid  # these bids are seen, whatever the season
        return self.bid * math.exp(float(np.sum(self.drift[:day]))) * float(self.share[day])

    def bids_on(self, day: int, count: int) -> Floats:
        """What the first, second, ... of so many pieces sold to bidders then brings."""
        bid = self.bid_on(day)
        if not self.bidders:
            return np.full(count, bid)
        rows = [np.full(int(min(units, count)), part) for part, units in self.bidders]
        parts = np.concatenate(rows)[:count]
        return bid * np.concatenate([parts, np.zeros(count - len(parts))])

    def left_over(self, count: int) -> Floats:
        """What 0, 1, ... pieces that are left after the last day bring together."""
        each = np.sort(np.maximum(self.bids_on(self.days, count), self.leftover))[::-1]
        return np.concatenate([[0.0], np.cumsum(each)])

    def buyers_on(self, day: int, ask: float) -> float:
        """Mean number of buyers on a day at this ask."""
        if ask <= 0:
            return 2.0 * self.a_day * float(self.share[day])
        above = math.log(ask / self.level_on(day)) / self.width
        return 2.0 * self.a_day * float(self.share[day]) / (1.0 + math.exp(min(above, 700.0)))

    def buyers_from(self, start: int, ask: float) -> float:
        """Mean number of buyers while an ask stands that was listed on a day."""
        days = range(start, min(start + self.every, self.days))
        return sum(self.buyers_on(day, ask) for day in days)

    @property
    def worth_left(self) -> float:
        """What one brings after the last day: at a bidder's, or kept or broken up."""
        return max(self.leftover, self.bid_on(self.days))

    @property
    def starts(self) -> range:
        """The days on which one lists anew."""
        return range(0, self.days, self.every)

    def periods(self, count: int = 1) -> list[SalePeriod]:
        """The stretches between listings as the plan wants them; their asks move with the level.

        Args:
            count: Pieces to sell: for so many the bids are told.
        """
        low = -WIDTHS_DOWN * self.width
        if self.bid is not None:
            low = max(low, math.log(self.bid / self.kept / self.level))
        low = min(low, 0.0)
        # what is worth more kept is not asked less for
        high = math.log(max(self.leftover / self.kept / self.level, 1.0))
        relative = np.linspace(low, high + WIDTHS_UP * self.width, ASKS_TRIED)
        found: dict[tuple[tuple[float, float], ...], Floats] = {}
        periods = []
        for start in self.starts:
            level = self.level_on(start)
            days = range(start, min(start + self.every, self.days))
            moved = tuple((self.level_on(day) / level, float(self.share[day])) for day in days)
            if moved not in found:  # the plan tells equal days by their being one array
                found[moved] = self._buyers(relative, moved)
            asks = level * np.exp(relative)
            bids = self.bids_on(start, count) if self.bidders else None
            periods.append(SalePeriod(asks, found[moved], self.bid_on(start), bids))
        return periods

    def _buyers(self, relative: Floats, moved: tuple[tuple[float, float], ...]) -> Floats:
        """Mean number of buyers over some days at standing asks, relative to the first level."""
        total = np.zeros(len(relative))
        for level, share in moved:
            above = np.minimum((relative - math.log(level)) / self.width, 700.0)
            total += 2.0 * self.a_day * share / (1.0 + np.exp(above))
        return total


def width_from_asks(level: float, ask: float | None) -> float:
    """The width at which `SHARE_AT_ASKS` as many buy at the asking level as at the sale level.

    2 / (1 + e^x) is that share at e^x = 2 / share - 1.
    """
    if ask is None or ask <= level:
        return PLAIN_WIDTH
    return min(
        max(math.log(ask / level) / math.log(2.0 / SHARE_AT_ASKS - 1.0), LEAST_WIDTH), MOST_WIDTH
    )
