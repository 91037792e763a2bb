"""A total's law read off its generating function at the roots of unity.

An amount between two cells is split between them so that its mean stays. Over
many steps the spread this adds would show. From two cells of it on amounts are
not rounded at all; instead the total is blurred by a normal error of two cells,
after which its law is known by its values on the lattice but for exp(-2 pi^2),
by Poisson's summation formula.

Source: Abate & Whitt, The Fourier-series method for inverting transforms of
probability distributions, Queueing Systems 10 (1992) 5-88, section 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor, sqrt

import numpy as np

from advisor.errors import CannotAnswer
from advisor.routes.elimination import transform_total
from advisor.routes.lattice import SplitAmounts, split_onto_lattice
from advisor.routes.lumping import LumpedChain
from advisor.routes.made_items import split_units
from advisor.routes.total_law import CostDistribution

POINTS_AT_ONCE = 4096
NOTHING = 1e-13
SURELY_ENDS = 1e-6
BLUR = 2.0
BLUR_REACH = 14


@dataclass(frozen=True)
class TotalProblem:
    """A lumped chain and the kinds of amount its outcomes add.

    Attributes:
        chain: Stages and outcomes; each outcome has a kind.
        amounts: Shape (kinds,): the amount, made items counted at their mean.
        units: Shape (kinds, laws): units of each made item.
        counts: Shape (kinds,): how often each kind is met on average.
        ahead: Shape (r + 1,): mean still to come from each stage, 0 at an end (the last).
        laws: The law of one unit of each made item.
    """

    chain: LumpedChain
    amounts: np.ndarray
    units: np.ndarray
    counts: np.ndarray
    ahead: np.ndarray
    laws: tuple[CostDistribution, ...]

    def certain_parts(self) -> np.ndarray:
        """Each kind's amount with every made unit at its law's least value, shape (kinds,)."""
        lows = np.array([law.low - law.mean for law in self.laws])
        return np.asarray(self.amounts + self.units @ lows if len(lows) else self.amounts)

    def extremes(self) -> tuple[float, float]:
        """The least and the greatest amount that any outcome can add."""
        spans = np.array([law.step * (len(law.pmf) - 1) for law in self.laws])
        least = self.certain_parts()
        most = least + self.units @ spans if len(spans) else least
        return float(least.min()), float(most.max())

    def lattice_amounts(self) -> np.ndarray:
        """Every amount that a lattice must fit so that nothing is rounded."""
        parts = [self.certain_parts()]
        for number, law in enumerate(self.laws):
            rests = [split_units(units)[1] for units in np.unique(self.units[:, number])]
            parts.append(law.step * np.array([1.0, *rests]))
        return np.concatenate(parts)


def invert_onto_lattice(
    problem: TotalProblem, step: float, *, low: float, high: float, mass_left: float
) -> CostDistribution:
    """The law of the total between two values.

    Args:
        problem: The chain and its amounts.
        step: Distance of the lattice's cells.
        low, high: The range outside which at most `mass_left` lies; that much is folded back.
        mass_left: As above.
    Returns: The law, with the lattice's own mean and standard deviation.
    Raises: CannotAnswer: So many steps that rounding hides whether the chain ends.
    """
    from scipy.fft import irfft, next_fast_len

    first = floor(low / step) - BLUR_REACH
    size = next_fast_len(ceil(high / step) + 1 + BLUR_REACH - first, real=True)
    transforms = _LatticeTransforms(problem, step, size)
    law = np.roll(irfft(transforms.of_total(), size), -(first % size))
    cumulated = np.maximum.accumulate(np.clip(np.cumsum(law), 0.0, 1.0))
    pmf = np.diff(cumulated / cumulated[-1], prepend=0.0)
    kept = _find_kept(pmf)
    pmf, values = pmf[kept], step * (first + np.arange(size)[kept])
    mean = float(np.sum(pmf * values))
    return CostDistribution(
        low=float(values[0]),
        step=step,
        pmf=pmf,
        mean=mean,
        sd=sqrt(float(np.sum(pmf * (values - mean) ** 2))),
        mass_left=mass_left,
        rounding_sd=sqrt(transforms.rounding_variance()),
    )


def _turn_at(angle: float, first: int, count: int) -> np.ndarray:
    """exp(i angle k) for `count` consecutive k; one product each instead of one exponential."""
    block = 64
    fine = np.exp(1j * angle * np.arange(block))
    coarse = np.exp(1j * angle * (first + block * np.arange(count // block + 1)))
    return np.asarray((coarse[:, None] * fine).ravel()[:count])


def _find_kept(pmf: np.ndarray) -> slice:
    """The cells between which all but a rounding error lies."""
    cumulated = np.cumsum(pmf)
    first = int(np.searchsorted(cumulated, NOTHING))
    last = int(np.searchsorted(cumulated, cumulated[-1] - NOTHING))
    return slice(first, min(last, len(pmf) - 1) + 1)


class _LatticeTransforms:
    """z^amount of every kind at the roots of unity that a real law needs."""

    def __init__(self, problem: TotalProblem, step: float, size: int) -> None:
        self.problem, self.size = problem, size
        self.roots = np.exp(-2j * np.pi / size * np.arange(size))
        self.amounts = problem.certain_parts()
        self.split = split_onto_lattice(self.amounts, step)
        self.draws = {
            (number, part): split_onto_lattice(part * law.step * np.arange(len(law.pmf)), step)
            for number, law in enumerate(problem.laws)
            for part in self._parts_of(number)
        }
        self.draw_transforms = {
            key: self._transform_draw(key[0], split) for key, split in self.draws.items()
        }
        own = self.split.share * (1.0 - self.split.share)
        self.blurs = float(problem.counts @ own) > BLUR**2

    def of_total(self) -> np.ndarray:
        """The generating function of the total, shape (size // 2 + 1,)."""
        points = np.arange(self.size // 2 + 1)
        batches = [
            points[begin : begin + POINTS_AT_ONCE]
            for begin in range(0, len(points), POINTS_AT_ONCE)
        ]
        total = np.concatenate([self._transform_batch(batch) for batch in batches])
        if not abs(total[0] - 1.0) < SURELY_ENDS:
            raise CannotAnswer("the way takes too many steps for the law of its cost to be told")
        if self.blurs:
            total *= np.exp(-0.5 * (2 * np.pi * BLUR / self.size * points) ** 2)
        return total

    def rounding_variance(self) -> float:
        """Variance that splitting amounts between cells adds to the total."""
        problem, squared = self.problem, self.split.step**2
        share = np.zeros_like(self.split.share) if self.blurs else self.split.share
        own = share * (1.0 - share) * squared
        for (number, part), split in self.draws.items():
            each = squared * float(
                np.sum(problem.laws[number].pmf * split.share * (1.0 - split.share))
            )
            times = [split_units(units) for units in problem.units[:, number]]
            own = own + each * np.array(
                [whole if part == 1.0 else float(rest == part) for whole, rest in times]
            )
        return float(problem.counts @ own) + squared * BLUR**2 * self.blurs

    def _transform_batch(self, points: np.ndarray) -> np.ndarray:
        @lru_cache(maxsize=256)
        def of_kind(kind: int) -> np.ndarray:
            value = self._put_on_cells(kind, points)
            for number, units in enumerate(self.problem.units[kind]):
                whole, part = split_units(units)
                if whole:
                    value = value * self.draw_transforms[number, 1.0][points] ** whole
                if part:
                    value = value * self.draw_transforms[number, part][points]
            return np.asarray(value)

        zero = np.zeros(len(points), dtype=complex)
        return transform_total(
            self.problem.chain, lambda stage, onto, kind: of_kind(kind), zero
        ).values

    def _put_on_cells(self, kind: int, points: np.ndarray) -> np.ndarray:
        """z^amount, with the amount on two neighbouring cells, or as it is before a blur."""
        if self.blurs:
            turns = self.amounts[kind] / (self.split.step * self.size)
            return _turn_at(-2 * np.pi * turns, int(points[0]), len(points))
        cell, share = int(self.split.cell[kind]) % self.size, float(self.split.share[kind])
        value = self.roots[(cell * points) % self.size]
        return np.asarray(value * (1.0 - share + share * self.roots[points])) if share else value

    def _parts_of(self, number: int) -> set[float]:
        rests = {split_units(units)[1] for units in self.problem.units[:, number]}
        return {1.0} | {rest for rest in rests if rest}

    def _transform_draw(self, number: int, split: SplitAmounts) -> np.ndarray:
        from scipy.fft import rfft

        pmf = self.problem.laws[number].pmf
        wrapped = np.bincount(
            split.cell % self.size, weights=pmf * (1.0 - split.share), minlength=self.size
        )
        wrapped += np.bincount(
            (split.cell + 1) % self.size, weights=pmf * split.share, minlength=self.size
        )
        return np.asarray(rfft(wrapped))
