"""Which prices customers accept, learned from one's own offers that were taken or declined.

A customer takes an offer if its price is no higher than the most they would pay. On
the log scale that most has a logistic law about a middle, `middle` above the going
rate, of scale `scale`. Before any offer the middle lies as far from the going rate as
single asks do, and the scale is theirs, give or take a factor of about two. Every offer
taken or declined moves both; the chance that a price wins is the mean over all that is
still possible.

Source: logit choice as in Li & Huh (2011), Manufacturing & Service Operations
    Management 13:546-563; the posterior on a grid as in Gelman et al., Bayesian Data
    Analysis, 3rd ed. (2013), section 3.7 (a logistic dose-response curve).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOGISTIC_SD = math.pi / math.sqrt(3.0)
"""Standard deviation of a logistic law of scale 1."""

SCALE_LOG_SD = 0.7
"""How unsure the scale is beforehand: two standard deviations are a factor of four."""

MIDDLES, SCALES = 61, 15
REACH = 4.5
REFINED = 2
LEAST_LOG_SD = 0.02


@dataclass(frozen=True, slots=True)
class OwnOffer:
    """One offer that a customer took or declined.

    Attributes:
        log_above: Log of what the customer would have paid for a piece over the going
            rate of that time.
        taken: Whether they took it.
    """

    log_above: float
    taken: bool


@dataclass(frozen=True, eq=False)
class Customers:
    """What is known of the customers.

    Attributes:
        middle, scale: Possible values, shape (cells,).
        weight: Probability of each, shape (cells,), summing to 1.
        offers: The offers that it was learned from.
    """

    middle: Floats
    scale: Floats
    weight: Floats
    offers: tuple[OwnOffer, ...]

    def accept(self, log_above: Floats) -> Floats:
        """Chance that a customer takes a price so far above the going rate, log scale."""
        chances = _taken(log_above, self.middle, self.scale)
        mean: Floats = chances @ self.weight
        return mean

    def share_of_middles(self, share: float) -> float:
        """The quantile of the price that half the customers accept, over the going rate, log."""
        order = np.argsort(self.middle, kind="stable")
        below = np.cumsum(self.weight[order])
        return float(self.middle[order][int(np.searchsorted(below, share))])

    @cached_property
    def mean_middle(self) -> float:
        """Its mean."""
        return float(self.middle @ self.weight)

    @property
    def taken(self) -> int:
        """How many offers were taken."""
        return sum(each.taken for each in self.offers)


def learn_customers(
    offers: Sequence[OwnOffer], *, ask_log_sd: float, level_log_sd: float
) -> Customers:
    """What own offers tell of the customers.

    Args:
        offers: Taken and declined, in any order; none leaves what is assumed beforehand.
        ask_log_sd: Spread of single asks about the going rate, log scale, > 0.
        level_log_sd: How unsure the going rate itself is, likewise.
    """
    scale = math.log(max(ask_log_sd, LEAST_LOG_SD) / LOGISTIC_SD)
    before = ((0.0, max(math.hypot(ask_log_sd, level_log_sd), LEAST_LOG_SD)), (scale, SCALE_LOG_SD))
    known = _weigh_cells(offers, before, over=before)
    for _ in range(REFINED if offers else 0):  # again where the weight lies
        known = _weigh_cells(offers, before, over=_spreads(known))
    return known


Spreads = tuple[tuple[float, float], tuple[float, float]]
"""Mean and standard deviation of the middle, and of the log of the scale."""


def _weigh_cells(offers: Sequence[OwnOffer], before: Spreads, *, over: Spreads) -> Customers:
    """The posterior on a grid that reaches so far about each mean."""
    (middle_mean, middle_sd), (scale_mean, scale_sd) = over
    middle, log_scale = (
        each.ravel()
        for each in np.meshgrid(
            middle_mean + middle_sd * np.linspace(-REACH, REACH, MIDDLES),
            scale_mean + scale_sd * np.linspace(-REACH, REACH, SCALES),
        )
    )
    scale = np.exp(log_scale)
    log_weight = -0.5 * ((middle - before[0][0]) / before[0][1]) ** 2
    log_weight -= 0.5 * ((log_scale - before[1][0]) / before[1][1]) ** 2
    for each in offers:
        taken = _taken(np.array([each.log_above]), middle, scale)[0]
        log_weight += np.log(np.maximum(taken if each.taken else 1.0 - taken, 1e-300))
    weight = np.exp(log_weight - log_weight.max())
    return Customers(middle, scale, weight / weight.sum(), tuple(offers))


def _spreads(known: Customers) -> Spreads:
    means, sds = [], []
    for values in (known.middle, np.log(known.scale)):
        mean = float(values @ known.weight)
        means.append(mean)
        sds.append(max(math.sqrt(float((values - mean) ** 2 @ known.weight)), 1e-4))
    return (means[0], sds[0]), (means[1], sds[1])


def _taken(log_above: Floats, middle: Floats, scale: Floats) -> Floats:
    """Chance that each price is taken at each middle and scale, shape (prices, cells)."""
    above = (log_above[:, None] - middle) / scale
    chance: Floats = 1.0 / (1.0 + np.exp(np.clip(above, -700.0, 700.0)))
    return chance
