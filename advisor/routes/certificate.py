"""Bounds on the least mean cost that are checked, not assumed.

With x(a) = c(a) + P(a) v - v(s) the excess of each action over a value v, and
w > 0 any vector of stage weights:

* upper: the chosen way costs at most v + d w if x <= d (w - P w) at its actions;
* lower: no way that ends costs less than v - d w if x + d (w - P w) >= 0 at all actions.

Both are tried with w the mean steps to the end, and every inequality is checked
with the largest error its own rounding can have, and with that of reading the
odds, which are written as decimals and kept as doubles. For the lower bound the steps
are those of the longest way among actions that are as cheap as the chosen ones,
so that ties do not stand in its way.

Source: monotone mappings, Bertsekas, Dynamic Programming and Optimal Control,
vol. 2, 4th ed. (Athena 2012), section 3.2; rounding: Higham, Accuracy and
Stability of Numerical Algorithms, 2nd ed. (SIAM 2002), section 3.1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.routes.problem import CostProblem, multiply

NEARLY_TIED = 1e-13
ROUNDS_AT_MOST = 50


@dataclass(frozen=True)
class CostProof:
    """A value of every stage, and bounds on the least mean cost from the start.

    Attributes:
        value: longest float, shape (n,): mean cost to go of the chosen way.
        lower, upper: What every way costs at least, and the chosen one at most.
        size: max(1, |value at the start|), what the gap is measured by.
    """

    value: np.ndarray
    lower: float
    upper: float
    size: float


def bound_least_cost(problem: CostProblem, policy: np.ndarray, start: int) -> CostProof:
    """The chosen way's cost, and bounds that hold whatever rounding did.

    A bound that cannot be shown is minus or plus infinity, never a guess. In a
    loop that neither costs nor earns, an excess within rounding counts as zero.

    Args:
        problem: Actions and costs.
        policy: int, shape (n,): an action at each stage, such that the evening ends.
        start: The stage the bounds are for.
    """
    equations = problem.equations(policy)
    value = problem.evaluate(policy, equations)
    excess, error = problem.excess(value), _largest_rounding(problem, value)
    steps = equations.solve(np.ones(len(policy)))
    drop = _drop_of(problem, steps)
    upper = _bound_above(drop[policy], excess[policy] + error[policy], steps)
    tied = excess <= NEARLY_TIED * problem.magnitude(value)
    longest, even = _longest_tied_steps(problem, policy, steps, tied)
    falls = drop if longest is steps else _drop_of(problem, longest)
    lower = _bound_below(falls[~even], (excess - error)[~even], longest)
    at_start = value[start]
    # Odds as written are no doubles: each step may be off by a rounding of what is at stake.
    most_steps = max(longest[start], steps[start])
    reading = np.finfo(float).eps / 2 * most_steps * np.max(np.abs(value))
    return CostProof(
        value=value,
        lower=float(np.nextafter(float(at_start - lower * longest[start] - reading), -np.inf)),
        upper=float(np.nextafter(float(at_start + upper * steps[start] + reading), np.inf)),
        size=max(1.0, abs(float(at_start))),
    )


def _bound_above(drop: np.ndarray, excess: np.ndarray, steps: np.ndarray) -> float:
    """The least d such that the way costs at most v + d w."""
    if not bool(np.all(drop > 0)) or not bool(np.all(steps > 0)):
        return np.inf
    return float(np.max(np.maximum(excess, 0.0) / drop))


def _bound_below(drop: np.ndarray, excess: np.ndarray, steps: np.ndarray) -> float:
    """The least d such that v - d w is below every action's cost; infinity if there is none."""
    short = excess < 0
    if bool(np.any(drop[short] <= 0)) or not bool(np.all(steps > 0)):
        return np.inf
    needed = float(np.max(-excess[short] / drop[short], initial=0.0))
    rising = drop < 0
    allowed = float(np.min(excess[rising] / -drop[rising], initial=np.inf))
    return needed if needed <= allowed else np.inf


def _drop_of(problem: CostProblem, steps: np.ndarray) -> np.ndarray:
    """How much the mean steps fall with each action, at least, shape (m,)."""
    table = problem.table
    onward = multiply(table.moves, steps.astype(np.longdouble))
    rounding = problem.terms * np.finfo(np.longdouble).eps * (onward + steps[table.stage])
    return np.asarray(steps[table.stage] - onward - rounding)


def _largest_rounding(problem: CostProblem, value: np.ndarray) -> np.ndarray:
    """What rounding can have added to each excess at most, shape (m,)."""
    eps = float(np.finfo(np.longdouble).eps)
    return np.asarray(1.01 * eps * problem.terms * problem.magnitude(value))


def _longest_tied_steps(
    problem: CostProblem, policy: np.ndarray, steps: np.ndarray, tied: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean steps of the longest way among actions nearly as cheap as the chosen ones.

    Returns: The steps, shape (n,), and the actions (bool, shape (m,)) that tie in a
        loop which neither costs nor earns, so that no way is longest.
    """
    table = problem.table
    even = np.zeros(len(tied), dtype=bool)
    for _ in range(ROUNDS_AT_MOST):
        ahead = np.where(tied & ~even, 1.0 + table.moves @ steps, -np.inf)
        longest = problem.first_least(-ahead)
        longer = ahead[longest] > steps * (1.0 + 1e-9)
        if not longer.any():
            break
        changed = np.where(longer, longest, policy)
        while (endless := problem.find_endless_stages(changed) >= 0).any():
            even[changed[endless & (changed != policy)]] = True
            changed = np.where(endless, policy, changed)
        policy = changed
        steps = problem.equations(policy).solve(np.ones(len(policy)))
    return steps, even
