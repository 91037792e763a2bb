"""Items that are made rather than bought: each unit used is one draw from its own law."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np

from advisor.routes.total_law import CostDistribution

WHOLE = 1e-9


@dataclass(frozen=True)
class MadeItems:
    """What one unit of each made item costs, and how many units each outcome uses.

    Attributes:
        laws: Item index -> law of one unit's cost, each with some spread.
        units: Item index -> units used by each outcome of the route, shape (k,).
    """

    laws: dict[int, CostDistribution]
    units: dict[int, np.ndarray]

    def own_variance(self, outcome_count: int) -> np.ndarray | None:
        """Variance of each outcome's amount, shape (k,); None where nothing is made."""
        if not self.laws:
            return None
        total = np.zeros(outcome_count)
        for item, law in self.laws.items():
            whole = np.floor(self.units[item] + WHOLE)
            total += law.sd**2 * (whole + (self.units[item] - whole) ** 2)
        return total


def split_units(units: float) -> tuple[int, float]:
    """Whole units, each a draw of its own, and the part of one more draw."""
    whole = floor(units + WHOLE)
    part = units - whole
    return whole, part if part > WHOLE else 0.0
