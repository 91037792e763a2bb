"""What it is worth to look something up before deciding.

Making and buying differ by a saving that is unsure: normal with mean m and
standard deviation s. Whoever learns one of the things it hangs on, which alone
moves it by d, decides better in some cases, and gains on average

    d * L(|m| / d),    L(u) = phi(u) - u (1 - Phi(u)),

the unit normal loss integral. Knowing what cannot turn the answer is worth next
to nothing, however unsure it is.

Source: Raiffa & Schlaifer, Applied Statistical Decision Theory (Harvard 1961),
chapter 5, two acts with linear value and a normal prior.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from advisor.decide.craft import CraftAdvice
from advisor.decide.price_risk import basket_movements

_NORMAL = NormalDist()


@dataclass(frozen=True)
class WorthKnowing:
    """What knowing one thing exactly is worth before one decides.

    Attributes:
        what: "price of ITEM", "rate of MONEY" or "odds".
        worth: Money saved on average, >= 0.
    """

    what: str
    worth: float


def unit_normal_loss(u: float) -> float:
    """Mean excess of a standard normal over u.

    >>> round(unit_normal_loss(0.0), 4)
    0.3989
    """
    return _NORMAL.pdf(u) - u * (1.0 - _NORMAL.cdf(u))


def worth_of_knowing(lead: float, moves: float) -> float:
    """The gain from knowing a thing before choosing between two ways.

    Args:
        lead: Mean difference of the two ways, money, either sign.
        moves: How far the thing moves the difference: one standard deviation, >= 0.
    """
    if moves <= 0:
        return 0.0
    return moves * unit_normal_loss(abs(lead) / moves)


def find_worth_knowing(advice: CraftAdvice) -> list[WorthKnowing]:
    """What each thing that the answer hangs on is worth knowing, the most first."""
    if advice.best is None or advice.saving is None or advice.buy is None:
        return []
    bought = basket_movements({advice.buy.item: 1.0}, {advice.buy.item: advice.buy.belief})
    gap = bought.minus(advice.best.movements)
    moves = dict(gap.by_source) | {"odds": advice.best.option.odds_sd}
    worth = [
        WorthKnowing(what, worth_of_knowing(advice.saving, math.fabs(moved)))
        for what, moved in moves.items()
    ]
    return sorted((each for each in worth if each.worth > 0), key=lambda each: -each.worth)
