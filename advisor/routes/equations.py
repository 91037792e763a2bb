"""The linear equations of an absorbing chain, (I - Q) x = r, factored once and solved often.

Source: Kemeny & Snell, Finite Markov Chains (Van Nostrand, 1960), chapter III.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import csr_array, eye_array

from advisor.routes.wide_setbacks import IteratedSolution, fills_too_much

DENSE_AT_MOST = 120
FILL_PER_STAGE = 12


class ChainEquations:
    """Solves (I - Q) x = r and its transpose for one chain.

    Args:
        onward: csr, shape (n, n): odds of going on from stage to stage; from every
            stage the chain ends at last. [Q]
    Raises:
        FloatingPointError: Nothing ends here as far as numbers can tell.
        CannotAnswer: Setbacks are too wide for factoring and for iteration.
    """

    def __init__(self, onward: csr_array) -> None:
        self.onward = onward
        self.stage_count = onward.shape[0]

    @property
    def is_factored(self) -> bool:
        """Whether solving once more is cheap; else each solution is iterated anew."""
        return not isinstance(self._factors, IteratedSolution)

    def solve(self, ends: np.ndarray) -> np.ndarray:
        """x with x = r + Q x: sums collected from each stage on; one round of refinement. [r]"""
        found = self.solve_once(ends)
        return np.asarray(found + self.solve_once(ends - (found - self.onward @ found)))

    def solve_transposed(self, starts: np.ndarray) -> np.ndarray:
        """y with y = r + Q' y: mean visits of each stage, from where one starts. [r]"""
        found = self.solve_once(starts, transposed=True)
        left = starts - (found - self.onward.T @ found)
        return np.asarray(found + self.solve_once(left, transposed=True))

    def solve_once(self, right: np.ndarray, *, transposed: bool = False) -> np.ndarray:
        """The solution as it comes from the factors, without refinement."""
        if self.stage_count <= DENSE_AT_MOST:
            from scipy.linalg import lu_solve

            return np.asarray(lu_solve(self._factors, right, trans=int(transposed)))
        return np.asarray(self._factors.solve(right, trans="T" if transposed else "N"))

    @cached_property
    def _factors(self) -> Any:
        if self.stage_count <= DENSE_AT_MOST:
            return _factor_dense(self.onward)
        from scipy.sparse.linalg import splu

        matrix = (eye_array(self.stage_count, format="csr") - self.onward).tocsc()
        plain = {"diag_pivot_thresh": 0.0, "relax": 1, "panel_size": 1}
        try:
            if _keeps_together(matrix):
                return splu(matrix, permc_spec="NATURAL", **plain)
            if fills_too_much(self.onward):
                return IteratedSolution(matrix)
            return splu(matrix, **plain)
        except RuntimeError as fault:  # "Factor is exactly singular"
            raise FloatingPointError(str(fault)) from fault


def _keeps_together(matrix: Any) -> bool:
    """Whether stages in reading order already fill little: short moves, as along rungs.

    Factors fill at most from the first entry of each row and column to the diagonal.

    Args:
        matrix: csc, indices sorted, a full diagonal.
    """
    count = matrix.shape[0]
    above = np.arange(count) - matrix.indices[matrix.indptr[:-1]]
    leftmost = np.arange(count)
    column = np.repeat(np.arange(count), np.diff(matrix.indptr))
    np.minimum.at(leftmost, matrix.indices, column)
    left = np.arange(count) - leftmost
    return bool(above.clip(0).sum() + left.sum() <= FILL_PER_STAGE * count)


def _factor_dense(onward: csr_array) -> Any:
    from scipy.linalg import get_lapack_funcs

    matrix = np.eye(onward.shape[0]) - onward.toarray()
    (factor,) = get_lapack_funcs(("getrf",), (matrix,))
    lower_upper, pivots, info = factor(matrix)
    if info > 0:
        raise FloatingPointError("singular")
    return lower_upper, pivots
