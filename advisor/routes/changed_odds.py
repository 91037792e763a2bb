"""A chosen way whose odds can be exchanged while its choices stay."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from advisor.routes.chain import Chain
from advisor.routes.equations import ChainEquations
from advisor.routes.learned import UnsureStep
from advisor.routes.stages import StageModel

STAGES_AT_ONCE = 40


class WayWithOdds:
    """The chain of a chosen way, solved at any odds of its outcomes.

    Attributes:
        model: The route.
        chain: The chosen way.
        mean_odds: float, shape (k,): the model's odds, those of unsure steps at their means.
    """

    def __init__(self, model: StageModel, chain: Chain) -> None:
        self.model = model
        self.chain = chain
        self.mean_odds = model.odds.copy()

    def place_outcomes(self, step: UnsureStep) -> np.ndarray:
        """Which of an unsure step's outcomes each outcome on the way is, shape (k,), else -1."""
        place = np.full(len(self.model.odds), -1)
        on_way = self.chain.outcomes
        place[on_way] = step.find_outcomes(self.model)[on_way]
        return place

    def use_means(self, step: UnsureStep, place: np.ndarray) -> None:
        """Put the odds of an unsure step at their posterior means."""
        for number, mean in enumerate(step.posterior.mean()):
            self.mean_odds[place == number] *= mean / step.odds[number]

    def flows(self, odds: np.ndarray) -> np.ndarray:
        """How often each outcome comes to pass, shape (ways, k).

        Args:
            odds: Of every outcome, one row for each way they may be, shape (ways, k).
        """
        chain = self.chain
        found = np.zeros(odds.shape)
        if not len(chain.stages) or not len(odds):
            return found
        own = odds[:, chain.outcomes]
        at_once = len(chain.stages) <= STAGES_AT_ONCE
        visits = self._visit_at_once(own) if at_once else self._visit_one_by_one(own)
        found[:, chain.outcomes] = visits[:, chain.source] * own
        return found

    def _visit_one_by_one(self, own: np.ndarray) -> np.ndarray:
        """Mean visits of each stage of the chain at each row of odds, shape (ways, r)."""
        chain, count = self.chain, len(self.chain.stages)
        onward = chain.target >= 0
        places = (chain.source[onward], chain.target[onward])
        begin = np.zeros(count)
        begin[chain.start] = 1.0
        return np.array(
            [
                ChainEquations(
                    csr_array((row[onward], places), shape=(count, count))
                ).solve_transposed(begin)
                for row in own
            ]
        )

    def _visit_at_once(self, own: np.ndarray) -> np.ndarray:
        """The same for a small chain, all rows in one call."""
        chain, count = self.chain, len(self.chain.stages)
        onward = chain.target >= 0
        place = chain.target[onward] * count + chain.source[onward]
        moves = np.array([np.bincount(place, row[onward], count * count) for row in own])
        matrices = np.eye(count) - moves.reshape(-1, count, count)
        begin = np.zeros((count, 1))
        begin[chain.start] = 1.0
        found: np.ndarray = np.linalg.solve(matrices, begin)
        return found[:, :, 0]

    def visits(self, flows: np.ndarray) -> np.ndarray:
        """Mean visits of each stage when outcomes come to pass this often, shape (n,)."""
        landing = self.model.outcome_stage >= 0
        found = np.bincount(
            self.model.outcome_stage[landing],
            weights=flows[landing],
            minlength=len(self.model.stages),
        )
        found[self.model.start] += 1.0
        return found

    def ends_without(self, left_out: np.ndarray) -> bool:
        """Whether the way ends from everywhere without these outcomes. [bool, shape (k,)]"""
        chain = self.chain
        kept = ~left_out[chain.outcomes]
        end = len(chain.stages)
        target = np.where(chain.target < 0, end, chain.target)[kept]
        backward = csr_array(
            (np.ones(len(target)), (target, chain.source[kept])), shape=(end + 1, end + 1)
        )
        return len(breadth_first_order(backward, end, return_predecessors=False)) == end + 1
