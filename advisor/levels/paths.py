"""The law of a price from today on: a random walk on the log scale with known drift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from advisor.levels.series import Floats

QUANTILES = (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99)
QUANTILE_KEYS = ("0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99")

_NORMAL = NormalDist()
_CELLS = 401
_CENTRAL_POINT = _NORMAL.inv_cdf(0.9)
_FAR_POINT = _NORMAL.inv_cdf(0.975)


def normal_quantile(chance: float) -> float:
    """The point a standard normal stays below with this chance."""
    return _NORMAL.inv_cdf(chance)


def normal_below(x: Floats) -> Floats:
    """Chance that a standard normal stays below each point."""
    from scipy.special import ndtr

    below: Floats = ndtr(x)
    return below


@dataclass(frozen=True, eq=False)
class PathLaw:
    """log price(d) = level now + drift(1) + ... + drift(d) + walk(d).

    The level now is a mixture of normals: the story the quotes tell, and its best
    rival. `start_log` and `start_sd` sum it up for those who need one normal.

    Attributes:
        part_log, part_sd, part_weight: shape (parts,), the level now.
        drift: shape (days,), expected log change in each coming day.
        day_sd: shape (days,), sd of the log change in each coming day, independent.
        far: shape (days + 1,), how much wider than a normal law the 95 % interval of the
            price so many days from now is, for the same 80 % interval; 1 for normal.
        quote_sd: How far one quote lies from the level, log scale.
    """

    part_log: Floats
    part_sd: Floats
    part_weight: Floats
    drift: Floats
    day_sd: Floats
    far: Floats
    quote_sd: float

    @property
    def start_log(self) -> float:
        """Log of the level now: its median."""
        return self.log_quantile(0.5, 0)

    @property
    def start_sd(self) -> float:
        """Standard deviation of the log level now."""
        middle = float(self.part_weight @ self.part_log)
        spread = self.part_sd**2 + (self.part_log - middle) ** 2
        return math.sqrt(float(self.part_weight @ spread))

    @property
    def horizon_days(self) -> int:
        """Days the law reaches; it stands still beyond."""
        return len(self.drift)

    def moved(self, by: float, *, extra_sd: float = 0.0) -> PathLaw:
        """The same law for a price at a log distance from this one."""
        sd = np.hypot(self.part_sd, extra_sd)
        return PathLaw(
            self.part_log + by,
            sd,
            self.part_weight,
            self.drift,
            self.day_sd,
            self.far,
            self.quote_sd,
        )

    def log_sd(self, days: int) -> float:
        """Standard deviation of the log level `days` from now."""
        return math.hypot(self.start_sd, self._walk_sd(days))

    def log_quantiles(
        self, chances: Sequence[float], days: int, *, of_quote: bool = False
    ) -> Floats:
        """Logs of what the level `days` from now stays below with each chance.

        With `of_quote`, of what one honest quote on that day stays below.
        """
        walk = math.hypot(self._walk_sd(days), self.quote_sd if of_quote else 0.0)
        sds = np.hypot(self.part_sd, walk)
        moved = self.part_log + float(np.sum(self.drift[:days]))
        far = float(self.far[min(days, len(self.far) - 1)])
        normal = np.array([normal_quantile(chance) for chance in chances])
        points = normal * far ** np.clip(_beyond_central(normal), -1.0, 2.0)
        if len(sds) == 1:
            single: Floats = moved[0] + sds[0] * points
            return single
        return _mixture_quantiles(moved, sds, points, normal=normal, weight=self.part_weight)

    def log_quantile(self, chance: float, days: int, *, of_quote: bool = False) -> float:
        """One of `log_quantiles`."""
        return float(self.log_quantiles([chance], days, of_quote=of_quote)[0])

    def quantile(self, chance: float, days: int, *, of_quote: bool = False) -> float:
        """The price that the level (or one honest quote) stays below with this chance."""
        return math.exp(self.log_quantile(chance, days, of_quote=of_quote))

    def chance_below(self, price: float, days: int) -> float:
        """Chance that the level is at or below `price` on some day from today to `days` on.

        The level is looked at once a day. Exact up to a grid on the log scale: the
        chance of still being above is carried from day to day. Beyond the law's
        horizon the level stands still.
        """
        if price <= 0:
            return 0.0
        bar = math.log(price)
        alive = [
            float(weight) * _chance_above(self, bar - float(log), sd=float(sd), days=days)
            for log, sd, weight in zip(self.part_log, self.part_sd, self.part_weight, strict=True)
            if weight > 0
        ]
        return min(max(1.0 - math.fsum(alive) / float(self.part_weight.sum()), 0.0), 1.0)

    def _walk_sd(self, days: int) -> float:
        return math.sqrt(float(np.sum(self.day_sd[:days] ** 2)))


def _beyond_central(normal: Floats) -> Floats:
    """How far a normal point lies on the way from the 80 % bound (0) to the 95 % bound (1)."""
    share: Floats = (np.abs(normal) - _CENTRAL_POINT) / (_FAR_POINT - _CENTRAL_POINT)
    return share


def _mixture_quantiles(
    middle: Floats, sds: Floats, points: Floats, *, normal: Floats, weight: Floats
) -> Floats:
    """Bisection between the parts' own quantiles, which enclose those of the mixture.

    Each part's normal law is stretched so that its own quantile lies at `points`.
    """
    stretch = np.where(normal == 0.0, 1.0, points / np.where(normal == 0.0, 1.0, normal))
    spreads = np.maximum(sds[:, None] * stretch, 1e-12)
    ends = middle[:, None] + spreads * normal
    low, high = ends.min(axis=0), ends.max(axis=0)
    goal = normal_below(normal)
    share = weight / weight.sum()
    for _ in range(48):
        at = 0.5 * (low + high)
        below = share @ normal_below((at - middle[:, None]) / spreads)
        low, high = np.where(below < goal, at, low), np.where(below < goal, high, at)
    middle_of_last: Floats = 0.5 * (low + high)
    return middle_of_last


def _chance_above(law: PathLaw, bar: float, *, sd: float, days: int) -> float:
    """Chance that a walk that starts at 0, give or take sd, stays above a bar for some days."""
    days = min(days, law.horizon_days)
    drift, day_sd = law.drift[:days], law.day_sd[:days]
    spread = math.hypot(sd, float(np.sqrt(np.sum(day_sd**2))))
    if spread <= 0:
        return float(np.min(np.cumsum(drift), initial=0.0) > bar)
    if sd <= 0 and bar >= 0:
        return 0.0
    top = max(bar, 0.0) + 8.0 * spread + float(np.sum(np.abs(drift)))
    edges = np.linspace(max(bar, -top), top, _CELLS + 1)
    width = edges[1] - edges[0]
    above = np.diff(normal_below(edges / max(sd, 0.2 * width)))
    offset = np.arange(-_CELLS, _CELLS) + 0.5
    for step_sd, step in zip(day_sd.tolist(), drift.tolist(), strict=True):
        narrow = max(step_sd, 0.2 * width)
        kernel = np.diff(normal_below((offset * width - step) / narrow))
        above = np.convolve(above, kernel)[_CELLS - 1 : 2 * _CELLS - 1]
    return float(above.sum())
