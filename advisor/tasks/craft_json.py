"""Make or buy as the plain values of its JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from advisor.decide.craft import RouteVerdict
from advisor.routes.route_json import QUANTILES
from advisor.tasks.crafting import Craft
from advisor.times import us_to_rfc3339


def craft_json(craft: Craft) -> dict[str, Any]:
    """The answer of `advise craft PIECE --json`; what does not exist is None."""
    advice, pricing = craft.advice, craft.pricing
    best_cost = craft.best_cost
    return {
        "piece": craft.piece,
        "for": craft.goal,
        "money": pricing.market.money,
        "as_of": us_to_rfc3339(pricing.market.as_of_us),
        "verdict": advice.verdict,
        "route": None if advice.best is None else advice.best.option.route,
        "buy": _buy_json(craft),
        "make": None if advice.best is None else _make_json(advice.best),
        "saving": None
        if advice.saving is None
        else {"mean": advice.saving, "sd": advice.saving_sd},
        "chance_make_cheaper": advice.chance_make_cheaper,
        "chance_this_one_cheaper": advice.chance_this_one_cheaper,
        "uncertainty": advice.shares or {"luck": None, "prices": None, "odds": None},
        "routes": [
            {
                "route": each.option.route,
                "mean": each.option.mean,
                "sd": each.law.sd,
                "chance_cheapest": advice.chance_cheapest[each.option.route],
            }
            for each in advice.routes
        ],
        "break_even": [
            {
                flip.kind: flip.name,
                "now": flip.now,
                "flips_at": flip.flips_at,
                "change": flip.change,
            }
            for flip in craft.flips
        ],
        "count": craft.count,
        "worth_knowing": [
            {"what": each.what, "worth": each.worth, "one_more_quote": each.one_more}
            for each in craft.worth_knowing
        ],
        "worth_of_tries": [
            {"route": each.route, "step": each.step, "tries": each.tries, "worth": each.worth}
            for each in craft.tries_worth
        ],
        "choices": {}
        if best_cost is None
        else {
            stage: {"action": each.action, "step": each.step, "cost_to_go": each.cost_to_go}
            for stage, each in best_cost.choices.items()
        },
        "made_or_bought": [asdict(each) for each in craft.made_or_bought],
        "reasons": list(craft.reasons),
        "cautions": list(craft.cautions),
    }


def _buy_json(craft: Craft) -> dict[str, Any] | None:
    buy = craft.advice.buy
    if buy is None:
        return None
    levels = craft.pricing.levels(craft.piece)
    newest = None if levels is None else levels.newest_us
    return {
        "level": buy.belief.price,
        "sd": buy.belief.price * buy.belief.log_sd,
        "quotes": 0 if levels is None else levels.quotes,
        "newest": None if newest is None else us_to_rfc3339(newest),
    }


def _make_json(best: RouteVerdict) -> dict[str, Any]:
    return {
        "mean": best.option.mean,
        "sd": best.law.sd,
        "quantiles": {share: best.law.quantile(float(share)) for share in QUANTILES},
        "shortfall_95": best.law.worst_mean(),
    }
