"""Every way an evening may be spent: pieces, grades, half-made stages and services."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from advisor.errors import MakeworthError
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.from_stage import CostFromStage
from advisor.routes.total_law import CostDistribution
from advisor.tasks.part_routes import in_place_of, to_grades, up_to_stage
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route
from advisor.tasks.stock_markets import SERVICES

PIECE, GRADE, HALF_MADE, SERVICE = "piece", "grade", "half-made", "service"


@dataclass(frozen=True, eq=False)
class Way:
    """One way to make something that sells.

    Attributes:
        what: In words.
        route: The route that it goes by.
        kind: "piece", "grade", "half-made" or "service".
        sells: The item that one has in the end.
        cost: Mean cost of one, the value of the time in it.
        minutes: Mean time for one.
        spent: Mean money for one.
        supplies_sold: What the supplies of one would bring as they are; None where some
            of them have no sale price.
        find_law, find_minutes: Find the laws of the cost and the time of one.
        bought: The half-made item one starts from; None where one starts from supplies.
    """

    what: str
    route: str
    kind: str
    sells: str
    cost: float
    minutes: float
    spent: float
    supplies_sold: float | None
    find_law: Callable[[], CostDistribution]
    find_minutes: Callable[[], CostDistribution]
    bought: str | None = None


def is_service(item: str, pricing: Pricing) -> bool:
    """Whether an item is a service, paid when it is done, and not a piece to list."""
    return name_key(pricing.settings.item(pricing.name(item)).family or "") == SERVICES


def find_ways(
    book: RouteBook, pricing: Pricing, *, sold: dict[str, float]
) -> tuple[list[Way], list[str]]:
    """Every way there is in the workspace's routes; and what was left out, in sentences.

    Args:
        sold: What one of each item brings, net, by its key.
    """
    ways: list[Way] = []
    notes = [f"{name} is not compared: {book.tell(fault)}." for name, fault in book.faults.items()]
    for name in book.routes:
        try:
            cost = cost_route(book, name, pricing=pricing)
        except MakeworthError as fault:
            notes.append(f"{name} is not compared: {book.tell(fault)}.")
            continue
        if cost.mean is None:
            notes.append(f"{name} is not compared: no mean cost exists.")
            continue
        whole = _whole(cost, pricing, sold)
        ways += [whole, *_finished(book, cost, pricing), *_parts(book, name, pricing, sold)]
    return ways, notes


def _whole(cost: RouteCost, pricing: Pricing, sold: dict[str, float]) -> Way:
    if is_service(cost.makes, pricing):
        return _way(f"{cost.makes} for others by {cost.route}", SERVICE, cost, pricing, sold)
    return _way(f"make {cost.makes} by {cost.route}", PIECE, cost, pricing, sold)


def _parts(book: RouteBook, name: str, pricing: Pricing, sold: dict[str, float]) -> Iterator[Way]:
    """Half-made stages and other grades; what has no price or no answer is left out."""
    route = book.routes[name]
    halves = [(part, HALF_MADE) for each in route.market if (part := up_to_stage(route, each))]
    for part, kind in [*halves, *((grade, GRADE) for grade in to_grades(route))]:
        if name_key(pricing.name(part.makes)) not in sold:
            continue
        try:
            cost = cost_route(in_place_of(book, name, part), name, pricing=pricing)
        except MakeworthError:
            continue
        if cost.mean is not None:
            yield _way(f"make {part.makes} by {name}", kind, cost, pricing, sold)


def _finished(book: RouteBook, cost: RouteCost, pricing: Pricing) -> Iterator[Way]:
    """Buying a half-made piece and finishing it, where that is what one does there."""
    prices = {name_key(item): price for item, price in buy_prices(pricing).items()}
    ahead = CostFromStage(cost)
    for market in book.routes[cost.route].market:
        item = pricing.name(market.item)
        choice, price = cost.choices.get(market.stage), prices.get(name_key(item))
        stage = ahead.number(market.stage)
        if choice is None or choice.action != "step" or price is None or stage is None:
            continue
        if stage == cost.model.start:
            continue
        minutes = ahead.minutes_law(stage)
        own_time = float(pricing.settings.trade.hour_value) * minutes.mean / 60.0
        yield Way(
            what=f"buy {item}, finish it by {cost.route}",
            route=cost.route,
            kind=HALF_MADE,
            sells=cost.makes,
            cost=price + choice.cost_to_go,
            minutes=minutes.mean,
            spent=price + choice.cost_to_go - own_time,
            supplies_sold=None,
            find_law=partial(_raised, partial(ahead.law, stage), price),
            find_minutes=partial(ahead.minutes_law, stage),
            bought=item,
        )


def _raised(find: Callable[[], CostDistribution | None], amount: float) -> CostDistribution:
    """The law of a cost with a sure amount on top."""
    found = find() or CostDistribution.certain(0.0)
    return replace(found, low=found.low + amount, mean=found.mean + amount)


def _way(what: str, kind: str, cost: RouteCost, pricing: Pricing, sold: dict[str, float]) -> Way:
    hour_value = float(pricing.settings.trade.hour_value)
    mean, minutes = cost.mean or 0.0, cost.minutes.mean
    return Way(
        what=what,
        route=cost.route,
        kind=kind,
        sells=cost.makes,
        cost=mean,
        minutes=minutes,
        spent=mean - hour_value * minutes / 60.0,
        supplies_sold=_supplies_sold(cost, pricing, sold),
        find_law=lambda: cost.law,
        find_minutes=lambda: cost.minutes,
    )


def _supplies_sold(cost: RouteCost, pricing: Pricing, sold: dict[str, float]) -> float | None:
    """What the mean supplies of one would bring unused; moneys and fees stay as they are."""
    total = 0.0
    for use in cost.use.values():
        price = sold.get(name_key(pricing.name(use.item)))
        if price is None or use.mean is None:
            return None
        total += use.mean * price
    return total
