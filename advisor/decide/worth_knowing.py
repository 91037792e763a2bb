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
from collections.abc import Mapping
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
        one_more: The same for no more than one further quote; None where quotes do not tell.
    """

    what: str
    worth: float
    one_more: float | None = None


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


def share_learned(doubt_sd: float, noise_sd: float) -> float:
    """How far one look moves what is believed: sd of the new mean, as a share of the doubt.

    Args:
        doubt_sd: Standard deviation of the price as it is known now, log scale.
        noise_sd: How far a look lies from the price, log scale.
    Source: normal process, known variance, Raiffa & Schlaifer (1961), section 11.4.

    >>> share_learned(0.3, 0.4)
    0.6
    """
    both = math.hypot(doubt_sd, noise_sd)
    return doubt_sd / both if both > 0 else 0.0


def find_worth_knowing(
    advice: CraftAdvice, one_more: Mapping[str, float] | None = None
) -> list[WorthKnowing]:
    """What each thing that the answer hangs on is worth knowing, the most first.

    Args:
        advice: The answer.
        one_more: For prices, by "price of ITEM": what `share_learned` says of one quote.
    """
    if advice.best is None or advice.saving is None or advice.buy is None:
        return []
    bought = basket_movements({advice.buy.item: 1.0}, {advice.buy.item: advice.buy.belief})
    gap = bought.minus(advice.best.movements)
    moves = dict(gap.by_source) | {"odds": advice.best.option.odds_sd}
    shares, saving = one_more or {}, advice.saving
    worth = [
        WorthKnowing(
            what,
            worth_of_knowing(saving, math.fabs(moved)),
            worth_of_knowing(saving, shares[what] * math.fabs(moved)) if what in shares else None,
        )
        for what, moved in moves.items()
    ]
    return sorted((each for each in worth if each.worth > 0), key=lambda each: -each.worth)
