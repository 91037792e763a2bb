"""What will be seen of a price on each coming day, and how much each look tells.

The level is a random walk on the log scale, unsure at the start; one look a day
sees it through noise. With P the variance of the log level before the look and
R that of the noise, the look lies about the expected level with variance P + R,
and the expected log level then moves by K = P / (P + R) of the surprise.

Source: the local level model, Durbin & Koopman, Time Series Analysis by State
    Space Methods, 2nd ed. (Oxford 2012), section 2.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from advisor.decide.cost_law import normal_nodes
from advisor.decide.stock.need import Floats

LOOK_NODES = 21


class PriceWalk(Protocol):
    """A price from today on: a random walk on the log scale (`advisor.levels.paths`)."""

    @property
    def start_log(self) -> float:
        """Log of the level now."""

    @property
    def start_sd(self) -> float:
        """How unsure that is."""

    @property
    def drift(self) -> Floats:
        """Expected log change in each coming day."""

    @property
    def day_sd(self) -> Floats:
        """Standard deviation of the log change in each coming day."""

    @property
    def quote_sd(self) -> float:
        """How far a look lies from the level, log scale."""


@dataclass(frozen=True, slots=True)
class DayLook:
    """The look of one coming day.

    Attributes:
        middle: The level expected for that day as seen today, its median, money.
        level_var: Variance of the log level before the look, given the looks before.
        sd: Standard deviation of the log of the price seen, before the look.
        learn: K, the share of the surprise by which the expectation moves.
        growth: Factor from the level expected the day before to this day's.
    """

    middle: float
    level_var: float
    sd: float
    learn: float
    growth: float

    @property
    def prices(self) -> Floats:
        """Equally likely prices, in units of the expected level."""
        if self.sd == 0:
            return np.ones(1)
        prices: Floats = np.exp(self.sd * normal_nodes(LOOK_NODES))
        return prices

    @property
    def odds(self) -> Floats:
        """Their chances."""
        count = len(self.prices)
        return np.full(count, 1.0 / count)

    @property
    def mean_price(self) -> float:
        """Mean of the price seen, in units of the expected level."""
        return float(self.odds @ self.prices)

    @property
    def mean_level(self) -> float:
        """Mean of the level itself, in units of the expected level."""
        return math.exp(0.5 * self.level_var)


def look_ahead(walk: PriceWalk, days: int) -> list[DayLook]:
    """The looks of the days 1 .. `days` from now; beyond its law the level stands still."""
    looks: list[DayLook] = []
    log, level_var, noise_var = walk.start_log, walk.start_sd**2, walk.quote_sd**2
    for day in range(days):
        known = day < len(walk.drift)
        drift = float(walk.drift[day]) if known else 0.0
        level_var += float(walk.day_sd[day]) ** 2 if known else 0.0
        log += drift
        seen_var = level_var + noise_var
        learn = level_var / seen_var if seen_var > 0 else 0.0
        looks.append(DayLook(math.exp(log), level_var, math.sqrt(seen_var), learn, math.exp(drift)))
        level_var *= 1.0 - learn
    return looks
