"""Where the make-or-buy answer flips: by the price of a supply, of the piece, or by odds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial

from advisor.decide.break_even import FlipPoint, flip_odds, flip_price
from advisor.decide.craft import CraftAdvice
from advisor.errors import RouteFault
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.priced import Prices
from advisor.routes.repricing import Repricing, StepOdds
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, count_tries, sell_prices

ODDS_TRIED = 6


def find_flips(
    book: RouteBook,
    advice: CraftAdvice,
    costs: Mapping[str, RouteCost],
    *,
    pricing: Pricing,
    goal: str,
    piece: str,
) -> list[FlipPoint]:
    """Where the answer flips by the price of a supply or of the piece, or by the odds of a step.

    With caution, the cautious cost is taken to move in proportion to the mean.
    """
    best = advice.best
    if best is None or advice.alternative is None or best.option.mean == 0:
        return []
    cost = costs[best.option.route]
    target = advice.alternative * best.option.mean / best.cautious if best.cautious else 0.0
    target /= cost.pieces
    asked = _repricing(book, cost, pricing, goal=goal)
    flips = []
    for item, use in cost.use.items():
        if name_key(item) == name_key(pricing.market.money) or use.unit_price <= 0:
            continue
        at = flip_price(partial(_cost_at_price, asked, item), target, now=use.unit_price)
        if at is not None:
            flips.append(FlipPoint(item, "item", use.unit_price, at))
    for step in asked.chancy_steps()[:ODDS_TRIED]:
        at = flip_odds(partial(_cost_at_odds, asked, step), target, now=step.odds)
        if at is not None:
            flips.append(FlipPoint(step.step, "odds", step.odds, at))
    if goal == "keep" and best.cautious > 0:
        flips.append(
            FlipPoint(piece, "item", advice.alternative / cost.pieces, best.cautious / cost.pieces)
        )
    return sorted(flips, key=_distance)


def _cost_at_price(asked: Repricing, item: str, price: float) -> tuple[float, float]:
    """Least mean cost and units used; minus infinity where a loop earns without limit."""
    try:
        return asked.cost_at_price(item, price)
    except RouteFault:
        return -math.inf, 0.0


def _cost_at_odds(asked: Repricing, step: StepOdds, odds: float) -> float:
    try:
        return asked.cost_at_odds(step, odds)
    except RouteFault:
        return -math.inf


def _distance(flip: FlipPoint) -> float:
    return abs(math.log(flip.flips_at / flip.now)) if flip.flips_at > 0 else math.inf


def _repricing(book: RouteBook, cost: RouteCost, pricing: Pricing, *, goal: str) -> Repricing:
    trade = pricing.settings.trade
    walked = {name_key(each.item): each.unit_price for each in cost.use.values()}
    prices = Prices(
        {name_key(item): price for item, price in buy_prices(pricing).items()}
        | walked
        | {name_key(pricing.market.money): 1.0},
        {name_key(item): price for item, price in sell_prices(pricing).items()}
        | {name_key(pricing.market.money): 1.0},
        float(trade.hour_value),
    )
    return Repricing(
        cost.route,
        book.routes,
        prices=prices,
        money=pricing.market.money,
        goal=goal,
        trust=trade.trust,
        tries=count_tries(book, pricing),
    )
