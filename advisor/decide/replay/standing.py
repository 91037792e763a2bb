"""What really stood in the market on one day: what later days are settled on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

AS_MANY_AS_WANTED = 1e15
"""Units of an offer whose number was not said."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What stood of one item, in the workspace money.

    Attributes:
        asks: (unit price, units) of the asks last seen together, cheapest first, >= 1.
        bid: The highest bid of that day, before any fee; None: nobody bid.
        deal: The highest deal of that day; None: none was seen.
        is_fresh: Whether the asks were seen on that very day, not on one before.
    """

    asks: tuple[tuple[float, float], ...]
    bid: float | None = None
    deal: float | None = None
    is_fresh: bool = True

    @property
    def cheapest(self) -> float:
        """The lowest ask."""
        return self.asks[0][0]

    def cost_of(self, units: ArrayLike) -> Floats:
        """What these numbers of units cost: cheapest first, beyond the last at its price.

        >>> Standing(((2.0, 10.0), (3.0, 5.0))).cost_of([4.0, 12.0, 20.0])
        array([ 8., 26., 50.])
        """
        wanted = np.asarray(units, dtype=float)
        stops = np.cumsum([0.0, *(min(each, AS_MANY_AS_WANTED) for _, each in self.asks)])
        paid = np.concatenate(
            [[0.0], np.cumsum(np.diff(stops) * np.array([price for price, _ in self.asks]))]
        )
        beyond = np.maximum(wanted - stops[-1], 0.0) * self.asks[-1][0]
        walked: Floats = np.interp(wanted, stops, paid) + beyond
        return walked

    def unit_price(self, units: float) -> float:
        """What one unit costs on average when so many are bought, > 0."""
        return float(self.cost_of(units)) / units


MarketDay = Mapping[str, Standing]
"""What stood on one day, by item."""
