"""What the best way costs from any stage on: the piece is on the table, what lies ahead?"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.distribution import cost_distribution
from advisor.routes.solve import BestChoices
from advisor.routes.stages import END, StageModel
from advisor.routes.total_law import CostDistribution


class CostFromStage:
    """Mean and law of the cost still to come, at the single odds and the prices of an answer.

    Made items count at their mean cost: the luck is that of this route's own steps.

    Args:
        cost: The route's answer.
    """

    def __init__(self, cost: RouteCost) -> None:
        self.cost = cost
        self.model: StageModel = cost.model
        self._laws: dict[int, CostDistribution | None] = {}

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {name_key(name): number for number, name in enumerate(self.model.stages)}

    def number(self, stage: str) -> int | None:
        """The stage of this name; None where the route has it not."""
        return self._numbers.get(name_key(stage))

    @cached_property
    def _choices(self) -> BestChoices:
        to_go = np.where(self.model.done, 0.0, np.nan)
        for stage, choice in self.cost.choices.items():
            to_go[self._numbers[name_key(stage)]] = choice.cost_to_go
        pieces = self.cost.pieces
        return BestChoices(
            self.cost.actions, to_go, self.cost.lower / pieces, self.cost.upper / pieces, 0
        )

    def is_end(self, stage: int) -> bool:
        """Whether nothing is to be done any more."""
        return stage == END or bool(self.model.done[stage] and self.cost.actions[stage] < 0)

    def mean(self, stage: int) -> float | None:
        """Mean cost to go; None where the best way from there is not known."""
        found = float(self._choices.cost_to_go[stage])
        return None if np.isnan(found) else found

    def law(self, stage: int) -> CostDistribution | None:
        """Law of the cost to go; None where the best way from there is not known."""
        if stage not in self._laws:
            self._laws[stage] = self._find_law(stage, self.cost.outcome_costs)
        return self._laws[stage]

    def purse_law(self, stage: int) -> CostDistribution | None:
        """Law of what the purse must still hold; None where the best way is not known."""
        return self._find_law(stage, self.purse)

    @property
    def purse(self) -> np.ndarray:
        """What each outcome takes out of a purse, shape (k,): money alone.

        For sale nothing that comes in is taken off: it is paid when all is bought.
        """
        return self.cost.outcome_spent if self.cost.goal == "sale" else self.money

    @cached_property
    def money(self) -> np.ndarray:
        """What each outcome costs, one's own time left out, shape (k,)."""
        return np.asarray(self.cost.outcome_costs - self.cost.outcome_time)

    def minutes_law(self, stage: int) -> CostDistribution:
        """Law of the time still to come."""
        if self.cost.actions[stage] < 0:
            return CostDistribution.certain(0.0)
        return cost_distribution(
            replace(self.model, start=stage), self._choices, self.model.minutes
        )

    def _find_law(self, stage: int, amounts: np.ndarray) -> CostDistribution | None:
        if self.cost.actions[stage] < 0:
            return CostDistribution.certain(0.0) if self.is_end(stage) else None
        return cost_distribution(replace(self.model, start=stage), self._choices, amounts)
