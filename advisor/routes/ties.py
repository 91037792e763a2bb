"""Which of equally cheap choices to take: fewest steps on average, then reading order."""

from __future__ import annotations

import numpy as np

from advisor.routes.problem import CostProblem

EVEN = 1e-15
SAME_STEPS = 1e-9
ROUNDS_AT_MOST = 200


def settle_ties(problem: CostProblem, policy: np.ndarray, value: np.ndarray) -> np.ndarray:
    """A way as cheap as the given one with the fewest steps, first in reading order.

    Args:
        problem: Actions and costs.
        policy: int, shape (n,): a best action at each stage.
        value: Mean cost to go of it, shape (n,).
    Returns: int, shape (n,): the actions to take.
    """
    even = problem.excess(value) <= EVEN * problem.magnitude(value)
    even[policy] = True
    if even.sum() == len(policy):
        return policy
    for _ in range(ROUNDS_AT_MOST):
        steps = problem.equations(policy).solve(np.ones(len(policy)))
        ahead = np.where(even, 1.0 + problem.table.moves @ steps, np.inf)
        fewest = problem.first_least(ahead)
        fewer = ahead[fewest] < steps * (1.0 - SAME_STEPS)
        if not fewer.any():
            break
        policy = np.where(fewer, fewest, policy)
    as_few = ahead <= steps[problem.table.stage] * (1.0 + SAME_STEPS)
    return problem.first_least(np.where(as_few, 0.0, 1.0))
