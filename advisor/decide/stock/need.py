"""How many units will be needed: a law on whole numbers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.errors import BadInput

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TRIFLE = 1e-9
"""Chance of a greater need that is left out of sight: once in a thousand million."""

DIRECT_AT_MOST, FEW_STOCKS = 1_000_000, 4
"""Products, or stocks, up to which means are summed directly; beyond, by Fourier transform."""


@dataclass(frozen=True, eq=False)
class NeedLaw:
    """The law of the units needed.

    Attributes:
        pmf: pmf[n] is the chance that exactly n units are needed, shape (most + 1,), sum 1.
    """

    pmf: Floats

    @classmethod
    def of_values(cls, values: ArrayLike, odds: ArrayLike) -> NeedLaw:
        """The law of needing these amounts, parts of a unit rounded up to whole ones.

        Args:
            values: Amounts, >= 0.
            odds: Their chances, > 0, made to sum to 1.
        Raises: BadInput: a negative amount.
        """
        amounts, chances = np.asarray(values, dtype=float), np.asarray(odds, dtype=float)
        if np.any(amounts < -1e-9):
            raise BadInput(f"a need of {amounts.min():g} units", right="needs are 0 or more")
        units = np.ceil(amounts - 1e-6).astype(np.int64)
        pmf = np.bincount(np.maximum(units, 0), weights=chances)
        beyond = np.cumsum(pmf[::-1])[::-1]
        pmf = pmf[: max(1, int(np.searchsorted(-beyond, -TRIFLE * pmf.sum())))]
        return cls(pmf / pmf.sum())

    @property
    def most(self) -> int:
        """The greatest need."""
        return len(self.pmf) - 1

    @cached_property
    def mean(self) -> float:
        """The mean need."""
        return float(np.arange(len(self.pmf)) @ self.pmf)

    @cached_property
    def _above(self) -> Floats:
        """Chance of needing more than n, for n = 0 .. most."""
        above: Floats = np.append(np.cumsum(self.pmf[:0:-1])[::-1], 0.0)
        return above

    @cached_property
    def _up_to(self) -> Floats:
        """Chance of needing n or fewer, for n = 0 .. most."""
        up_to: Floats = np.cumsum(self.pmf)
        return up_to

    def quantile(self, chance: float) -> int:
        """The least number of units that is enough with this chance."""
        return min(int(np.searchsorted(self._up_to, chance - 1e-12)), self.most)

    def chance_above(self, units: float) -> float:
        """Chance that more than `units` are needed."""
        if units < 0:
            return 1.0
        return float(min(1.0, self._above[min(int(units + 1e-9), self.most)]))

    def less(self, on_hand: int) -> NeedLaw:
        """The law of what is still needed when some is on hand.

        Raises: BadInput: a negative stock.
        """
        if on_hand < 0:
            raise BadInput(f"{on_hand} units on hand", right="stock is 0 or more")
        if on_hand == 0:
            return self
        kept = self.pmf[on_hand:]
        if len(kept) == 0:
            return NeedLaw(np.ones(1))
        pmf = kept.copy()
        pmf[0] += self.pmf[:on_hand].sum()
        return NeedLaw(pmf / pmf.sum())

    def plus(self, other: NeedLaw) -> NeedLaw:
        """The law of the sum of two needs that have nothing to do with each other."""
        if min(len(self.pmf), len(other.pmf)) < 256:
            pmf = np.convolve(self.pmf, other.pmf)
        else:
            from scipy.signal import fftconvolve

            pmf = np.maximum(fftconvolve(self.pmf, other.pmf), 0.0)
        return NeedLaw.of_values(np.arange(len(pmf)), pmf)

    def mean_over(self, stock: Ints, *, short: Floats, left: Floats) -> Floats:
        """Mean of what running out costs and leftovers bring, for each stock.

        Args:
            stock: Units held, >= 0.
            short: Money for needing s units more than are held, shape (> most,), s = 0, 1, ...
            left: Money for u units left over, shape (> max(stock),), u = 0, 1, ...
        Returns: shape (stock,).
        """
        if len(stock) * len(self.pmf) > DIRECT_AT_MOST and len(stock) > FEW_STOCKS:
            return self._mean_over_all(short, left)[stock]
        totals = np.empty(len(stock))
        backwards = np.ascontiguousarray(left[::-1])
        for place, units in enumerate(stock.tolist()):
            held, start = min(units, self.most), len(left) - 1 - units
            inside = float(self.pmf[: held + 1] @ backwards[start : start + held + 1])
            beyond = self.pmf[held + 1 :]
            totals[place] = inside + float(beyond @ short[1 : 1 + len(beyond)])
        return totals

    def _mean_over_all(self, short: Floats, left: Floats) -> Floats:
        """The same for every stock from 0 to the most that `left` is given for, at once."""
        from scipy.signal import fftconvolve

        stocks, lack = len(left), short[1 : self.most + 1]
        # by what is over: -most .. stocks - 1, so that entry most + x of the sum is stock x
        by_rest = np.concatenate([lack[::-1], left])
        summed = fftconvolve(by_rest, self.pmf)
        totals: Floats = summed[self.most : self.most + stocks]
        return totals
