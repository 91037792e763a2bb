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

MOST_TOLD = 1000


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


def find_other_ways(cost: RouteCost, *, most: int = MOST_TOLD) -> list[OtherWay]:
    """The other actions at the stages that the best way visits, in reading order.

    Args:
        most: Of more than so many, those that cost least more.
    """
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
    best = cost.actions[model.action_stage] == np.arange(len(model.action_stage))
    more = np.where(best, np.nan, to_go - known[model.action_stage])
    rows = np.flatnonzero(np.isfinite(more))
    if len(rows) > most:
        rows = np.sort(rows[np.argsort(more[rows], kind="stable")[:most]])
    found = (_told(cost, int(action), float(to_go[action]), float(more[action])) for action in rows)
    return [each for each in found if each.visits != 0]


def _told(cost: RouteCost, action: int, to_go: float, more: float) -> OtherWay:
    model = cost.model
    stage, kind = model.stages[int(model.action_stage[action])], int(model.action_kind[action])
    step = model.steps[int(model.action_step[action])] if kind == STEP else None
    if kind == BUY_IN:
        first = int(np.searchsorted(model.outcome_action, action))
        step = model.stages[int(model.outcome_stage[first])]
    visits = cost.visits.get(stage)
    return OtherWay(stage, ACTION_WORDS[kind], step, to_go, max(0.0, more), visits)
