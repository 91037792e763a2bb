"""How many of one's own sell in a day, learned from what stood for sale and what of it went.

At the level, buyers come at a steady rate; at another ask a known share of them buys.
While something stands for sale, what is sold is then a Poisson count whose mean is the
rate times the time, each hour counted by that share. What is assumed beforehand is a
gamma law about a guess; own sales move it.

    rate ~ Gamma(worth, worth / guess),   rate | sold ~ Gamma(worth + sold, worth / guess + days)

Source: Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), section 2.6 (Poisson model
    parameterized in terms of rate and exposure).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

STANDS_DAYS = 7.0
"""A listing that was not looked at again is taken to stand so long, or until it is sold out."""


@dataclass(frozen=True, slots=True)
class Demand:
    """What is known of the number sold a day at the level.

    Attributes:
        a_day: Its mean.
        low_95, high_95: It lies between with a chance of 95 in 100.
        sold: Own units that it was learned from.
        days: Days that they stood, counted as if at the level.
        assumed: The guess beforehand.
        worth: Own sales that the guess counts as.
    """

    a_day: float
    low_95: float
    high_95: float
    sold: float
    days: float
    assumed: float
    worth: float


@dataclass(frozen=True, slots=True)
class Stood:
    """Units that stood for sale from a moment on.

    Attributes:
        day: When, in days from any moment.
        qty: Units; None where not known.
        share: Part of the buyers at the level who buy at this ask; above 1 where it is cheaper.
    """

    day: float
    qty: float | None
    share: float


def learn_demand(assumed: float, worth: float, *, sold: float, days: float) -> Demand:
    """The rate after own sales.

    Args:
        assumed: Units a day, guessed beforehand, > 0.
        worth: Own sales that the guess counts as, > 0.
        sold: Own units sold while they stood, >= 0.
        days: Days that they stood, counted as if at the level, >= 0.
    """
    from scipy.special import gammaincinv

    shape, rate = worth + sold, worth / assumed + days
    low, high = (float(gammaincinv(shape, share)) / rate for share in (0.025, 0.975))
    return Demand(shape / rate, low, high, sold, days, assumed, worth)


def count_sales(
    stood: Sequence[Stood], sales: Sequence[tuple[float, float]], *, until: float
) -> tuple[float, float]:
    """Units sold while own listings stood, and the days they stood, as if at the level.

    A listing stands until the next one, until so many were sold as stood, or a week.

    Args:
        stood: Own listings, oldest first; one that follows replaces the one before.
        sales: (day, units), oldest first; before any listing they do not count.
        until: The day of the answer.
    """
    sold = days = 0.0
    for place, each in enumerate(stood):
        following = stood[place + 1].day if place + 1 < len(stood) else until
        end, left = min(following, each.day + STANDS_DAYS, until), each.qty
        for day, units in sales:
            if not each.day < day <= end:
                continue
            sold += units if left is None else min(units, left)
            if left is not None:
                left -= units
                if left <= 0:
                    end = day
                    break
        days += each.share * max(end - each.day, 0.0)
    return sold, days


def count_gaps(sales: Sequence[tuple[float, float, float]]) -> tuple[float, float]:
    """Units sold after the first sale, and the days from it to the last, as if at the level.

    For sales of which it is not known since when they stood: some are taken to have stood
    all the while. The first sale only starts the clock; after the last nothing is known.

    Args:
        sales: (day, units, share of the buyers at the level who buy at its price), oldest first.
    """
    sold = days = 0.0
    for before, after in pairwise(sales):
        sold += after[1]
        days += after[2] * (after[0] - before[0])
    return sold, days
