"""Which step is best at each stage, and the proof that no other choice costs less.

Least mean cost until the evening ends, where costs may have either sign:

    v(s) = min over actions a at s of  c(a) + sum over s' of p(s' | a) v(s')

Policy iteration from a way that surely ends. A step is exchanged only for one
that is strictly cheaper; then a loop that no longer ends must earn on every
round, so it is either found and refused by name or cannot come up, and ties
never lead into a loop. Large routes look further ahead before a way is worked out
anew (`looking_ahead`); if a way so found is not cheaper, only by steps that cannot
err. What rounding leaves open is settled by `bound_least_cost`.

Source: Bertsekas & Tsitsiklis, An analysis of stochastic shortest path problems,
Mathematics of Operations Research 16 (1991) 580-595, propositions 2 and 3.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from advisor.errors import CannotAnswer
from advisor.routes.actions import tabulate_actions
from advisor.routes.certificate import bound_least_cost
from advisor.routes.equations import ChainEquations
from advisor.routes.graph import (
    find_reachable_stages,
    refuse_dead_ends,
    refuse_earning_loop,
    refuse_free_loops,
)
from advisor.routes.looking_ahead import LeavingActions
from advisor.routes.problem import CostProblem, pose_problem
from advisor.routes.stages import StageModel
from advisor.routes.starting_way import choose_ending_way
from advisor.routes.ties import settle_ties

ROUNDS_AT_MOST = 2000
NOISE = 1e-14
LOOK_AHEAD_FROM = 300
LEAK = 1e-8
STEPS_TOO_MANY = 1e8
GAP = 1e-9


@dataclass(frozen=True)
class BestChoices:
    """The best action at each stage, what it costs from there, and the proof.

    Attributes:
        actions: int, shape (n,): index into the route's actions; -1 at an end and
            at a stage that is never reached.
        cost_to_go: float, shape (n,): least mean cost from each stage; 0 at an end,
            NaN at a stage that is never reached.
        lower: No way of choosing costs less on average from the start.
        upper: The choices cost at most this on average from the start.
        iterations: Rounds of policy iteration.
    """

    actions: np.ndarray
    cost_to_go: np.ndarray
    lower: float
    upper: float
    iterations: int


def best_choices(model: StageModel, outcome_costs: np.ndarray) -> BestChoices:
    """The choices of least mean cost until the evening ends.

    Of choices that cost the same, those with the fewest steps on average are
    taken, and of these the first in reading order.

    Args:
        model: The route.
        outcome_costs: Cost of each outcome, either sign, shape (k,).
    Raises:
        RouteFault: A stage that cannot finish, a loop at no cost, a loop that earns for ever.
        CannotAnswer: Every way takes so long that numbers cannot tell it from never ending.

    Example: each of two stages earns 10 and ends with odds 0.1, else leads to the other.
        >>> from advisor.routes.sketch import sketch_route
        >>> model, costs = sketch_route(
        ...     [(0, [(0.9, 1, -10), (0.1, -1, -10)]), (1, [(0.9, 0, -10), (0.1, -1, -10)])]
        ... )
        >>> round(float(best_choices(model, costs).cost_to_go[0]), 9)
        -100.0
    """
    table = tabulate_actions(model)
    reached = find_reachable_stages(table, model.start)
    refuse_dead_ends(model, table, reached)
    if not table.has_actions[model.start]:
        return _nothing_to_do(model, reached)
    refuse_free_loops(model, table, reached, outcome_costs)
    problem = pose_problem(model, table, reached, outcome_costs)
    try:
        return _solve(model, problem, reached)
    except FloatingPointError as fault:
        raise CannotAnswer(
            "every way to the piece takes more steps than can be counted",
            stage=model.stages[model.start],
            right="check the odds: some outcome is all but impossible",
        ) from fault


def _solve(model: StageModel, problem: CostProblem, reached: np.ndarray) -> BestChoices:
    start = int(np.searchsorted(problem.stages, model.start))
    policy = choose_ending_way(problem)
    rounds = 0
    if _takes_too_long(problem, policy):
        policy, rounds = _iterate(model, problem, policy, LEAK)
    policy, more = _iterate(model, problem, policy, 0.0)
    proof = bound_least_cost(problem, policy, start)
    settled = settle_ties(problem, policy, proof.value)
    if not np.array_equal(settled, policy):
        other = bound_least_cost(problem, settled, start)
        if other.upper - other.lower <= max(proof.upper - proof.lower, GAP / 4 * proof.size):
            policy, proof = settled, other
    actions = np.full(len(model.stages), -1)
    actions[problem.stages] = problem.actions[policy]
    cost_to_go = np.where(reached | model.done, 0.0, np.nan)
    cost_to_go[problem.stages] = proof.value.astype(float)
    return BestChoices(actions, cost_to_go, proof.lower, proof.upper, rounds + more)


def _nothing_to_do(model: StageModel, reached: np.ndarray) -> BestChoices:
    cost_to_go = np.where(reached | model.done, 0.0, np.nan)
    return BestChoices(np.full(len(model.stages), -1), cost_to_go, 0.0, 0.0, 0)


def _takes_too_long(problem: CostProblem, policy: np.ndarray) -> bool:
    try:
        steps = problem.equations(policy).solve(np.ones(len(policy)))
    except FloatingPointError:
        return True
    return not bool(np.all((steps > 0.5) & (steps < STEPS_TOO_MANY)))


def _iterate(
    model: StageModel, problem: CostProblem, policy: np.ndarray, leak: float
) -> tuple[np.ndarray, int]:
    """Exchange actions for strictly cheaper ones until none is; and how many rounds it took.

    Args:
        model: The route, for the names in a refusal.
        problem: What is to be solved.
        policy: A way that surely ends.
        leak: Odds of ending at each step for no reason: with a little of it even a
            hopeless way has a value, from which better ones are found.
    """
    followed = _let_leak(problem, leak) if leak else problem
    leaving, last, bold = followed.leaving, np.full(len(policy), np.inf), True
    for rounds in range(1, ROUNDS_AT_MOST + 1):
        equations = followed.equations(policy)
        value = equations.solve_once(followed.costs[policy].astype(float))
        ahead = leaving.ahead(value)
        least = followed.first_least(ahead)
        noise = NOISE * followed.magnitude(value) / leaving.leave
        better = ahead[least] < ahead[policy] - noise[least] - noise[policy]
        if not better.any():
            return policy, rounds
        if len(policy) >= LOOK_AHEAD_FROM:
            fallen, noise = last - value, noise[policy]
            bold = bold and bool(np.all(fallen >= -noise) and np.any(fallen > noise))
            cheap = bold and equations.is_factored
            correct = _spread_further(leaving, equations, policy) if cheap else None
            least = followed.first_least(leaving.ahead(leaving.look_ahead(value, correct)))
            better, last = least != policy, value
        policy = _keep_ending(model, problem, policy, np.where(better, least, policy))
    return policy, ROUNDS_AT_MOST


def _spread_further(
    leaving: LeavingActions, equations: ChainEquations, policy: np.ndarray
) -> Callable[[np.ndarray], np.ndarray]:
    """(what a sweep changes at each stage) -> what it changes in the end, this way taken on."""
    leave = leaving.leave[policy]
    return lambda left: equations.solve_once(left * leave)


def _let_leak(problem: CostProblem, leak: float) -> CostProblem:
    """The same problem where every step ends the evening with odds `leak`."""
    table = problem.table
    leaking = replace(
        table,
        moves=csr_array(table.moves * (1.0 - leak)),
        ending_odds=table.ending_odds * (1.0 - leak) + leak,
    )
    return replace(problem, table=leaking, _factored={})


def _keep_ending(
    model: StageModel, problem: CostProblem, policy: np.ndarray, changed: np.ndarray
) -> np.ndarray:
    """The changed way, if it still ends; a loop in it is refused if it earns, else left out."""
    while True:
        loop = problem.find_endless_stages(changed)
        if not (loop >= 0).any():
            return changed
        inside = np.flatnonzero(loop >= 0)
        inside = inside[np.argsort(loop[inside], kind="stable")]
        for stages in np.split(inside, np.flatnonzero(np.diff(loop[inside])) + 1):
            per_round, visits = _earn_per_round(problem, changed, stages)
            size = float(visits @ problem.sizes[changed[stages]])
            if per_round < -1e-12 * size:
                actions = problem.actions[changed[stages]]
                refuse_earning_loop(model, actions, visits=visits, earned=-per_round)
        changed = np.where(loop >= 0, policy, changed)


def _earn_per_round(
    problem: CostProblem, policy: np.ndarray, loop: np.ndarray
) -> tuple[float, np.ndarray]:
    """Mean cost between two visits of the loop's first stage, and the visits paid in between."""
    onward = csr_array(problem.table.moves[policy[loop]][:, loop])
    visits = np.ones(len(loop))
    if len(loop) > 1:
        inner = ChainEquations(csr_array(onward[1:, 1:]))
        visits[1:] = inner.solve_transposed(onward[[0], 1:].toarray().ravel())
    return float(visits @ problem.costs[policy[loop]].astype(float)), visits
