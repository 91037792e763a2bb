"""Averages over a chance known as Beta(a, b), as weighted sums over a few nodes.

Costs grow like 1/q as the chance q of what is needed goes to 0, which no polynomial
follows. So the nodes are those of the weight with the pole taken out, Beta(a - r, b)
for a pole of order r, and each node's weight is multiplied by q^r again:

    E_Beta(a,b)[f] = E_Beta(a-r,b)[q^r f(q)] / E_Beta(a-r,b)[q^r]

Then f = 1/q^r times a polynomial of degree 2m - 1 is averaged exactly by m nodes.

Source: Golub & Welsch, Calculation of Gauss quadrature rules, Mathematics of
Computation 23 (1969) 221-230; Jacobi recurrence: Abramowitz & Stegun, 22.7.1.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def beta_nodes(a: float, b: float, count: int, *, pole: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Nodes in (0, 1) and weights that sum to 1 for averages over Beta(a, b).

    Args:
        a, b: > 0; a must exceed the pole.
        count: How many nodes. [m]
        pole: Order of the pole at 0 of what is averaged. [r]

    >>> nodes, weights = beta_nodes(3.0, 5.0, 2, pole=1)
    >>> round(float(weights @ (1 / nodes)), 12)
    3.5
    """
    from scipy.linalg import eigh_tridiagonal

    diagonal, beside = _jacobi_recurrence(b - 1.0, a - pole - 1.0, count)
    roots, vectors = eigh_tridiagonal(diagonal, beside)
    nodes = np.clip((1.0 + roots) / 2.0, 1e-300, 1.0)
    weights = vectors[0] ** 2 * nodes**pole
    return nodes, np.asarray(weights / weights.sum())


def _jacobi_recurrence(alpha: float, beta: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Diagonal and off-diagonal of the Jacobi matrix on (-1, 1)."""
    step = np.arange(count, dtype=float)
    total = 2 * step + alpha + beta
    with np.errstate(invalid="ignore", divide="ignore"):
        diagonal = (beta**2 - alpha**2) / (total * (total + 2))
    diagonal[0] = (beta - alpha) / (alpha + beta + 2)
    step, total = step[1:], total[1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        squared = (
            4 * step * (step + alpha) * (step + beta) * (step + alpha + beta)
            / (total**2 * (total + 1) * (total - 1))
        )  # fmt: skip
    if count > 1:
        squared[0] = 4 * (1 + alpha) * (1 + beta) / (total[0] ** 2 * (total[0] + 1))
    return diagonal, np.sqrt(squared)


def combine_nodes(
    rules: Sequence[tuple[np.ndarray, np.ndarray]],
) -> tuple[np.ndarray, np.ndarray]:
    """Every combination of the nodes of several rules.

    Args:
        rules: Nodes and weights of each chance.

    Returns: Nodes, shape (combinations, chances), and their weights, summing to 1.
    """
    grids = np.meshgrid(*(nodes for nodes, _ in rules), indexing="ij")
    products = np.meshgrid(*(weights for _, weights in rules), indexing="ij")
    nodes = np.stack([grid.ravel() for grid in grids], axis=1)
    return nodes, np.asarray(np.prod([each.ravel() for each in products], axis=0))


def nodes_for_each(chances: int, most: int, *, most_each: int) -> list[int]:
    """How many nodes each chance gets, the most important first, so that all fit.

    >>> nodes_for_each(3, 256, most_each=12)
    [6, 6, 6]
    >>> sum(nodes_for_each(12, 256, most_each=12))
    20
    """
    if chances == 0:
        return []
    each = int(most ** (1 / chances) + 1e-9)
    if each >= 2:
        return [min(each, most_each)] * chances
    paired = max(most, 1).bit_length() - 1
    return [2] * paired + [1] * (chances - paired)
