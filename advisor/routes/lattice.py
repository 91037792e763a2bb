"""Money on a lattice: the step that fits every amount, or the rounding that keeps the mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FINEST_PARTS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 16, 20, 24, 25, 30, 40, 50, 60, 75)
DENOMINATORS = (*FINEST_PARTS, *(100 * part for part in FINEST_PARTS), 10_000, 100_000)
WHOLE = 1e-9


@dataclass(frozen=True)
class SplitAmounts:
    """Amounts on a lattice: each lies on `cell` with odds 1 - share, on the next with odds share.

    Attributes:
        step: Money between two neighbouring cells.
        cell: int: the lattice cell at or below each amount.
        share: float in [0, 1): how far each amount lies towards the next cell.
    """

    step: float
    cell: np.ndarray
    share: np.ndarray


def find_common_step(amounts: np.ndarray) -> float | None:
    """The largest step that every amount is a multiple of; None where none is coarse enough.

    Args:
        amounts: Any finite numbers. Denominators up to 100 and their hundredfold are tried.

    >>> find_common_step(np.array([2.5, -1.0, 4.0]))
    0.5
    """
    sizes = np.unique(np.abs(amounts))
    sizes = sizes[sizes > 0]
    if not len(sizes):
        return 1.0
    for parts in DENOMINATORS:
        scaled = sizes * parts
        whole = np.rint(scaled)
        if np.all(np.abs(scaled - whole) <= WHOLE * np.maximum(1.0, scaled)) and whole[0] >= 1:
            if whole[-1] > 2**52:
                return None
            return float(np.gcd.reduce(whole.astype(np.int64))) / parts
    return None


def split_onto_lattice(amounts: np.ndarray, step: float) -> SplitAmounts:
    """Amounts put on their two neighbouring cells so that each keeps its mean."""
    scaled = amounts / step
    near = np.rint(scaled)
    on_cell = np.abs(scaled - near) <= WHOLE * np.maximum(1.0, np.abs(scaled))
    cell = np.where(on_cell, near, np.floor(scaled)).astype(np.int64)
    return SplitAmounts(step, cell, np.where(on_cell, 0.0, scaled - cell))
