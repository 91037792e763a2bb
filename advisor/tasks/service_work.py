"""What an order costs you, and what others ask for the same."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import exp, hypot

import numpy as np

from advisor.decide.service.winning import PLAIN_LOG_SD, GoingRate
from advisor.errors import CannotAnswer
from advisor.figures import difference
from advisor.routes.cost_answer import RouteCost
from advisor.routes.total_law import CostDistribution
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route
from advisor.tasks.walked_prices import cost_at_walked_prices

MOST_LOG_SD = 0.5
"""How widely offers for the mere work are taken to scatter at most, log scale."""

MOST_SDS = 3.0


@dataclass(frozen=True)
class ServiceWork:
    """What the orders cost you.

    Attributes:
        cost: The route's cost for all orders together.
        amounts: What each outcome of the route costs you, shape (k,).
        one: The route's cost for one order, at the same prices.
        law: The law of what any number of orders costs you.
        supplies_cost: Mean cost of the supplies of one order, time left out.
    """

    cost: RouteCost
    amounts: np.ndarray
    one: RouteCost
    law: Callable[[int], CostDistribution]
    supplies_cost: float


def find_work(
    book: RouteBook, route: str, *, pricing: Pricing, orders: int, own: bool
) -> ServiceWork:
    """What some orders of a route cost, supplies bought for one order at a time.

    Args:
        route: Its name, as in the book.
        own: Whether the supplies are yours; else only your time counts.
    Raises: CannotAnswer: items without a price, or no mean cost exists.
    """
    walked = cost_at_walked_prices(book, route, pricing, goal="keep").cost
    buy = buy_prices(pricing) | {each.item: each.unit_price for each in walked.use.values()}
    costed = cache(lambda count: cost_route(book, route, pricing=pricing, pieces=count, buy=buy))
    cost = costed(orders)
    if cost.mean is None:
        raise CannotAnswer(
            f"no mean cost of {route!r} exists, so no price can be told",
            right="log tries of the step whose odds are not known",
        )
    one, hour_value = costed(1), float(pricing.settings.trade.hour_value)

    def law(count: int) -> CostDistribution:
        if count == 1 or one.odds_sd:
            found = costed(count)
            return found.law if own else _timed(found.minutes, hour_value)
        return law(1).n_fold(count)

    minutes = np.asarray(one.model.minutes) * hour_value / 60.0
    spent = (one.mean or 0.0) - hour_value * one.minutes.mean / 60.0
    return ServiceWork(cost, one.outcome_costs if own else minutes, one, cache(law), spent)


def _timed(minutes: CostDistribution, hour_value: float) -> CostDistribution:
    """The law of what the time is worth."""
    rate = hour_value / 60.0
    if rate == 0:
        return CostDistribution.certain(0.0)
    return CostDistribution(
        low=rate * minutes.low,
        step=rate * minutes.step,
        pmf=minutes.pmf,
        mean=rate * minutes.mean,
        sd=rate * minutes.sd,
        mass_left=minutes.mass_left,
        rounding_sd=rate * minutes.rounding_sd,
    )


def find_going_rate(item: str, pricing: Pricing) -> GoingRate | None:
    """What others ask for an item; None where nobody is seen asking."""
    name = pricing.name(item)
    if name in pricing.fixed:
        return GoingRate(pricing.fixed[name], 0.0, PLAIN_LOG_SD) if pricing.fixed[name] else None
    levels = pricing.levels(name)
    if levels is None or levels.ask is None:
        return None
    spread = PLAIN_LOG_SD if levels.ask_path is None else levels.ask_path.quote_sd
    return GoingRate(levels.ask.level, levels.ask.sd, hypot(spread, levels.ask.log_sd))


def less_supplies(rate: GoingRate, supplies: float) -> GoingRate | None:
    """What is left of the going rate for the work, where the customer brings the supplies."""
    left = difference(rate.level, supplies)
    if left <= 0:
        return None
    log_sd = min(rate.log_sd * rate.level / left, MOST_LOG_SD)
    # Who brings the supplies pays no more than the dearest offer of the whole, less these.
    most = max(left, rate.level * exp(MOST_SDS * rate.log_sd) - supplies)
    return replace(rate, level=left, log_sd=log_sd, most=most)
