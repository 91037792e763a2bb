"""How unsure prices move a sum of money, and two sums together.

The logarithm of each price is taken as normal: a movement of its own, and
movements shared with other prices (a money's rate moves everything quoted in
that money). To first order a basket's relative movement is the sum of its
parts' movements, weighted by their share of its cost.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class PriceBelief:
    """What one unit costs, and how sure that is.

    Attributes:
        price: Money per unit.
        own_log_sd: Standard deviation of the price's own movement, of its logarithm.
        shared_log_sd: The same for each movement shared with other prices, by name.
    """

    price: float
    own_log_sd: float = 0.0
    shared_log_sd: Mapping[str, float] = field(default_factory=dict)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of the price, own and shared movements."""
        return math.hypot(self.own_log_sd, *self.shared_log_sd.values())


@dataclass(frozen=True)
class Movements:
    """The movements of a sum of money: money for one standard deviation of each."""

    by_source: Mapping[str, float]

    @property
    def variance(self) -> float:
        """Variance of the sum, money squared."""
        return sum(each * each for each in self.by_source.values())

    @property
    def sd(self) -> float:
        """Standard deviation of the sum, money."""
        return math.sqrt(self.variance)

    def minus(self, other: Movements) -> Movements:
        """The movements of this sum less the other: what is shared cancels."""
        names = sorted(set(self.by_source) | set(other.by_source))
        return Movements(
            {name: self.by_source.get(name, 0.0) - other.by_source.get(name, 0.0) for name in names}
        )


def basket_movements(units: Mapping[str, float], prices: Mapping[str, PriceBelief]) -> Movements:
    """The movements of the cost of a basket.

    Args:
        units: Units of each item, negative where they come back.
        prices: The belief about each of these items' prices.
    Source: first-order propagation of independent normal movements
        (common practice, no source).
    """
    moved: dict[str, float] = {}
    for item, count in units.items():
        belief = prices[item]
        spent = count * belief.price
        own = f"price of {item}"
        moved[own] = moved.get(own, 0.0) + spent * belief.own_log_sd
        for name, log_sd in belief.shared_log_sd.items():
            moved[name] = moved.get(name, 0.0) + spent * log_sd
    return Movements(moved)
