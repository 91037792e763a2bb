"""What to bid in a wanted post, and how likely it is filled in time.

Sellers come by at random, so many a day; each has a least price and one usual
lot to sell, and sells when the bid is not below that price. So the lots sold to
the post within some days follow a Poisson law, thinned by the share of sellers
who accept. What is not sold to it in time is bought at the asking price then.

How often sellers come is read from how fast asks vanish between two looks: in a
steady market as many come as go. Their least prices are taken to lie about the
middle of bid and ask: half the sellers who ask a price also sell at the middle.

Source: thinning of a Poisson process, Ross, Introduction to Probability Models,
    11th ed. (Academic Press 2014), proposition 5.2; the middle as the sellers'
    median is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from advisor.decide.stock.need import Floats, Ints
from advisor.levels.ladders import group_quotes
from advisor.quotes import MICROSECONDS_A_DAY

SELLERS_A_DAY = 1.0
"""Sellers who come by in a day where nothing tells."""

FEWEST_OFFERS_WATCHED = 8
"""Asks that must have been looked for a second time before their vanishing tells anything."""

PLAIN_HALF_WIDTH = 0.08
"""Log distance from the sellers' middle price to the asking price where nobody bids."""

FASTEST_VANISHING = 1.0
"""How often a day one ask vanishes at most: looks that share no ask tell no more than this."""

BIDS_TRIED = 61


@dataclass(frozen=True, slots=True)
class SellerFlow:
    """Who sells to a wanted post.

    Attributes:
        a_day: Sellers who come by in a day.
        lot: Units that each of them sells.
        middle: The price that half of them accept, money a unit, no fee taken off.
        log_sd: Spread of their least prices, log scale, > 0.
        assumptions: What is assumed rather than seen, in sentences without the item.
    """

    a_day: float
    lot: float
    middle: float
    log_sd: float
    assumptions: tuple[str, ...] = ()

    def lots_expected(self, price: ArrayLike, days: float) -> Floats:
        """Mean number of lots offered at or under each price within some days."""
        from scipy.special import ndtr

        bids = np.maximum(np.asarray(price, dtype=float), 1e-300)
        lots: Floats = self.a_day * days * ndtr(np.log(bids / self.middle) / self.log_sd)
        return lots

    def chance_filled(self, price: ArrayLike, units: float, *, days: float) -> Floats:
        """Chance that all the units are sold to the post in time, for each price."""
        return _chance_of_at_least(
            math.ceil(units / self.lot - 1e-9), self.lots_expected(price, days)
        )

    def share_filled(self, price: ArrayLike, units: float, *, days: float) -> Floats:
        """Mean share of the units that is sold to the post in time, for each price."""
        mean = self.lots_expected(price, days)
        whole = math.ceil(units / self.lot - 1e-9) - 1
        last = units - whole * self.lot
        # whole lots sold, min(N, whole), have the mean m P(N <= whole - 2) + whole P(N >= whole)
        lots = mean * (1.0 - _chance_of_at_least(whole - 1, mean))
        lots += whole * _chance_of_at_least(whole, mean)
        sold: Floats = self.lot * lots + last * _chance_of_at_least(whole + 1, mean)
        return sold / units


def _chance_of_at_least(lots: int, mean: Floats) -> Floats:
    """Chance that a Poisson number is `lots` or more."""
    from scipy.special import pdtrc

    chance: Floats = np.ones_like(mean) if lots <= 0 else pdtrc(lots - 1, mean)
    return chance


@dataclass(frozen=True, slots=True)
class WantedOffer:
    """A bid: price a unit, for how many, by when, how likely, and what a unit then costs."""

    price: float
    units: int
    days: int
    chance_within: float
    mean_unit_cost: float


def best_offer(flow: SellerFlow, units: int, *, days: int, otherwise: float) -> WantedOffer | None:
    """The bid of least mean unit cost, where what is not sold to it costs `otherwise`.

    Returns: None where no units are wanted or nothing beats `otherwise`.
    """
    if units <= 0 or otherwise <= 0:
        return None
    top = min(math.log(otherwise), math.log(flow.middle) + 2.5 * flow.log_sd)
    bottom = min(math.log(flow.middle) - 2.5 * flow.log_sd, top - flow.log_sd)
    bids = np.exp(np.linspace(bottom, top, BIDS_TRIED))
    shares = flow.share_filled(bids, units, days=days)
    costs = shares * bids + (1.0 - shares) * otherwise
    best = int(np.argmin(costs))
    if costs[best] >= otherwise * (1 - 1e-6):
        return None
    bid = float(bids[best])
    chance = float(flow.chance_filled(bid, units, days=days))
    return WantedOffer(bid, units, days, chance, float(costs[best]))


def find_sellers(
    *,
    ask: float,
    bid: float | None,
    quote_sd: float,
    turnover: float | None,
    lot: float,
) -> SellerFlow:
    """Who would sell to a post, from levels and from how fast asks vanish.

    Args:
        ask: The asking level, money a unit.
        bid: What bids stand at, before any fee; None: nobody bids.
        quote_sd: Spread of single asks about the level, log scale.
        turnover: Asks that vanish in a day; None where too few were watched.
        lot: Units of a usual offer.
    """
    assumed = []
    if bid is not None and bid < ask:
        half = 0.5 * math.log(ask / bid)
    else:
        half = PLAIN_HALF_WIDTH
        assumed.append(
            f"nobody is seen bidding under the asks, so half the sellers are taken to accept "
            f"{100 * (1 - math.exp(-half)):.0f} % under them"
        )
    if turnover is None:
        assumed.append("too few asks were watched vanishing, so one seller a day is taken")
    return SellerFlow(
        a_day=SELLERS_A_DAY if turnover is None else turnover,
        lot=max(lot, 1.0),
        middle=ask * math.exp(-half),
        log_sd=max(half, quote_sd, 0.02),
        assumptions=tuple(assumed),
    )


def asks_vanishing_a_day(at_us: Ints, price: Floats, *, qty: Floats, trader: Ints) -> float | None:
    """How many asks of one item vanish in a day, from looks at its asks one after the other.

    An ask is the same one in the next look if trader and price are (where the
    trader is not known: price and quantity). Each ask vanishes at one constant
    rate; the likeliest rate times the asks that stand is the answer.

    Args:
        at_us: Times, ascending, shape (asks,); the other columns likewise.
    Returns: None where fewer than `FEWEST_OFFERS_WATCHED` were looked for again.
    """
    look = group_quotes(np.zeros(len(at_us), dtype=np.int64), at_us)
    standing: list[set[tuple[float, ...]]] = [
        set() for _ in range(int(look[-1]) + 1 if len(look) else 0)
    ]
    for row, number in enumerate(look.tolist()):
        known = float(trader[row]) if trader[row] >= 0 else -1.0 - float(np.nan_to_num(qty[row]))
        standing[number].add((known, float(price[row])))
    last_us = [int(at_us[look == number].max()) for number in range(len(standing))]
    gaps, stayed = [], []
    for number, (now, after) in enumerate(pairwise(standing)):
        gap = (last_us[number + 1] - last_us[number]) / MICROSECONDS_A_DAY
        gaps += [gap] * len(now)
        stayed += [each in after for each in now]
    if len(gaps) < FEWEST_OFFERS_WATCHED:
        return None
    rate = _likeliest_rate(gaps, stayed)
    return rate * float(np.mean([len(each) for each in standing]))


def _likeliest_rate(gaps: Sequence[float], stayed: Sequence[bool]) -> float:
    """The rate at which an ask vanishes that makes what was seen likeliest.

    Source: maximum likelihood of an exponential lifetime looked at in intervals;
        the derivative falls in the rate, so bisection finds its root.
    """
    gap, kept = np.asarray(gaps, dtype=float), np.asarray(stayed, dtype=bool)
    if kept.all():
        return 0.0
    low, high = 1e-6, FASTEST_VANISHING
    for _ in range(60):
        rate = math.sqrt(low * high)
        gone = gap[~kept]
        slope = float(np.sum(gone / np.expm1(np.minimum(rate * gone, 700.0)))) - float(
            gap[kept].sum()
        )
        low, high = (rate, high) if slope > 0 else (low, rate)
    return math.sqrt(low * high)
