"""The law of several independent totals together, such as the minutes of different pieces."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np

from advisor.routes.total_law import CostDistribution

CELLS = 2**15


def add_laws(laws: Sequence[CostDistribution]) -> CostDistribution:
    """The law of the sum; values are put on one lattice so that the mean stays.

    Without laws nothing is certain to come to nothing.
    """
    mean = sum(law.mean for law in laws)
    low = sum(law.low for law in laws)
    spread = [law for law in laws if len(law.pmf) > 1]
    if not spread:
        return CostDistribution.certain(mean)
    reach = sum(law.step * (len(law.pmf) - 1) for law in spread)
    step = max(*(law.step for law in spread), reach / CELLS)
    from scipy.signal import fftconvolve

    pmf = np.ones(1)
    for law in spread:
        pmf = fftconvolve(pmf, _on_lattice(law, step))
    pmf = np.maximum(pmf, 0.0)
    return CostDistribution(
        low=low,
        step=step,
        pmf=pmf / pmf.sum(),
        mean=mean,
        sd=sqrt(sum(law.sd**2 for law in laws)),
        mass_left=min(1.0, sum(law.mass_left for law in laws)),
        rounding_sd=sqrt(sum(law.rounding_sd**2 for law in laws) + len(spread) * step**2 / 4),
    )


def _on_lattice(law: CostDistribution, step: float) -> np.ndarray:
    """The probabilities above `low` on a lattice of another step, split so that the mean stays."""
    places = np.arange(len(law.pmf)) * (law.step / step)
    lower = np.floor(places + 1e-9).astype(int)
    share = np.maximum(places - lower, 0.0)
    size = int(lower[-1]) + 2
    onto = np.bincount(lower, weights=law.pmf * (1 - share), minlength=size)
    onto += np.bincount(lower + 1, weights=law.pmf * share, minlength=size)
    return onto
