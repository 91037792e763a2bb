"""Luck and unsure prices in one law of what making costs.

Luck is the exact law of the cost at today's prices. Prices multiply it: when
everything is a tenth dearer, the bad night is a tenth dearer as well. The
factor is lognormal with mean 1 and stands as equally likely nodes, so that
every answer is a sum over nodes of the exact law: no random numbers.
Where the cost can be negative (more comes back than is used) prices shift it
instead of stretching it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

QUANTILES = (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99)
NODES = 201
DRAWN_CELLS = 400
WORST_SHARE = 0.05


def normal_nodes(count: int = NODES) -> NDArray[np.float64]:
    """Equally likely standard normal values with mean 0 and variance exactly 1."""
    from scipy.special import ndtri

    nodes = np.asarray(ndtri((np.arange(count) + 0.5) / count))
    scaled: NDArray[np.float64] = nodes / np.sqrt(np.mean(nodes**2))
    return scaled


@dataclass(frozen=True)
class CostLaw:
    """The law of a cost under luck and unsure prices.

    Attributes:
        values: Costs that luck can bring at today's prices, ascending, shape (cells,).
        odds: Their probabilities, shape (cells,), summing to 1.
        price_sd: Standard deviation of the mean cost under unsure prices, money.
    """

    values: NDArray[np.float64]
    odds: NDArray[np.float64]
    price_sd: float

    @cached_property
    def mean(self) -> float:
        """Mean cost."""
        return float(self.values @ self.odds)

    @cached_property
    def luck_variance(self) -> float:
        """Variance at today's prices."""
        return float((self.values - self.mean) ** 2 @ self.odds)

    @cached_property
    def sd(self) -> float:
        """Standard deviation under luck and prices: the law of total variance."""
        scale, shift = self._nodes
        moments = np.mean((scale * self.mean + shift - self.mean) ** 2)
        return float(np.sqrt(np.mean(scale**2) * self.luck_variance + moments))

    @cached_property
    def _nodes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Factor and shift of the cost at each equally likely price node."""
        unit = normal_nodes()
        if self.mean > 0 and self.values[0] >= 0:
            log_sd = np.sqrt(np.log1p((self.price_sd / self.mean) ** 2))
            factor = np.exp(log_sd * unit)
            return factor / factor.mean(), np.zeros_like(unit)
        return np.ones_like(unit), self.price_sd * unit

    @cached_property
    def _cumulative(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        below = np.concatenate(([0.0], np.cumsum(self.odds)))
        spent_below = np.concatenate(([0.0], np.cumsum(self.odds * self.values)))
        return below, spent_below

    def chance_at_most(self, budget: float) -> float:
        """The chance that the cost is at most the budget."""
        scale, shift = self._nodes
        return float(np.mean(self._luck_at_most((budget - shift) / scale)))

    def _luck_at_most(self, costs: NDArray[np.float64]) -> NDArray[np.float64]:
        reach = costs + 1e-9 * np.maximum(1.0, np.abs(costs))
        return self._cumulative[0][np.searchsorted(self.values, reach, side="right")]

    def quantile(self, chance: float) -> float:
        """The least cost that is not exceeded with this chance."""
        scale, shift = self._nodes
        low = float(np.min(scale * self.values[0] + shift))
        high = float(np.max(scale * self.values[-1] + shift))
        if self.price_sd == 0:
            place = int(np.searchsorted(self._cumulative[0][1:], chance - 1e-12))
            return float(self.values[min(place, len(self.values) - 1)])
        for _ in range(80):
            middle = (low + high) / 2
            if self.chance_at_most(middle) >= chance:
                high = middle
            else:
                low = middle
            if high - low <= 1e-10 * max(1.0, abs(high)):
                break
        return high

    def cells(self, count: int = DRAWN_CELLS) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The law on equal cells for drawing: upper edge and chance of each.

        The last cell holds everything dearer, one case in a thousand or less.
        """
        low, high = self.quantile(0.0), self.quantile(0.999)
        if high <= low:
            return np.array([low]), np.array([1.0])
        edges = np.linspace(low, high, count)
        upto = np.array([self.chance_at_most(float(edge)) for edge in edges])
        upto[-1] = 1.0
        return edges, np.diff(upto, prepend=0.0)

    def worst_mean(self, share: float = WORST_SHARE) -> float:
        """Mean of the worst share of outcomes; the atom at its edge is split.

        Source: Rockafellar & Uryasev (2002), Journal of Banking & Finance
            26:1443-1471, conditional value-at-risk of general laws.
        """
        edge = self.quantile(1.0 - share)
        scale, shift = self._nodes
        within = np.searchsorted(
            self.values, (edge - shift) / scale * (1 + 1e-12) + 1e-12, side="right"
        )
        below, spent_below = self._cumulative
        mass = below[-1] - below[within]
        beyond = scale * (spent_below[-1] - spent_below[within]) + shift * mass
        return float((np.mean(beyond) + edge * (share - np.mean(mass))) / share)

    def chance_below_price(self, price: float, *, log_sd: float) -> float:
        """The chance that the cost, luck included, is below a price.

        Args:
            price: The price to compare with.
            log_sd: Standard deviation of the logarithm of price over cost factor:
                what the two share must already have cancelled in it.
        """
        reach = price * np.exp(log_sd * normal_nodes())
        return float(np.mean(self._luck_at_most(reach)))
