"""The least-cost problem of one route: reachable stages, mean costs, and how a way is judged.

Numbers that a proof rests on are held in numpy's longest float; where that is
no longer than a double the proof is wider, never wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.actions import ActionTable, keep_stages
from advisor.routes.equations import ChainEquations
from advisor.routes.looking_ahead import LeavingActions, leave_stages
from advisor.routes.stages import StageModel

REFINEMENTS = 3


@dataclass(frozen=True)
class CostProblem:
    """Actions of the stages that matter, with their mean costs.

    Attributes:
        table: Actions of the n reachable stages where there is something to do.
        stages: int, shape (n,): their indices in the route.
        actions: int, shape (m,): the actions' indices in the route.
        costs: longest float, shape (m,): mean cost of taking each action once.
        sizes: float, shape (m,): mean absolute cost, what rounding is measured by.
        terms: float, shape (m,): how many numbers are added up for an action at most.
    """

    table: ActionTable
    stages: np.ndarray
    actions: np.ndarray
    costs: np.ndarray
    sizes: np.ndarray
    terms: np.ndarray
    _factored: dict[bytes, ChainEquations] = field(default_factory=dict, repr=False)

    def equations(self, policy: np.ndarray) -> ChainEquations:
        """The chain of taking one action (its index here) at each stage; the last is kept."""
        key = policy.tobytes()
        if key not in self._factored:
            self._factored.clear()
            self._factored[key] = ChainEquations(csr_array(self.table.moves[policy]))
        return self._factored[key]

    @cached_property
    def leaving(self) -> LeavingActions:
        """The actions with staying put summed out, for looking ahead."""
        return leave_stages(self.table, self.costs.astype(float))

    def evaluate(self, policy: np.ndarray, equations: ChainEquations) -> np.ndarray:
        """Mean cost to go from each stage, in the longest float, refined until it settles."""
        value = np.zeros(len(policy), dtype=np.longdouble)
        left = self.costs[policy]
        for _ in range(REFINEMENTS):
            value = value + equations.solve_once(left.astype(float))
            left = self.costs[policy] + multiply(equations.onward, value) - value
        return value

    def excess(self, value: np.ndarray) -> np.ndarray:
        """How much dearer each action is than the value of its stage, shape (m,)."""
        onward = multiply(self.table.moves, value)
        return np.asarray(self.costs + onward - value[self.table.stage])

    def magnitude(self, value: np.ndarray) -> np.ndarray:
        """Size of the numbers that went into `excess`, shape (m,)."""
        size = np.abs(value).astype(float)
        return np.asarray(self.sizes + self.table.moves @ size + size[self.table.stage])

    def first_least(self, amounts: np.ndarray) -> np.ndarray:
        """The first action of each stage with the least amount, shape (n,)."""
        least = np.minimum.reduceat(amounts, self.table.first[:-1])
        at_least = np.flatnonzero(amounts <= least[self.table.stage])
        stages = self.table.stage[at_least]
        fresh = np.ones(len(stages), dtype=bool)
        np.not_equal(stages[1:], stages[:-1], out=fresh[1:])
        return at_least[fresh]

    def find_endless_stages(self, policy: np.ndarray) -> np.ndarray:
        """For each stage the number of the loop it is in that a way never leaves, or -1."""
        from scipy.sparse.csgraph import connected_components

        chosen = self.table.moves[policy]
        count, component = connected_components(chosen, connection="strong")
        source = np.repeat(np.arange(len(policy)), np.diff(chosen.indptr))
        closed = np.ones(count, dtype=bool)
        closed[component[self.table.ending_odds[policy] > 0]] = False
        closed[component[source[component[source] != component[chosen.indices]]]] = False
        number = np.where(closed, np.cumsum(closed) - 1, -1)
        return np.asarray(number[component])


def pose_problem(
    model: StageModel, table: ActionTable, reached: np.ndarray, outcome_costs: np.ndarray
) -> CostProblem:
    """The problem of the stages reached from the start, ends left out."""
    kept = reached & table.has_actions
    smaller, actions = keep_stages(table, kept)
    counts = np.bincount(model.outcome_action, minlength=len(model.action_stage))
    exact = table.odds * np.asarray(outcome_costs, dtype=np.longdouble)
    starts = np.cumsum(counts) - counts
    return CostProblem(
        table=smaller,
        stages=np.flatnonzero(kept),
        actions=actions,
        costs=np.add.reduceat(exact, starts)[actions],
        sizes=np.add.reduceat(np.abs(exact), starts)[actions].astype(float),
        terms=counts[actions] + np.diff(smaller.moves.indptr) + 4.0,
    )


def multiply(matrix: csr_array, vector: np.ndarray) -> np.ndarray:
    """matrix @ vector in the vector's own precision."""
    if vector.dtype == np.float64:
        return np.asarray(matrix @ vector)
    sums = np.zeros(matrix.shape[0], dtype=vector.dtype)
    filled = np.flatnonzero(np.diff(matrix.indptr))
    if len(filled):
        terms = matrix.data * vector[matrix.indices]
        sums[filled] = np.add.reduceat(terms, matrix.indptr[filled])
    return sums
