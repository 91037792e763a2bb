"""The law of a total: mean, spread, quantiles, the bad night, chances, and sums of many."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, sqrt

import numpy as np

CELLS_AT_MOST = 2**20
SURE = 1e-12
TAIL = 2e-10
BLOCKS = 8192


@dataclass(frozen=True)
class CostDistribution:
    """A total's law on equally spaced values.

    Attributes:
        low: The least value.
        step: Distance between neighbouring values, > 0.
        pmf: Probability of each value, shape (cells,), summing to 1.
        mean: Exact mean, not read off the lattice.
        sd: Exact standard deviation, likewise.
        mass_left: At most this much probability belongs beyond the values.
        rounding_sd: Spread that putting the amounts on the lattice has added; 0 where they fit.
    """

    low: float
    step: float
    pmf: np.ndarray
    mean: float
    sd: float
    mass_left: float = 0.0
    rounding_sd: float = 0.0

    @classmethod
    def certain(cls, amount: float) -> CostDistribution:
        """The law of an amount without luck."""
        return cls(amount, 1.0, np.ones(1), amount, 0.0)

    @cached_property
    def values(self) -> np.ndarray:
        """The values, ascending, shape (cells,)."""
        return self.low + self.step * np.arange(len(self.pmf))

    @cached_property
    def _cumulated(self) -> np.ndarray:
        return np.cumsum(self.pmf)

    def quantile(self, share: float) -> float:
        """The least value x with P(total <= x) >= share."""
        cell = int(np.searchsorted(self._cumulated, share - SURE))
        return float(self.values[min(cell, len(self.pmf) - 1)])

    def chance_within(self, budget: float) -> float:
        """P(total <= budget)."""
        cells = floor((budget - self.low) / self.step + 1e-9) + 1
        if cells <= 0:
            return 0.0
        return 1.0 if cells >= len(self.pmf) else float(min(1.0, self._cumulated[cells - 1]))

    def shortfall(self, share: float) -> float:
        """Mean of the worst 1 - share of the probability; a value on the border counts in part.

        Source: expected shortfall for laws with atoms, Acerbi & Tasche, Journal of
        Banking & Finance 26 (2002) 1487-1503, definition 2.6.
        """
        cell = min(int(np.searchsorted(self._cumulated, share - SURE)), len(self.pmf) - 1)
        beyond = self.pmf[cell + 1 :]
        border = max(0.0, (1.0 - share) - float(beyond.sum()))
        total = float(np.sum(beyond * self.values[cell + 1 :])) + border * float(self.values[cell])
        return total / (1.0 - share)

    def n_fold(self, count: int) -> CostDistribution:
        """The law of the sum of `count` independent totals of this law."""
        if count == 1 or self.sd == 0.0:
            return self if count == 1 else CostDistribution.certain(count * self.mean)
        first, last = self._sum_range(count)
        if last - first + 1 > CELLS_AT_MOST:
            return self._coarser(ceil((last - first + 1) / CELLS_AT_MOST) + 1).n_fold(count)
        from scipy.fft import irfft, next_fast_len, rfft

        size = next_fast_len(last - first + 2, real=True)
        wrapped = np.bincount(np.arange(len(self.pmf)) % size, weights=self.pmf, minlength=size)
        power = irfft(rfft(wrapped) ** count, size)
        pmf = np.maximum(np.roll(power, -(first % size)), 0.0)
        low = count * self.low + self.step * first
        return CostDistribution(
            low=low,
            step=self.step,
            pmf=pmf / pmf.sum(),
            mean=count * self.mean,
            sd=sqrt(count) * self.sd,
            mass_left=min(1.0, count * self.mass_left + 2 * TAIL),
            rounding_sd=sqrt(count) * self.rounding_sd,
        )

    def _sum_range(self, count: int) -> tuple[int, int]:
        """Cells, counted from `count` times the least value, that hold all but a trifle of a sum.

        Long laws are bounded by blocks of cells, each block's mass put at its far end.

        Source: Chernoff, Annals of Mathematical Statistics 23 (1952) 493-507.
        """
        cells = np.arange(len(self.pmf))
        middle = float(np.sum(cells * self.pmf))
        spread = sqrt(float(np.sum((cells - middle) ** 2 * self.pmf))) or 1.0
        tilts = np.geomspace(1e-4, 30.0, 40) / (spread * sqrt(count))
        near = np.arange(0, len(cells), ceil(len(cells) / BLOCKS))
        far = np.append(near[1:] - 1, len(cells) - 1)
        mass = np.add.reduceat(self.pmf, near)
        reach = []
        for sign, ends in ((1.0, far), (-1.0, near)):
            powers = np.outer(sign * tilts, ends - middle)
            top = powers.max(axis=1, keepdims=True)
            logs = top.ravel() + np.log(np.exp(powers - top) @ mass)
            reach.append(float(np.min((count * logs - np.log(TAIL)) / tilts)))
        first = max(0, floor(count * middle - reach[1]))
        last = min(count * (len(self.pmf) - 1), ceil(count * middle + reach[0]))
        return first, last

    def _coarser(self, times: int) -> CostDistribution:
        """The same law on a lattice some times as coarse; splitting values keeps the mean."""
        cells = np.arange(len(self.pmf))
        lower, share = cells // times, (cells % times) / times
        size = int(lower[-1]) + 2
        pmf = np.bincount(lower, weights=self.pmf * (1 - share), minlength=size)
        pmf += np.bincount(lower + 1, weights=self.pmf * share, minlength=size)
        added = (self.step * times) ** 2 * float(np.sum(self.pmf * share * (1 - share)))
        return CostDistribution(
            low=self.low,
            step=self.step * times,
            pmf=pmf,
            mean=self.mean,
            sd=self.sd,
            mass_left=self.mass_left,
            rounding_sd=sqrt(self.rounding_sd**2 + added),
        )
