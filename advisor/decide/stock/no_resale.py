"""Supplies are bought for use: what would be bought mainly to sell it again is left out.

Where leftovers bring as much as they cost or more, each unit more earns on paper, far
beyond the need, and the least mean cost is a speculation. Whoever asks for supplies
did not ask for that, and what leftovers bring is the least sure price of all. So the
quantity is chosen as if leftovers brought at most a little less than they cost; there
the newsvendor's overage is never nothing, and the need decides. A larger lot than covers
the need in nearly all cases is for use only where all of it costs no more money.
"""

from __future__ import annotations

import numpy as np

from advisor.decide.stock.later_days import LaterDays
from advisor.decide.stock.need import Floats, Ints
from advisor.decide.stock.supply_question import SupplyQuestion

NEARLY_ALL = 0.999
"""Cases that the greatest quantity covers where leftovers pay: common practice, no source."""

LOST_RESELLING = 0.05
"""Share of its cost that what is resold loses at least: a usual fee; common practice, no source."""


def count_for_use(
    question: SupplyQuestion, later: LaterDays, *, quantities: Ints, totals: Floats
) -> int:
    """How many of the quantities, ascending, are for use; the last of them is then the best.

    All of them where the best is not one to resell.

    Args:
        quantities: Units that could be bought today, ascending, shape (n,).
        totals: What each comes to in the end, on average, shape (n,).
    """
    best, gains = int(np.argmin(totals)), _gain_by_reselling(question, later, quantities)
    if gains[best] <= 0:
        return len(quantities)
    up_to = int(np.searchsorted(quantities, _most_for_use(question, quantities), side="right"))
    for_use = int(np.argmin((totals + gains)[:up_to]))
    return len(quantities) if for_use >= best else for_use + 1


def _most_for_use(question: SupplyQuestion, quantities: Ints) -> int:
    """Enough in nearly all cases, or the larger lot that costs less than that."""
    enough = int(question.offers.ladder.units_to_buy(question.need.quantile(NEARLY_ALL)))
    covering = np.append(enough, quantities[quantities > enough])
    return int(covering[int(np.argmin(question.offers.cost_of(covering)))])


def _gain_by_reselling(question: SupplyQuestion, later: LaterDays, quantities: Ints) -> Floats:
    """Mean money by which leftovers bring more than is counted, shape (n,)."""
    counted = question.offers.cost_of(quantities) / np.maximum(quantities, 1)
    counted *= (1.0 + question.money_rate) * (1.0 - LOST_RESELLING)
    brought = later.leftovers_bring(int(quantities.max()))
    gains, pmf = np.zeros(len(quantities)), question.need.pmf
    if len(brought) == 1:
        return gains
    for place in np.flatnonzero(counted < brought[1]).tolist():
        held = int(quantities[place])
        left = held - np.arange(min(held, question.need.most) + 1)
        gain = np.maximum(brought[left] - counted[place] * left, 0.0)
        gains[place] = float(pmf[: len(left)] @ gain)
    return gains
