"""With a fixed budget: the best chance to finish, and whether the best way is not the cheapest.

The chance to finish from a stage with some money left is a maximum over the
actions, on stage and money left together:

    f(s, m) = max over actions a at s of  sum over outcomes  odds * f(next stage, m - cost),

1 at an end and 0 where an outcome cannot be paid: money that is not there
cannot be spent, and what an outcome gives back may be spent on. Money lies on a
lattice; an amount that does not fit is split so that its mean stays.

Source: maximal reachability by value iteration from below, Puterman, Markov
Decision Processes (Wiley 2005), theorem 7.2.12; stage and money left as one
state: Bertsekas, Dynamic Programming and Optimal Control, vol. 1, section 1.4.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.errors import CannotAnswer
from advisor.routes.affordable import AffordableOutcomes, gather_affordable
from advisor.routes.solve import BestChoices
from advisor.routes.stages import StageModel

SAME_CHANCE = 1e-10


@dataclass(frozen=True)
class BudgetSwitch:
    """The first place where one should leave the cheapest way.

    Attributes:
        stage: Index of the stage.
        money_left: With this much left, the most with which it comes up.
        action: The action to take instead.
        chance: Chance to finish from there with it.
        chance_cheapest: Chance to finish from there by the cheapest way.
    """

    stage: int
    money_left: float
    action: int
    chance: float
    chance_cheapest: float


@dataclass(frozen=True)
class BudgetChances:
    """The chance to finish within a budget.

    Attributes:
        budget: Money at hand.
        step: The lattice the money is counted on.
        fits: Every amount lies on the lattice, so that nothing was rounded.
        cheapest: Chance to finish by the way of least mean cost.
        best: Chance to finish by the way with the best chance.
        switch: Where the two part first; None where the cheapest way is best.
    """

    budget: float
    step: float
    fits: bool
    cheapest: float
    best: float
    switch: BudgetSwitch | None


def chance_within_budget(
    model: StageModel, choices: BestChoices, outcome_costs: np.ndarray, *, budget: float
) -> BudgetChances:
    """The best chance to reach an end before the money is gone.

    Meant for routes whose piece is kept: where one may stop at any time every end counts.

    Args:
        model: The route.
        choices: The way of least mean cost.
        outcome_costs: Cost of each outcome, either sign, shape (k,).
        budget: Money at hand, >= 0.
    Raises: CannotAnswer: The route has too many stages for this question.
    """
    acting = choices.actions >= 0
    if not acting[model.start]:
        return BudgetChances(budget, 1.0, True, 1.0, 1.0, None)
    everything = gather_affordable(model, acting, outcome_costs, budget=budget)
    if everything is None:
        raise CannotAnswer(
            f"{int(acting.sum())} stages are too many to ask for a budget's best chance",
            right="ask without a budget, or count fewer stages",
        )
    best = everything.solve()
    cheapest = everything.only(choices.actions[acting]).solve()
    top = everything.budget_cell
    start = everything.start
    return BudgetChances(
        budget=budget,
        step=everything.step,
        fits=everything.fits,
        cheapest=float(cheapest[top, start]),
        best=float(best[top, start]),
        switch=_find_switch(everything, choices.actions[acting], best, cheapest),
    )


def _find_switch(
    outcomes: AffordableOutcomes, usual: np.ndarray, best: np.ndarray, cheapest: np.ndarray
) -> BudgetSwitch | None:
    """Follow the cheapest way as long as it is best; where it first is not, with most money left.

    A way is left at a place if its action there, followed by the best way, does worse.
    """
    if (
        best[outcomes.budget_cell, outcomes.start] - cheapest[outcomes.budget_cell, outcomes.start]
        <= SAME_CHANCE
    ):
        return None
    usual_only = outcomes.only(usual)
    worse = best - usual_only.act_once(best) > SAME_CHANCE
    met = usual_only.follow_until(worse)
    cells, stages = np.nonzero(met & worse)
    # With more than the budget left something came back: such places come last.
    first = np.lexsort((stages, np.abs(outcomes.budget_cell - cells), cells > outcomes.budget_cell))
    cell, stage = int(cells[first[0]]), int(stages[first[0]])
    return BudgetSwitch(
        stage=int(outcomes.stages[stage]),
        money_left=cell * outcomes.step,
        action=outcomes.best_action(best, cell, stage),
        chance=float(best[cell, stage]),
        chance_cheapest=float(cheapest[cell, stage]),
    )
