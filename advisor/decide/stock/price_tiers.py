"""Lower prices for larger lots: for all units of the lot, or for the units beyond a break.

All units: a lot of q costs q times the price of the tier that q falls in.
Incremental: each unit costs the price of the tier that it falls in itself.

Source: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019),
    section 3.4, equations (3.22) and (3.26).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.need import Floats
from advisor.errors import BadInput

LARGEST_LOT = 1_000_000


@dataclass(frozen=True, eq=False)
class PriceTiers:
    """A price list for lots.

    Attributes:
        breaks: The least lot of each tier, ascending; the first is the least lot sold.
        prices: Money per unit in each tier, > 0.
        incremental: Whether a price holds only for the units beyond its break.
    """

    breaks: Floats
    prices: Floats
    incremental: bool = False

    def cost_of(self, units: Floats) -> Floats:
        """What lots of these sizes cost; infinite where the lot is under the least, 0 for none.

        >>> PriceTiers(np.array([0.0, 10.0]), np.array([3.0, 2.0])).cost_of(np.array([9.0, 10.0]))
        array([27., 20.])
        """
        units = np.asarray(units, dtype=float)
        tier = np.searchsorted(self.breaks, units, side="right") - 1
        at = np.maximum(tier, 0)
        if self.incremental:
            spans = np.diff(self.breaks)
            below = np.concatenate(([0.0], np.cumsum(spans * self.prices[:-1])))
            # the units under the least lot are paid at the first price as well
            paid = self.breaks[0] * self.prices[0] + below[at]
            cost = paid + (units - self.breaks[at]) * self.prices[at]
        else:
            cost = units * self.prices[at]
        return np.where(units == 0, 0.0, np.where(tier < 0, np.inf, cost))


def make_tiers(
    steps: Sequence[tuple[float, float]], *, incremental: bool = False, item: str | None = None
) -> PriceTiers:
    """Tiers from (least lot, price per unit), in any order.

    Raises: BadInput: no tier, a lot or price that is not above zero, two prices for one lot.
    """
    ordered = sorted(steps)
    if not ordered:
        raise BadInput("no price tier", right="write ITEM=LOT:PRICE", item=item)
    breaks, prices = (np.array(column, dtype=float) for column in zip(*ordered, strict=True))
    sound = np.all(np.isfinite(breaks)) and np.all(breaks >= 0)
    if not (sound and np.all(np.isfinite(prices)) and np.all(prices > 0)):
        raise BadInput("a tier needs a lot and a price above 0", right="such as 60:2.2", item=item)
    if breaks.max() > LARGEST_LOT:
        right = f"up to {LARGEST_LOT} units"
        raise BadInput(f"a lot of {breaks.max():g} is out of range", right=right, item=item)
    if np.any(np.diff(breaks) == 0):
        twice = breaks[np.flatnonzero(np.diff(breaks) == 0)[0]]
        raise BadInput(f"two prices for a lot of {twice:g}", item=item)
    return PriceTiers(breaks, prices, incremental)
