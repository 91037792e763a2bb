"""What any quantity costs today: the standing offers walked, price tiers used where cheaper."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from advisor.decide.stock.need import Floats
from advisor.decide.stock.price_tiers import PriceTiers
from advisor.errors import BadInput
from advisor.levels.ladders import Ladder

NEAR_LEVEL = 2.0
"""An offer dearer than so many times the level tells no price beyond it, as in `Ladder.cost_of`."""

STEEPEST_RISE = 3.0
"""Log rise at which a price beyond the offers stops rising: about twentyfold."""

LEAST_FALL = 0.05
"""Log fall of what leftovers bring with each usual quantity put up: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Units to buy from one trader; code -1: not known, or not standing yet.

    Attributes:
        unit_price: What is paid for each.
        risk: What each costs besides on average, for the trader may not deliver.
    """

    qty: float
    unit_price: float
    trader: int
    risk: float = 0.0


@dataclass(frozen=True, eq=False)
class OffersNow:
    """What can be bought today.

    Attributes:
        ladder: The standing offers, risk included in their prices, and the price beyond.
        tiers: A price list besides, for lots of any size from its first break on.
        risks: Money a unit costs besides what is paid, by trader (`trader_trust`).
    """

    ladder: Ladder
    tiers: PriceTiers | None = None
    risks: Mapping[int, float] = field(default_factory=dict)

    def cost_of(self, units: ArrayLike) -> Floats:
        """The least that these numbers of units cost today, risk included, shape (units,)."""
        return self._split(np.asarray(units, dtype=float))[0]

    def paid_for(self, units: ArrayLike) -> Floats:
        """What is paid for them today: the same without the risk."""
        wanted = np.asarray(units, dtype=float)
        cost, from_tiers = self._split(wanted)
        if not self.risks:
            return cost
        stops = np.cumsum([0.0, *(step.qty for step in self.ladder.steps)])
        risk = np.cumsum([0.0, *(s.qty * self.risks.get(s.trader, 0.0) for s in self.ladder.steps)])
        paid: Floats = cost - np.interp(wanted - from_tiers, stops, risk)
        return paid

    def lots_for(self, units: float) -> list[Lot]:
        """The purchases that make up the least cost of `units`."""
        from_tiers = float(self._split(np.array([float(units)]))[1][0])
        lots = self._walk(units - from_tiers)
        if from_tiers and self.tiers is not None:
            cost = float(self.tiers.cost_of(np.array([from_tiers]))[0])
            lots.insert(0, Lot(from_tiers, cost / from_tiers, -1))
        return lots

    def breaks(self) -> Floats:
        """Quantities at which the price of a unit changes, ascending."""
        stops = np.cumsum([step.qty for step in self.ladder.steps])
        return np.append(stops, [] if self.tiers is None else self.tiers.breaks)

    def _split(self, units: Floats) -> tuple[Floats, Floats]:
        """Least cost, and how many of the units come from the price list."""
        best, from_tiers = walk_ladder(self.ladder, units), np.zeros(len(units))
        if self.tiers is None:
            return best, from_tiers
        # the cost has no bend elsewhere, so the best split lies at one of these
        stops = np.cumsum([0.0, *(step.qty for step in self.ladder.steps)])
        parts = [np.maximum(units - stop, 0.0) for stop in stops]
        parts += [np.minimum(units, at) for at in self.tiers.breaks]
        for part in parts:
            cost = self.tiers.cost_of(part) + walk_ladder(self.ladder, units - part)
            better = cost < best - 1e-9 * np.abs(best)
            best, from_tiers = np.where(better, cost, best), np.where(better, part, from_tiers)
        return best, from_tiers

    def _walk(self, units: float) -> list[Lot]:
        lots, left = [], units
        for step in self.ladder.steps:
            taken = min(step.qty, left)
            if taken <= 0:
                break
            risk = self.risks.get(step.trader, 0.0)
            lots.append(Lot(taken, step.unit_price - risk, step.trader, risk))
            left -= taken
        if left > 1e-9:
            both = walk_ladder(self.ladder, np.array([units - left, units]))
            lots.append(Lot(left, float(both[1] - both[0]) / left, -1))
        return lots


def walk_ladder(ladder: Ladder, units: Floats) -> Floats:
    """What these numbers of units cost on a ladder; `Ladder.cost_of` for many at once.

    Where nothing stands, they cost what they cost on a usual day: the level is the
    unit price of the usual quantity.
    """
    if not ladder.steps:
        usual = usual_day(units, usual_qty=ladder.usual_qty, depth=ladder.depth)
        return ladder.level * usual
    stops = np.cumsum([0.0, *(step.qty for step in ladder.steps)])
    paid = np.cumsum([0.0, *(step.qty * step.unit_price for step in ladder.steps)])
    standing: Floats = np.interp(units, stops, paid)
    beyond = np.maximum(units - stops[-1], 0.0)
    last = ladder.steps[-1].unit_price
    # an offer far above the level says nothing of those beyond it
    first = max(ladder.level, last) if last <= NEAR_LEVEL * ladder.level else ladder.level
    return standing + first * risen(beyond, ladder.depth / ladder.usual_qty)


def usual_day(units: ArrayLike, *, usual_qty: float, depth: float) -> Floats:
    """What units cost on a day like any other, at a level of 1: the usual quantity costs 1 each.

    The first unit is cheaper than the level and each further one dearer, as past
    ladders rose.

    >>> float(usual_day(np.array([20.0]), usual_qty=20, depth=0.3)[0])
    20.0
    """
    first = 1.0 if depth < 1e-9 else depth / math.expm1(min(depth, STEEPEST_RISE))
    return first * risen(np.asarray(units, dtype=float), depth / usual_qty)


def sold_off(units: ArrayLike, *, usual_qty: float, depth: float) -> Floats:
    """What leftovers bring on a day like any other, at a sale level of 1.

    The first brings the level; the more are put up the less each further one brings,
    as asking prices rise on the other side of the market, and at least a little.

    >>> float(sold_off(np.array([1000.0]), usual_qty=1e9, depth=0.0)[0])
    1000.0
    """
    slope = max(depth, LEAST_FALL) / usual_qty
    if slope < 1e-9:
        return np.asarray(units, dtype=float)
    brought: Floats = -np.expm1(-slope * np.asarray(units, dtype=float)) / slope
    return brought


def risen(units: Floats, slope: float) -> Floats:
    """Units that start at a price of 1, which rises by `slope` (log) with each unit."""
    if slope < 1e-12:
        return units
    top = STEEPEST_RISE / slope
    rising = np.expm1(slope * np.minimum(units, top)) / slope
    return rising + math.exp(STEEPEST_RISE) * np.maximum(units - top, 0.0)


def refuse_holes(ladder: Ladder, item: str) -> None:
    """Refuse a ladder with an offer that has no quantity or no price.

    Raises: BadInput: with the item and the offer.
    """
    for step in ladder.steps:
        if not (math.isfinite(step.qty) and step.qty > 0):
            raise BadInput(
                f"the ladder has a hole: the offer at {step.unit_price:g} has no quantity",
                right="quote it with --qty",
                item=item,
            )
        if not (math.isfinite(step.unit_price) and step.unit_price > 0):
            raise BadInput(
                f"the ladder has a hole: an offer of {step.qty:g} units has no price",
                right="quote it again",
                item=item,
            )
