"""How far the total of a chain may reach, so that next to nothing lies beyond.

P(total >= mean + d) <= E exp(t (total - mean)) * exp(-t d) for every t > 0, and
likewise below with t < 0. The moments are one solution of the chain's equations
for many t at once; they exist as long as every pivot stays positive. Amounts are
taken around the mean still to come, so that no power overflows for nothing.

Source: Chernoff, Annals of Mathematical Statistics 23 (1952) 493-507.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from advisor.routes.chain import Moments
from advisor.routes.elimination import transform_total
from advisor.routes.inversion import TotalProblem
from advisor.routes.made_items import split_units

TAILS = (2e-10, 1e-8, 1e-6, 1e-5, 1e-4)
SPREADS_AT_MOST = 250.0
TILTS = 96


@dataclass(frozen=True)
class Reach:
    """Where the total lies but for a trifle.

    Attributes:
        low, high: The range.
        mass_left: At most this much probability lies outside.
        work: Vector operations one pass over the chain takes.
    """

    low: float
    high: float
    mass_left: float
    work: int


def find_reach(problem: TotalProblem, moments: Moments) -> Reach:
    """A range that holds all but 4e-10 of the probability, wider tails cut sooner.

    Args:
        problem: The chain and its amounts.
        moments: Mean and standard deviation (> 0) of the total.
    """
    tilts = np.geomspace(1e-7, 50.0, TILTS) / moments.sd
    logs, work = _log_moments(problem, np.concatenate((tilts, -tilts)))
    for tail in TAILS:
        above = float(np.nanmin((logs[:TILTS] - np.log(tail)) / tilts))
        below = float(np.nanmin((logs[TILTS:] - np.log(tail)) / tilts))
        if above + below <= SPREADS_AT_MOST * moments.sd:
            break
    low, high = moments.mean - below, moments.mean + above
    least, most = problem.extremes()
    if least >= 0.0:
        low = max(low, 0.0)
    if most <= 0.0:
        high = min(high, 0.0)
    return Reach(low, high, 2 * tail, work)


def _log_moments(problem: TotalProblem, tilts: np.ndarray) -> tuple[np.ndarray, int]:
    """log E exp(t (total - mean)) for each t, NaN where it does not exist; and the work."""

    @cache
    def of_law(number: int, part: float) -> np.ndarray:
        law = problem.laws[number]
        return np.asarray(np.exp(np.outer(part * tilts, law.values - law.mean)) @ law.pmf)

    def factor(stage: int, onto: int, kind: int) -> np.ndarray:
        around = problem.amounts[kind] + problem.ahead[onto] - problem.ahead[stage]
        value = np.exp(tilts * around)
        for number, units in enumerate(problem.units[kind]):
            whole, part = split_units(units)
            if whole:
                value = value * of_law(number, 1.0) ** whole
            if part:
                value = value * of_law(number, part)
        return np.asarray(value)

    with np.errstate(all="ignore"):
        found = transform_total(problem.chain, factor, np.zeros(len(tilts)))
        usable = found.exists & np.isfinite(found.values) & (found.values > 0)
        return np.where(usable, np.log(found.values), np.nan), found.work
