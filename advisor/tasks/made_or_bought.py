"""Supplies and services that one could make or do oneself: what that costs, what buying does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.errors import MakeworthError
from advisor.figures import amount
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route


@dataclass(frozen=True, slots=True)
class MadeOrBought:
    """One item of a route, both ways.

    Attributes:
        item: Its name.
        bought: What one costs to buy; None where nobody asks.
        route: The own route that makes it at least mean cost.
        made: Mean cost of making one.
        made_bad_night: What making one costs one time in twenty, or more.
        takes: "make" or "buy": what the route's cost reckons with.
    """

    item: str
    bought: float | None
    route: str
    made: float
    made_bad_night: float
    takes: str


def compare_made_and_bought(
    book: RouteBook, cost: RouteCost, pricing: Pricing
) -> list[MadeOrBought]:
    """Every item that the route uses and that another route makes, in the order used."""
    bought = {name_key(item): price for item, price in buy_prices(pricing).items()}
    made = {name_key(item) for item in cost.made}
    found = []
    for item in dict.fromkeys([*cost.made, *cost.use]):
        key = name_key(pricing.name(item))
        own = _least(book, key, cost, pricing)
        if own is None:
            continue
        found.append(
            MadeOrBought(
                item=item,
                bought=bought.get(key),
                route=own.route,
                made=own.mean or 0.0,
                made_bad_night=own.law.quantile(0.95),
                takes="make" if name_key(item) in made else "buy",
            )
        )
    return found


def _least(book: RouteBook, key: str, cost: RouteCost, pricing: Pricing) -> RouteCost | None:
    """The route of least mean cost that makes an item; the one asked about is none."""
    best: RouteCost | None = None
    for name, route in book.routes.items():
        if name == cost.route or name_key(pricing.name(route.makes)) != key:
            continue
        try:
            own = cost_route(book, name, pricing=pricing)
        except MakeworthError:
            continue
        if own.mean is not None and (best is None or own.mean < (best.mean or 0.0)):
            best = own
    return best


def tell_made_or_bought(both: Sequence[MadeOrBought], money: str) -> list[str]:
    """Each item both ways, in sentences; those that nobody asks a price for are left out."""
    said = []
    for each in both:
        if each.bought is None:
            continue
        makes = each.takes == "make"
        own = (
            f"{amount(each.made)} on average by {each.route}, {amount(each.made_bad_night)} or "
            "more one time in twenty"
        )
        said.append(
            f"{each.item} is {'made' if makes else 'bought'}: "
            + (
                f"{own}; bought it is {amount(each.bought)} {money}."
                if makes
                else f"{amount(each.bought)} {money}; made yourself it is {own}."
            )
        )
    return said
