"""A chosen way whose odds can be exchanged while its choices stay."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from advisor.routes.chain import Chain
from advisor.routes.equations import ChainEquations
from advisor.routes.learned import UnsureStep
from advisor.routes.stages import StageModel


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
        """How often each outcome comes to pass at these odds, shape (k,)."""
        chain = self.chain
        found = np.zeros(len(self.model.odds))
        if not len(chain.stages):
            return found
        own = odds[chain.outcomes]
        onward = chain.target >= 0
        moves = csr_array(
            (own[onward], (chain.source[onward], chain.target[onward])),
            shape=(len(chain.stages), len(chain.stages)),
        )
        begin = np.zeros(len(chain.stages))
        begin[chain.start] = 1.0
        visits = ChainEquations(moves).solve_transposed(begin)
        found[chain.outcomes] = visits[chain.source] * own
        return found

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
