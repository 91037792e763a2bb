"""What a piece brings taken apart: steps that use it and give supplies back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.stages import STEP
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import buy_prices


@dataclass(frozen=True, slots=True)
class BreakUp:
    """The best way to take one piece apart.

    Attributes:
        step, route: Where it is written.
        value: What comes back brings, less what else is used, on average for one piece.
        minutes: Time it takes.
    """

    step: str
    route: str
    value: float
    minutes: float


def find_break_up(
    cost: RouteCost, piece: str, *, pricing: Pricing, sold: dict[str, float]
) -> BreakUp | None:
    """The best step of a route that uses a piece whatever comes and gives something back.

    Args:
        cost: The route's answer.
        sold: What one of each item brings, net, by its key.
    """
    model = cost.model
    keys = [name_key(pricing.name(item)) for item in model.items]
    wanted = name_key(pricing.name(piece))
    if wanted not in keys:
        return None
    column = keys.index(wanted)
    bought = {name_key(item): price for item, price in buy_prices(pricing).items()}
    used = np.asarray(model.uses[:, [column]].todense()).ravel()
    others = np.array([0.0 if key == wanted else bought.get(key, 0.0) for key in keys])
    gained = np.asarray(model.gives @ np.array([sold.get(key, 0.0) for key in keys]))
    net = gained - np.asarray(model.uses @ others)
    best: BreakUp | None = None
    for action in np.flatnonzero(model.action_kind == STEP).tolist():
        rows = np.flatnonzero(model.outcome_action == action)
        pieces = used[rows]
        if not np.all(pieces > 0) or not np.any(gained[rows] > 0):
            continue
        odds, count = model.odds[rows], float(model.odds[rows] @ pieces)
        value = float(odds @ net[rows]) / count
        if best is None or value > best.value:
            minutes = float(odds @ model.minutes[rows]) / count
            step = model.steps[int(model.action_step[action])]
            best = BreakUp(step, cost.route, value, minutes)
    return best
