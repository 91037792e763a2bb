"""A route's cost as the plain values of its JSON."""

from __future__ import annotations

from math import isfinite
from typing import Any

from advisor.routes.budget_way import find_budget_way
from advisor.routes.cost_answer import NO_PROMISE, RouteCost
from advisor.routes.other_ways import find_other_ways
from advisor.routes.total_law import CostDistribution

QUANTILES = ("0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99")
WORST = 0.95


def route_json(cost: RouteCost, *, as_of: str) -> dict[str, Any]:
    """The answer of `route ROUTE --json`; what does not exist is None.

    Args:
        cost: The answer.
        as_of: Time the prices are of, RFC 3339 UTC.
    """
    answer: dict[str, Any] = {
        "route": cost.route,
        "makes": cost.makes,
        "for": cost.goal,
        "money": cost.money,
        "as_of": as_of,
        "pieces": cost.pieces,
        "cost": {
            "mean": cost.mean,
            "sd": _finite(cost.law.sd),
            "quantiles": _quantiles(cost.law),
            "shortfall_95": None if cost.mean is None else cost.law.shortfall(WORST),
            "odds_sd": cost.odds_sd,
        },
        "minutes": {"mean": _finite(cost.minutes.mean), "quantiles": _quantiles(cost.minutes)},
        "own_time": {"mean_cost": cost.own_time, "hour_value": cost.hour_value},
        "use": {
            item: {
                "mean": use.mean,
                "sd": _finite(use.law.sd),
                "quantiles": _quantiles(use.law),
                "unit_price": use.unit_price,
                "mean_cost": use.mean_cost,
            }
            for item, use in cost.use.items()
        },
        "gives": {
            item: {"mean": give.mean, "unit_price": give.unit_price}
            for item, give in cost.gives.items()
        },
        "made": {
            item: {"route": made.route, "mean": made.mean, "unit_cost": made.unit_cost}
            for item, made in cost.made.items()
        },
        "choices": {
            stage: {
                "action": choice.action,
                "step": choice.step,
                "cost_to_go": _finite(choice.cost_to_go),
            }
            for stage, choice in cost.choices.items()
        },
        "other_ways": [
            {
                "stage": each.stage,
                "action": each.action,
                "step": each.step,
                "cost_to_go": each.cost_to_go,
                "more": each.more,
            }
            for each in find_other_ways(cost)
        ],
        "visits": dict(cost.visits),
        "proof": {
            "lower": _finite(cost.lower),
            "upper": _finite(cost.upper),
            "stages": len(cost.model.stages),
            "mass_left": cost.law.mass_left,
        },
        "cautions": [*cost.cautions, NO_PROMISE],
    }
    if cost.budget is not None:
        answer["within"] = {"budget": cost.budget, "chance": cost.chance_within}
        way = find_budget_way(cost)
        if way is not None:
            answer["within"] |= way.to_json()
    return answer


def _quantiles(law: CostDistribution) -> dict[str, float]:
    return {share: law.quantile(float(share)) for share in QUANTILES}


def _finite(number: float) -> float | None:
    return number if isfinite(number) else None
