"""What supplies cost in the quantities that a route uses: prices walked up the ladders."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from advisor.errors import CannotAnswer
from advisor.figures import amount
from advisor.levels.ladders import Ladder
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route

STANDING_US = MICROSECONDS_A_DAY
"""A ladder older than this is taken down by now: only the level and its depth count."""

WALKS = 6

WORTH_TELLING = 0.01
"""Share of the mean cost from which on walking the ladders is worth a sentence."""


@dataclass(frozen=True)
class WalkedCost:
    """What a route costs when its supplies are bought now.

    Attributes:
        cost: At the unit prices of the quantities it uses.
        mean_at_levels: Mean cost if every unit cost the ask level; None where no mean exists.
    """

    cost: RouteCost
    mean_at_levels: float | None


def cost_at_walked_prices(
    book: RouteBook, route: str, pricing: Pricing, *, goal: str, count: int = 1
) -> WalkedCost:
    """The route's cost when each item costs what the mean use of it costs on its ladder.

    Use depends on prices through the best choices, and prices on use through the
    ladders: the two are brought into agreement.
    """
    buy = buy_prices(pricing)
    cost = cost_route(book, route, pricing=pricing, goal=goal, pieces=count, buy=buy)
    mean_at_levels = cost.mean
    for _ in range(WALKS):
        walked = buy | {
            each.item: walk_price(each.item, each.mean, pricing)
            for each in cost.use.values()
            if each.mean is not None and _is_walked(each.item, pricing)
        }
        if all(math.isclose(walked[item], buy[item], rel_tol=1e-9) for item in walked):
            break
        buy = walked
        cost = cost_route(book, route, pricing=pricing, goal=goal, pieces=count, buy=buy)
    return WalkedCost(cost, mean_at_levels)


def tell_walking(cost: RouteCost, pricing: Pricing) -> list[str]:
    """Said where buying the mean use at once costs clearly more or less than at the levels."""
    extra = sum(
        (walk_price(use.item, use.mean, pricing) - use.unit_price) * use.mean
        for use in cost.use.values()
        if use.mean is not None and use.mean > 0 and _is_walked(use.item, pricing)
    )
    if cost.mean is None or abs(extra) < WORTH_TELLING * abs(cost.mean):
        return []
    word = "more" if extra > 0 else "less"
    return [
        f"Each price is that of one's usual quantity; the mean use bought at once costs "
        f"{amount(abs(extra))} {cost.money} {word} at the offers that stand now, which advise "
        f"craft counts in."
    ]


def _is_walked(item: str, pricing: Pricing) -> bool:
    name = pricing.name(item)
    levels = pricing.levels(name)
    is_money = pricing.market.rates.now(name) is not None
    return (
        levels is not None
        and levels.ladder is not None
        and not is_money
        and (name not in pricing.fixed)
    )


def walk_price(item: str, units: float, pricing: Pricing) -> float:
    """What one unit costs on average when this many are bought now."""
    levels = pricing.levels(pricing.name(item))
    if levels is None or levels.ladder is None:
        raise CannotAnswer("nobody is known to ask a price for it", item=item)
    ladder = standing_ladder(levels.ladder, pricing.market.as_of_us)
    bought = ladder.units_to_buy(max(1.0, units))
    return ladder.cost_of(bought) / bought


def standing_ladder(ladder: Ladder, as_of_us: int) -> Ladder:
    """The ladder without offers that were seen too long ago to stand still."""
    fresh = ladder.seen_us is not None and as_of_us - ladder.seen_us <= STANDING_US
    return ladder if fresh else replace(ladder, steps=())
