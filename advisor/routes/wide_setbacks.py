"""Equations of chains whose setbacks are too wide and wild to be factored in bounded memory.

A factored matrix keeps an entry wherever elimination makes one. Where stages can
be lined up so that moves are short, or go back to few hubs, there are few; where
many stages fall back to many others there may be n^2. Such chains are solved by
iteration instead, with one sweep along the stages as the preconditioner.

Source: envelope as a bound on fill, George & Liu, Computer Solution of Large
Sparse Positive Definite Systems (Prentice-Hall 1981), chapter 4; GMRES, Saad &
Schultz, SIAM Journal on Scientific and Statistical Computing 7 (1986) 856-869.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import csr_array, triu
from scipy.sparse.csgraph import connected_components, reverse_cuthill_mckee

from advisor.errors import CannotAnswer

SMALL_BLOCK = 10_000
ENTRIES_AT_MOST = 3_000_000_000
WIDE_SHARE = 0.05
HUB = 64
ROUNDS_AT_MOST = 12
CYCLES_AT_MOST = 10
KEPT_DIRECTIONS = 40
ROUNDING = 4e-15


def fills_too_much(onward: csr_array) -> bool:
    """Whether factoring I - Q may need more entries than memory should hold."""
    if onward.shape[0] <= SMALL_BLOCK:
        return False
    _, component = connected_components(onward, connection="strong")
    size = np.bincount(component)
    largest = np.flatnonzero(component == np.argmax(size))
    if len(largest) <= SMALL_BLOCK:
        return False
    block = csr_array(onward[largest][:, largest])
    inward = np.bincount(block.indices, minlength=len(largest))
    kept = np.flatnonzero(inward <= HUB)
    hubs = len(largest) - len(kept)
    block = csr_array(block[kept][:, kept])
    position = np.argsort(reverse_cuthill_mckee(csr_array(block + block.T), symmetric_mode=True))
    row = np.repeat(np.arange(len(kept)), np.diff(block.indptr))
    reach = np.abs(position[row] - position[block.indices])
    widest = np.zeros(len(kept), dtype=np.int64)
    np.maximum.at(widest, position[row], reach)
    entries = 2 * (int(widest.sum()) + hubs * len(largest))
    return entries > min(ENTRIES_AT_MOST, WIDE_SHARE * len(largest) ** 2)


class IteratedSolution:
    """Solves A x = r by GMRES, preconditioned with A's upper triangle.

    Args:
        matrix: csc, A = I - Q.
    """

    def __init__(self, matrix: Any) -> None:
        from scipy.sparse.linalg import splu

        self.matrix = matrix
        self.sweep = splu(triu(matrix).tocsc(), permc_spec="NATURAL", diag_pivot_thresh=0.0)

    def solve(self, right: np.ndarray, trans: str = "N") -> np.ndarray:
        """x with A x = r, or A' x = r, as exact as rounding lets it be.

        Raises: CannotAnswer: It does not settle.
        """
        from scipy.sparse.linalg import LinearOperator, gmres

        matrix = self.matrix.T if trans == "T" else self.matrix
        sweep = LinearOperator(
            matrix.shape, matvec=lambda vector: self.sweep.solve(vector, trans=trans)
        )
        found, left = np.zeros(len(right)), right
        for _ in range(ROUNDS_AT_MOST):
            more, _ = gmres(
                matrix, left, M=sweep, rtol=1e-6, restart=KEPT_DIRECTIONS, maxiter=CYCLES_AT_MOST
            )
            found = found + more
            left = right - matrix @ found
            if np.max(np.abs(left)) <= ROUNDING * max(1.0, float(np.max(np.abs(found)))):
                return np.asarray(found)
        raise CannotAnswer(
            f"setbacks among {matrix.shape[0]} stages are too wide to be solved",
            right="let failures lead back to fewer stages",
        )
