"""What else could be done at each stage, and how much more it costs than the best.

Doing it once: one takes another action here, then goes on the best way. Its cost to go is
the mean cost of the action plus the cost to go from wherever it leads; by the principle of
optimality none is below the best.

Source: Puterman, Markov Decision Processes (Wiley 1994), section 4.3 (one-step deviations).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.routes.cost_answer import RouteCost
from advisor.routes.stages import ACTION_WORDS, BUY_IN, END, STEP


@dataclass(frozen=True, slots=True)
class OtherWay:
    """One action that is not the best at its stage.

    Attributes:
        action: "step", "buy in", "sell out" or "stop".
        step: The step's name; for buy in, the stage bought into; else None.
        cost_to_go: Mean cost from here on if it is taken once.
        more: How much more that is than the best.
        visits: Mean visits of the stage on the best way.
    """

    stage: str
    action: str
    step: str | None
    cost_to_go: float
    more: float
    visits: float | None


def find_other_ways(cost: RouteCost) -> list[OtherWay]:
    """Every other action at the stages that the best way visits, in reading order."""
    model = cost.model
    known = np.full(len(model.stages), np.nan)
    known[model.done] = 0.0
    number = {stage: place for place, stage in enumerate(model.stages)}
    for stage, choice in cost.choices.items():
        known[number[stage]] = choice.cost_to_go
    after = np.where(model.outcome_stage == END, 0.0, known[model.outcome_stage])
    # an outcome that cannot come is no matter, though nothing is known of where it leads
    terms = np.where(model.odds > 0, model.odds * (cost.outcome_costs + after), 0.0)
    to_go = np.bincount(model.outcome_action, weights=terms, minlength=len(model.action_stage))
    first = np.searchsorted(model.outcome_action, np.arange(len(model.action_stage)))
    found = []
    for action in np.flatnonzero(np.isfinite(to_go)).tolist():
        place = int(model.action_stage[action])
        stage, kind = model.stages[place], int(model.action_kind[action])
        visits = cost.visits.get(stage)
        if int(cost.actions[place]) == action or stage not in cost.choices or visits == 0:
            continue
        step = model.steps[int(model.action_step[action])] if kind == STEP else None
        if kind == BUY_IN:
            step = model.stages[int(model.outcome_stage[first[action]])]
        more = max(0.0, float(to_go[action] - known[place]))
        words = ACTION_WORDS[kind]
        found.append(OtherWay(stage, words, step, float(to_go[action]), more, visits))
    return found
