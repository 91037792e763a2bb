"""What one should be paid for carrying a cost that luck decides: mean plus a loading.

`caution` sets how much of the tail is loaded. With 0 every principle asks the
mean; with 1 the first asks the mean of the worst 5 % of cases. The other two
are put on the same scale: the standard deviation principle adds what the worst
5 % of a *normal* cost lie above its mean, and the exponential principle takes
the risk aversion under which *one* order bears the same loading as under the
first. So the principles agree where they can, and differ in how the loading of
many orders grows: less than in proportion for the first two, in proportion for
the exponential one, which adds up over independent orders.

Source: Kaas, Goovaerts, Dhaene & Denuit, Modern Actuarial Risk Theory, 2nd ed.
    (Springer 2008), chapter 5; Bowers, Gerber, Hickman, Jones & Nesbitt, Actuarial
    Mathematics, 2nd ed. (1997), section 1.3, for the exponential principle.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from advisor.errors import CannotAnswer, WrongUse
from advisor.routes.total_law import CostDistribution

PRINCIPLES = ("worst", "sd", "exponential")
WORST_SHARE = 0.05
NORMAL_WORST = 2.062712807507
"""How many standard deviations the worst 5 % of a normal law lie above its mean, on average:
phi(z) / 0.05 at z = 1.644854 (Rockafellar & Uryasev 2000)."""

Laws = Callable[[int], CostDistribution]
"""The law of the cost of so many orders together."""

Premium = Callable[[Laws, int], float]
"""What one must be paid to carry the cost of so many orders together."""


def find_premium(principle: str, caution: float, one_order: CostDistribution) -> Premium:
    """The rule by which a cost is charged.

    Args:
        principle: "worst", "sd" or "exponential".
        caution: 0 asks the mean, 1 the most.
        one_order: The law of one order, which sets the scale of the exponential principle.
    Raises: WrongUse: another principle, or a caution outside 0 to 1.
    """
    if principle not in PRINCIPLES:
        raise WrongUse(
            f"--principle {principle!r} is unknown", right=f"one of {', '.join(PRINCIPLES)}"
        )
    if not 0 <= caution <= 1:
        raise WrongUse(f"--caution {caution:g} is out of range", right="0 to 1")
    if caution == 0 or principle == "worst":
        return lambda laws, orders: worst_premium(laws(orders), caution)
    if principle == "sd":
        return lambda laws, orders: sd_premium(laws(orders), caution)
    aversion = _aversion_for(one_order, worst_premium(one_order, caution))
    # it adds up over independent orders, so only the law of one is needed
    return lambda laws, orders: orders * exponential_premium(laws(1), aversion)


def worst_premium(law: CostDistribution, caution: float) -> float:
    """(1 - caution) times the mean plus caution times the mean of the worst 5 %."""
    if caution == 0:
        return law.mean
    return (1.0 - caution) * law.mean + caution * law.shortfall(1.0 - WORST_SHARE)


def sd_premium(law: CostDistribution, caution: float) -> float:
    """The mean plus caution times the loading of a normal law's worst 5 %.

    Raises: CannotAnswer: the standard deviation does not exist.
    """
    if not math.isfinite(law.sd):
        raise CannotAnswer(
            "the cost has no standard deviation, for its odds are hardly known",
            right="say --principle worst",
        )
    return law.mean + caution * NORMAL_WORST * law.sd


def exponential_premium(law: CostDistribution, aversion: float) -> float:
    """The sure amount that one minds as much as the cost: log E exp(a C) / a.

    Args:
        aversion: Risk aversion, one over money; 0 asks the mean. [a]
    """
    if aversion == 0:
        return law.mean
    powers = aversion * (law.values - law.mean)
    top = float(powers.max())
    return law.mean + (top + math.log(float(np.exp(powers - top) @ law.pmf))) / aversion


def _aversion_for(law: CostDistribution, premium: float) -> float:
    """The risk aversion under which the exponential principle asks this premium."""
    if law.sd == 0 or premium <= law.mean:
        return 0.0
    low, high = 0.0, 1.0 / law.sd
    while exponential_premium(law, high) < premium and high < 1e6 / law.sd:
        low, high = high, 2 * high
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if exponential_premium(law, middle) < premium else (low, middle)
    return (low + high) / 2
