"""One law out of several, each with a weight: luck where even the odds are uncertain."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, sqrt

import numpy as np

from advisor.routes.total_law import CELLS_AT_MOST, CostDistribution


def mix_laws(
    laws: Sequence[CostDistribution], weights: np.ndarray, *, mean: float, sd: float
) -> CostDistribution:
    """The law of a total that follows one of these laws.

    All are put on the coarsest lattice among them; a value between two cells is
    split so that its mean stays.

    Args:
        laws: One for each way the odds may be.
        weights: How likely each is, summing to 1.
        mean, sd: Of the whole, from finer averages; infinite where they do not exist.
    """
    if len(laws) == 1:
        only = laws[0]
        return CostDistribution(
            only.low, only.step, only.pmf, mean, sd, only.mass_left, only.rounding_sd
        )
    spread = [law for law in laws if len(law.pmf) > 1]
    low = min(law.low for law in laws)
    high = max(law.low + law.step * (len(law.pmf) - 1) for law in laws)
    step = max((law.step for law in spread), default=1.0)
    if not spread and high > low:
        step = (high - low) / 1024
    step *= max(1, ceil((high - low) / step / (CELLS_AT_MOST - 4)))
    cells = ceil((high - low) / step - 1e-9) + 2
    pmf = np.zeros(cells)
    added = 0.0
    for law, weight in zip(laws, weights, strict=True):
        added += weight * _add_onto(pmf, law, low, step, weight)
    return CostDistribution(
        low=low,
        step=step,
        pmf=pmf / pmf.sum(),
        mean=mean,
        sd=sd,
        mass_left=float(sum(w * law.mass_left for w, law in zip(weights, laws, strict=True))),
        rounding_sd=sqrt(added),
    )


def _add_onto(
    pmf: np.ndarray, law: CostDistribution, low: float, step: float, weight: float
) -> float:
    """Add one law to the lattice; gives the variance that splitting its values added."""
    place = (law.values - low) / step
    near = np.rint(place)
    place = np.where(np.abs(place - near) < 1e-6, near, place)
    cell = np.floor(place).astype(np.int64)
    share = place - cell
    pmf += np.bincount(cell, weights=weight * law.pmf * (1 - share), minlength=len(pmf))
    pmf += np.bincount(cell + 1, weights=weight * law.pmf * share, minlength=len(pmf))
    return law.rounding_sd**2 + step**2 * float(np.sum(law.pmf * share * (1 - share)))
