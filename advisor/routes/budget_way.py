"""With a fixed budget: does the way with the best chance differ from the cheapest way?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from advisor.errors import CannotAnswer
from advisor.routes.budget import BudgetChances, chance_within_budget
from advisor.routes.cost_answer import RouteCost
from advisor.routes.solve import BestChoices
from advisor.routes.stages import ACTION_WORDS, STEP


@dataclass(frozen=True)
class BudgetWay:
    """The way with the best chance to finish within the budget.

    Attributes:
        best: Its chance, money that is not there never being spent.
        cheapest: The chance of the cheapest way, likewise.
        stage: Where the two ways part first; None where they do not.
        money_left: With so much left, the most with which it comes up.
        instead: What to do there in place of the cheapest way: a step's name, or
            "buy in" or "sell out"; None where they do not part.
    """

    best: float
    cheapest: float
    stage: str | None
    money_left: float | None
    instead: str | None

    def to_json(self) -> dict[str, Any]:
        """Plain values, for `within` in the JSON of a route."""
        return {
            "best_chance": self.best,
            "cheapest_chance": self.cheapest,
            "parts_at": self.stage,
            "money_left": self.money_left,
            "instead": self.instead,
        }


def find_budget_way(cost: RouteCost) -> BudgetWay | None:
    """Solve the route on stage and money left together, at its likeliest odds.

    None where the question has no answer of its own: no budget, several pieces,
    for sale, too many stages, or made items, whose luck counts too.
    """
    if cost.budget is None or cost.pieces != 1 or cost.goal != "keep" or cost.made:
        return None
    choices = BestChoices(cost.actions, cost.outcome_costs, cost.lower, cost.upper, 0)
    try:
        chances = chance_within_budget(
            cost.model, choices, cost.outcome_costs, budget=max(0.0, cost.budget)
        )
    except CannotAnswer:
        return None
    return _name_places(cost, chances)


def _name_places(cost: RouteCost, chances: BudgetChances) -> BudgetWay:
    switch = chances.switch
    if switch is None:
        return BudgetWay(chances.best, chances.cheapest, None, None, None)
    model = cost.model
    kind = int(model.action_kind[switch.action])
    does = (
        model.steps[int(model.action_step[switch.action])] if kind == STEP else ACTION_WORDS[kind]
    )
    return BudgetWay(
        chances.best, chances.cheapest, model.stages[switch.stage], switch.money_left, does
    )
