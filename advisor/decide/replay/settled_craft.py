"""What making or buying would have cost at the offers that stood that day.

Luck is averaged out: a route costs the mean units that it uses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.decide.replay.day_advice import CraftSaid, WayToHave
from advisor.decide.replay.standing import MarketDay

SAME = 1e-9


@dataclass(frozen=True, slots=True)
class CraftSettled:
    """What one piece cost as advised, by the plain habit, and by the best of the ways."""

    followed: float
    plain: float
    hindsight: float

    @property
    def was_right(self) -> bool:
        """Whether the advice was as good as hindsight."""
        return self.followed <= self.hindsight + SAME * abs(self.hindsight)


def settle_craft(said: CraftSaid, market: MarketDay, *, kept: float) -> CraftSettled | None:
    """Settle one piece on one day.

    Args:
        kept: The part of a price that is left after the fee.
    Returns: None where nobody looked that day at what the piece costs, or where the way
        advised or the plain one uses something that has no price.
    """
    piece = market.get(said.piece)
    if piece is None or not piece.is_fresh:
        return None
    costs = [cost_of_way(way, market, kept=kept) for way in said.ways]
    followed, plain = costs[said.followed], costs[said.plain]
    if followed is None or plain is None:
        return None
    return CraftSettled(followed, plain, min(cost for cost in costs if cost is not None))


def cost_of_way(way: WayToHave, market: MarketDay, *, kept: float) -> float | None:
    """What a way costs: units at the standing offers, what comes back at the cheapest less fee.

    What comes back and has no price counts nothing.
    """
    if any(item not in market for item in way.units):
        return None
    paid = sum(float(market[item].cost_of(units)) for item, units in way.units.items())
    back = sum(
        kept * market[item].cheapest * units for item, units in way.gives.items() if item in market
    )
    return paid - back + way.other


def cheapest_way(ways: list[WayToHave], prices: Mapping[str, float], *, kept: float) -> int | None:
    """The way that is cheapest at one price an item: what somebody would pick who trusts them.

    None where no way has a price for all that it uses.
    """
    best, least = None, float("inf")
    for place, way in enumerate(ways):
        if any(item not in prices for item in way.units):
            continue
        cost = sum(prices[item] * units for item, units in way.units.items()) + way.other
        cost -= kept * sum(prices.get(item, 0.0) * units for item, units in way.gives.items())
        if cost < least:
            best, least = place, cost
    return best
