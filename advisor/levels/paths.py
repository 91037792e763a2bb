"""The law of a price from today on: a random walk on the log scale with known drift."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from advisor.levels.series import Floats

QUANTILES = (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99)
QUANTILE_KEYS = ("0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99")

_NORMAL = NormalDist()
_CELLS = 401


@dataclass(frozen=True, eq=False)
class PathLaw:
    """log price(d) = start_log + drift(1) + ... + drift(d) + start noise + walk(d).

    Attributes:
        start_log: Log of the level now.
        start_sd: How unsure the level now is, log scale; one draw for the whole path.
        drift: shape (days,), expected log change in each coming day.
        day_sd: shape (days,), sd of the log change in each coming day, independent.
        quote_sd: How far one quote lies from the level, log scale.
    """

    start_log: float
    start_sd: float
    drift: Floats
    day_sd: Floats
    quote_sd: float

    def log_law(self, days: int) -> tuple[float, float]:
        """Mean and sd of the log price `days` from now."""
        variance = self.start_sd**2 + float(np.sum(self.day_sd[:days] ** 2))
        return self.start_log + float(np.sum(self.drift[:days])), math.sqrt(variance)

    def chance_below(self, price: float, days: int) -> float:
        """Chance that the price is at or below `price` on some day from today to `days` on.

        The price is looked at once a day. Exact up to a grid on the log scale:
        the chance of still being above is carried from day to day.
        """
        if price <= 0:
            return 0.0
        bar = math.log(price) - self.start_log
        if self.start_sd <= 0 and bar >= 0:
            return 1.0
        _, spread = self.log_law(days)
        if spread <= 0:
            return 1.0 if np.min(np.cumsum(self.drift[:days]), initial=0.0) <= bar else 0.0
        top = max(bar, 0.0) + 8.0 * spread + float(np.sum(np.abs(self.drift[:days])))
        return _chance_crossed(self, bar, days=days, top=top)


def _chance_crossed(law: PathLaw, bar: float, *, days: int, top: float) -> float:
    edges = np.linspace(bar, top, _CELLS + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    width = edges[1] - edges[0]
    if law.start_sd > 0:
        above = np.diff(_normal_below(edges / law.start_sd))
    else:
        above = np.zeros(_CELLS)
        above[min(max(int((0.0 - bar) / width), 0), _CELLS - 1)] = 1.0
    for day in range(min(days, len(law.drift))):
        sd, drift = float(law.day_sd[day]), float(law.drift[day])
        sd = max(sd, 0.2 * width)
        reach = edges[None, :] - middle[:, None] - drift
        above = above @ np.diff(_normal_below(reach / sd), axis=1)
    return float(min(max(1.0 - above.sum(), 0.0), 1.0))


def normal_quantile(chance: float) -> float:
    """The point a standard normal stays below with this chance."""
    return _NORMAL.inv_cdf(chance)


def _normal_below(x: Floats) -> Floats:
    from scipy.special import ndtr

    below: Floats = ndtr(x)
    return below
