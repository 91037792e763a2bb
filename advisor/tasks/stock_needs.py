"""What is needed of each item for some pieces of some routes, less what is on hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.need import NeedLaw
from advisor.errors import BadInput, CannotAnswer, WrongUse
from advisor.names import did_you_mean, name_key
from advisor.routes.chain import follow_choices
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, cost_route

MOST_PIECES = 10_000
ALL_BUT_ONE = 0.98
"""Correlation from which two items count as used up together."""


@dataclass(frozen=True)
class Order:
    """A route and how many pieces to make by it."""

    route: str
    pieces: int


@dataclass(frozen=True)
class SupplyNeeds:
    """What is needed in all.

    Attributes:
        use: The law of the units used, by the book's name of the item.
        on_hand: Units there already, of every such item.
        together: Groups of items that are used up at one pace, each item in one group.
        costs: What each order costs, in their order.
        cautions: What to know, in sentences.
    """

    use: Mapping[str, NeedLaw]
    on_hand: Mapping[str, int]
    together: Sequence[tuple[str, ...]]
    cautions: tuple[str, ...]
    costs: tuple[RouteCost, ...] = ()


def read_orders(book: RouteBook, route: str, pieces: int, *, also: Sequence[str]) -> list[Order]:
    """The routes and pieces as typed.

    Args:
        also: "ROUTE=PIECES" each.
    Raises: WrongUse: pieces out of range, no such form. BadInput: no such route.
    """
    orders = [Order(book.named(route), _sound_pieces(pieces, "--pieces"))]
    for text in also:
        name, sign, count = text.rpartition("=")
        if not sign or not count.strip().isdecimal():
            raise WrongUse(f"--also {text!r} names no pieces", right='write --also "ROUTE=3"')
        orders.append(Order(book.named(name), _sound_pieces(int(count), "--also")))
    return orders


def _sound_pieces(pieces: int, option: str) -> int:
    if not 1 <= pieces <= MOST_PIECES:
        raise WrongUse(f"{option} {pieces} is out of range", right=f"from 1 to {MOST_PIECES}")
    return pieces


def find_needs(
    book: RouteBook,
    orders: Sequence[Order],
    *,
    pricing: Pricing,
    on_hand: Sequence[str],
    kept: Mapping[str, int] | None = None,
) -> SupplyNeeds:
    """The law of the use of every item by the way of each route that is best at the ask levels.

    Money itself is left out: it is no supply.

    Args:
        on_hand: "ITEM=UNITS" each, as typed; counts before what is kept.
        kept: Units that the ledger has, by item.
    Raises: CannotAnswer, RouteFault: a route without an answer; BadInput: stock that
        cannot be meant.
    """
    use: dict[str, NeedLaw] = {}
    cautions: dict[str, None] = {}
    costs = []
    for order in orders:
        cost = cost_route(book, order.route, pricing=pricing, pieces=order.pieces)
        costs.append(cost)
        cautions.update(dict.fromkeys(cost.cautions))
        for each in cost.use.values():
            item = pricing.name(each.item)
            if pricing.market.rates.now(item) is not None:
                continue
            # the lattice may reach below 0 with what is left of rounding
            law = NeedLaw.of_values(np.maximum(each.law.values, 0.0), each.law.pmf)
            use[item] = use[item].plus(law) if item in use else law
    if not use:
        raise CannotAnswer(
            f"{orders[0].route!r} uses nothing but money", right="there is nothing to stock up on"
        )
    together = _groups(costs[0], pricing) if len(costs) == 1 else [(item,) for item in use]
    stock = {item: (kept or {}).get(item, 0) for item in use} | read_stock(on_hand, use, pricing)
    return SupplyNeeds(use, stock, together, tuple(cautions), tuple(costs))


def read_stock(
    typed: Sequence[str], use: Mapping[str, NeedLaw], pricing: Pricing
) -> dict[str, int]:
    """Units on hand of every item that something is said of.

    Raises: WrongUse: not ITEM=UNITS. BadInput: an item that is not used, a negative stock.
    """
    stock: dict[str, int] = {}
    known = {name_key(item): item for item in use}
    for text in typed:
        spelled, sign, units = text.rpartition("=")
        if not sign or not spelled.strip():
            raise WrongUse(
                f"--on-hand {text!r} names no item", right='write --on-hand "lantern frame=12"'
            )
        item = known.get(name_key(pricing.name(spelled)))
        if item is None:
            right = did_you_mean(spelled, use) or f"it uses {', '.join(use)}"
            raise BadInput("no step uses this item", right=right, item=spelled.strip())
        stock[item] = stock.get(item, 0) + _whole_units(units.strip(), item)
    return stock


def _whole_units(text: str, item: str) -> int:
    digits = text.removeprefix("-")
    if not digits.isdecimal() or len(digits) > 9:
        raise BadInput(f"{text!r} on hand is no number of units", right="such as 12", item=item)
    if text.startswith("-") and int(digits) > 0:
        raise BadInput(f"{text} units on hand", right="stock is 0 or more", item=item)
    return int(digits)


def _groups(cost: RouteCost, pricing: Pricing) -> list[tuple[str, ...]]:
    """Items whose uses rise and fall together, by the correlation along the chosen way."""
    names = {pricing.name(each.item): None for each in cost.use.values()}
    chain = follow_choices(cost.model, cost.actions)
    columns = cost.model.uses.tocsc()
    amounts = {
        pricing.name(item): columns[:, [place]].toarray().ravel()
        for place, item in enumerate(cost.model.items)
    }
    sds = {item: chain.moments(amounts[item]).sd for item in names if item in amounts}
    left = [item for item in names if pricing.market.rates.now(item) is None]
    groups = []
    while left:
        first, *others = left
        group = [first]
        for item in others:
            a, b = sds.get(first, 0.0), sds.get(item, 0.0)
            if a > 0 and b > 0:
                both = chain.moments(amounts[first] / a + amounts[item] / b).sd
                if both**2 / 2 - 1 >= ALL_BUT_ONE:
                    group.append(item)
        groups.append(tuple(group))
        left = [item for item in left if item not in group]
    return groups


def chance_any_short(chances: Mapping[str, float], together: Sequence[tuple[str, ...]]) -> float:
    """Chance that something runs short: items of a group run out together, groups each alone."""
    fine = [1.0 - max(chances.get(item, 0.0) for item in group) for group in together]
    return float(1.0 - np.prod(fine))
