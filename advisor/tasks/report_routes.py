"""A route as its page shows it: law of the cost, what it is made of, picture."""

from __future__ import annotations

from advisor.routes.cost_answer import RouteCost
from advisor.routes.stages import ACTION_WORDS, BUY_IN, END, SELL_OUT, STEP
from advisor.tasks.crafting import Craft
from reports.pages_data import CostOdds, CostPart, PictureEdge, PictureStage, RouteDrawing

OWN_TIME = "your own time"
PICTURED_STAGES = 400
"""A route with more stages has no picture: nobody could read it."""


def draw_route(craft: Craft, route: str, *, about: str) -> RouteDrawing:
    """One route of a piece: the law of its cost, what it is made of, its picture."""
    cost = craft.costs[route]
    verdict = next((each for each in craft.advice.routes if each.option.route == route), None)
    law = None
    if verdict is not None:
        values, chances = verdict.law.cells()
        law = CostOdds(values.tolist(), chances.tolist())
    pictured = len(cost.model.stages) <= PICTURED_STAGES
    return RouteDrawing(
        route=route,
        about=about or None,
        cost=law,
        parts=_cost_parts(craft, route),
        stages=_picture_stages(craft, route) if pictured else (),
        edges=_picture_edges(craft, route) if pictured else (),
    )


def _cost_parts(craft: Craft, route: str) -> list[CostPart]:
    cost = craft.costs[route]
    mean = cost.mean
    used = [
        (each.item, each.mean, each.unit_price, each.mean * each.unit_price, "used")
        for each in cost.use.values()
        if each.mean is not None
    ]
    back = [
        (each.item, each.mean, price, -each.mean * price, "comes back")
        for each in cost.gives.values()
        if each.mean is not None
        for price in (each.unit_price or 0.0,)
    ]
    own = cost.own_time or 0.0
    hours = [(OWN_TIME, own / cost.hour_value, cost.hour_value, own, "hours")] if own else []
    return [
        CostPart(item, units, price, spent, spent / mean if mean and mean > 0 else None, kind)
        for item, units, price, spent, kind in sorted(
            used + back + hours, key=lambda each: -each[3]
        )
    ]


def _picture_stages(craft: Craft, route: str) -> list[PictureStage]:
    cost = craft.costs[route]
    model = cost.model
    return [
        PictureStage(
            name=name,
            cost_to_go=cost.choices[name].cost_to_go if name in cost.choices else None,
            start=number == model.start,
            done=bool(model.done[number]),
            visits=cost.visits.get(name),
        )
        for number, name in enumerate(model.stages)
    ]


def _picture_edges(craft: Craft, route: str) -> list[PictureEdge]:
    cost = craft.costs[route]
    model = cost.model
    edges = []
    for row, action in enumerate(model.outcome_action.tolist()):
        stage, kind = int(model.action_stage[action]), int(model.action_kind[action])
        best = int(cost.actions[stage]) == action
        if not (kind in (STEP, SELL_OUT) or best or (kind == BUY_IN and stage == model.start)):
            continue  # one may buy in at every stage: drawn at the start, and where it is best
        target = int(model.outcome_stage[row])
        edges.append(
            PictureEdge(
                origin=model.stages[stage],
                target=None if target == END else model.stages[target],
                label=_label(cost, row),
                odds=float(model.odds[row]),
                best=best,
                kind=ACTION_WORDS[kind],
                price=abs(float(cost.outcome_costs[row])) if kind in (BUY_IN, SELL_OUT) else None,
            )
        )
    return edges


def _label(cost: RouteCost, row: int) -> str:
    """What an outcome's action is called: its step, or the item it buys or sells."""
    model = cost.model
    action = int(model.outcome_action[row])
    kind = int(model.action_kind[action])
    if kind == STEP:
        return model.steps[int(model.action_step[action])]
    moved = model.uses if kind == BUY_IN else model.gives
    items = moved[[row], :].indices
    return model.items[int(items[0])] if len(items) else ACTION_WORDS[kind]
