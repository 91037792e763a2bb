"""Supplies are bought for use: what could be bought only to sell it again is left out.

Where leftovers bring more than they cost, each unit more earns on paper, far beyond
any need, and the least mean cost is a speculation. Whoever asks for supplies did
not ask for that, and what leftovers bring is the least sure price of all. So no
more is bought then than covers the need in nearly all cases, whole lots; a larger
lot only where all of it costs no more money.
"""

from __future__ import annotations

import numpy as np

from advisor.decide.stock.later_days import LaterDays
from advisor.decide.stock.need import Floats, Ints
from advisor.decide.stock.supply_question import SupplyQuestion

NEARLY_ALL = 0.999
"""Needs that are covered where more would be bought only to resell: common practice, no source."""


def count_for_use(
    question: SupplyQuestion, later: LaterDays, *, quantities: Ints, totals: Floats
) -> int:
    """How many of the quantities, ascending, are for use: all, unless the best is to resell.

    Args:
        quantities: Units that could be bought today, ascending, shape (n,).
        totals: What each comes to in the end, on average, shape (n,).
    """
    best = int(quantities[int(np.argmin(totals))])
    ladder, offers = question.offers.ladder, question.offers
    enough = int(ladder.units_to_buy(question.need.quantile(NEARLY_ALL)))
    if best <= enough:
        return len(quantities)
    # a price list may give a larger lot for less money: the cheapest that is enough
    covering = np.append(enough, quantities[quantities > enough])
    paid = offers.cost_of(covering)
    limit = int(covering[int(np.argmin(paid))])
    extra = (float(offers.cost_of(np.array([best]))[0]) - float(paid.min())) * (
        1.0 + question.money_rate
    )
    if best <= limit or extra >= later.leftovers_bring(best - limit):
        return len(quantities)
    return int(np.searchsorted(quantities, limit, side="right"))
