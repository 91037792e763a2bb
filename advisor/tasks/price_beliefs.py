"""What is believed of a price: how unsure it is by itself, and with a money's rate."""

from __future__ import annotations

import math

from advisor.decide.price_risk import PriceBelief
from advisor.levels.item_levels import PriceLevel
from advisor.tasks.pricing import Pricing


def believe_price(item: str, price: float, pricing: Pricing, *, side: str) -> PriceBelief:
    """The belief about one unit of an item at this price; what-if prices are sure."""
    name = pricing.name(item)
    levels = pricing.levels(name)
    level: PriceLevel | None = None if levels is None else getattr(levels, side)
    if level is None or name in pricing.fixed:
        return PriceBelief(price)
    return believe_level(name, level, price, pricing)


def believe_level(item: str, level: PriceLevel, price: float, pricing: Pricing) -> PriceBelief:
    """What is believed of a price: what moves with a money's rate is shared, the rest its own."""
    shared = {
        f"rate of {money}": share * pricing.market.shared.rate_log_sd[money]
        for money, share in pricing.market.shared.exposure.get(item, {}).items()
    }
    moved = sum(each * each for each in shared.values())
    own = math.sqrt(max(0.0, level.log_sd**2 - moved))
    return PriceBelief(price, own, shared)
