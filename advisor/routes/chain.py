"""What a chosen way comes to: visits, steps, minutes, use of every item, and their spread.

With one action fixed at each stage a route is an absorbing Markov chain with
odds Q of going on. Visits from the start solve y = e + Q'y; the mean of any sum
collected on the way solves x = r + Q x; and its variance is the visits' sum of

    sum over outcomes of  odds * (amount + x(next stage) - x(stage))^2,

which adds squares only and so loses nothing where mean and spread are far apart.

Source: Kemeny & Snell, Finite Markov Chains (Van Nostrand, 1960), theorems 3.2.4
and 3.3.5; the variance by the law of total variance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from advisor.routes.actions import tabulate_actions
from advisor.routes.equations import ChainEquations
from advisor.routes.solve import BestChoices
from advisor.routes.stages import StageModel


@dataclass(frozen=True)
class Moments:
    """Mean and standard deviation of a sum collected on the way."""

    mean: float
    sd: float


@dataclass(frozen=True)
class ChainSums:
    """What one run of the chosen way comes to on average, from the start.

    Attributes:
        visits: float, shape (n,): mean visits of each stage; at an end, the odds of ending there.
        steps: Mean number of actions taken.
        minutes: Time taken.
        uses: Mean and spread of the units used of each item, in the order of the route's items.
        gives: Likewise of the units that come back.
    """

    visits: np.ndarray
    steps: float
    minutes: Moments
    uses: list[Moments]
    gives: list[Moments]


@dataclass(frozen=True)
class Chain:
    """The stages a chosen way passes through, numbered anew, and its outcomes.

    Attributes:
        stages: int, shape (r,): the stages with something to do, as indices in the route.
        actions: int, shape (r,): the action taken at each.
        start: Which of them one starts from; -1 if there is nothing to do.
        outcomes: int, shape (q,): the outcomes that can come to pass, as indices in the route.
        source: int, shape (q,): the stage (0..r-1) an outcome is at, ascending.
        target: int, shape (q,): the stage it leads to, -1 at an end.
        odds: float, shape (q,): sums to 1 over each stage.
    """

    stages: np.ndarray
    actions: np.ndarray
    start: int
    outcomes: np.ndarray
    source: np.ndarray
    target: np.ndarray
    odds: np.ndarray

    @cached_property
    def equations(self) -> ChainEquations:
        """The linear equations of this chain, factored once."""
        onward = self.target >= 0
        count = len(self.stages)
        pointers = np.concatenate(
            ([0], np.cumsum(np.bincount(self.source[onward], minlength=count)))
        )
        moves = csr_array((self.odds[onward], self.target[onward], pointers), shape=(count, count))
        moves.sum_duplicates()
        return ChainEquations(moves)

    @cached_property
    def visits(self) -> np.ndarray:
        """Mean visits of each stage from the start, shape (r,)."""
        begin = np.zeros(len(self.stages))
        begin[self.start] = 1.0
        return self.equations.solve_transposed(begin)

    def sum_to_go(self, amounts: np.ndarray) -> np.ndarray:
        """Mean sum still to be collected from each stage, shape (r,).

        Args:
            amounts: What each outcome of the route adds, shape (k,).
        """
        return self.equations.solve(self._average(self.odds * amounts[self.outcomes]))

    def moments(self, amounts: np.ndarray, own_variance: np.ndarray | None = None) -> Moments:
        """Mean and standard deviation of the sum from the start.

        Args:
            amounts: What each outcome of the route adds, shape (k,).
            own_variance: Variance of that amount itself, shape (k,), where it is not certain.
        """
        added = amounts[self.outcomes]
        if not len(self.stages) or (own_variance is None and not added.any()):
            return Moments(0.0, 0.0)
        ahead = self.sum_to_go(amounts)
        after = np.where(self.target >= 0, ahead[self.target], 0.0)
        squares = (added + after - ahead[self.source]) ** 2
        if own_variance is not None:
            squares = squares + own_variance[self.outcomes]
        variance = float(self.visits @ self._average(self.odds * squares))
        return Moments(float(ahead[self.start]), float(np.sqrt(max(variance, 0.0))))

    def _average(self, weighted: np.ndarray) -> np.ndarray:
        return np.bincount(self.source, weights=weighted, minlength=len(self.stages))


def follow_choices(model: StageModel, actions: np.ndarray) -> Chain:
    """The chain of one action at each stage, as far as it is reached from the start.

    Args:
        model: The route.
        actions: Action taken at each stage, shape (n,); -1 at an end.
    """
    table = tabulate_actions(model)
    acting = np.flatnonzero(actions >= 0)
    chosen = csr_array(table.moves[np.maximum(actions, 0)])
    reached = np.zeros(len(actions), dtype=bool)
    if actions[model.start] >= 0:
        reached[breadth_first_order(chosen, model.start, return_predecessors=False)] = True
    stages = acting[reached[acting]]
    taken = np.zeros(len(model.action_stage), dtype=bool)
    taken[actions[stages]] = True
    outcomes = np.flatnonzero(taken[model.outcome_action] & (table.odds > 0))
    number = np.full(len(actions) + 1, -1)
    number[stages] = np.arange(len(stages))
    return Chain(
        stages=stages,
        actions=actions[stages],
        start=int(number[model.start]),
        outcomes=outcomes,
        source=number[model.action_stage[model.outcome_action[outcomes]]],
        target=np.where(table.ends[outcomes], -1, number[model.outcome_stage[outcomes]]),
        odds=table.odds[outcomes],
    )


def sum_chain(model: StageModel, choices: BestChoices) -> ChainSums:
    """Visits, steps, minutes and use of items of one run of the chosen way.

    Args:
        model: The route.
        choices: What is done at each stage.
    """
    chain = follow_choices(model, choices.actions)
    visits = np.zeros(len(model.stages))
    if not len(chain.stages):
        visits[model.start] = 1.0
        nothing = [Moments(0.0, 0.0) for _ in model.items]
        return ChainSums(visits, 0.0, Moments(0.0, 0.0), nothing, list(nothing))
    visits[chain.stages] = chain.visits
    landed = model.outcome_stage[chain.outcomes]
    ending = (chain.target < 0) & (landed >= 0)
    np.add.at(visits, landed[ending], (chain.visits[chain.source] * chain.odds)[ending])
    return ChainSums(
        visits=visits,
        steps=float(chain.visits.sum()),
        minutes=chain.moments(model.minutes),
        uses=_moments_by_item(chain, model.uses),
        gives=_moments_by_item(chain, model.gives),
    )


def _moments_by_item(chain: Chain, units: csr_array) -> list[Moments]:
    columns = units.tocsc()
    return [chain.moments(columns[:, [item]].toarray().ravel()) for item in range(units.shape[1])]
