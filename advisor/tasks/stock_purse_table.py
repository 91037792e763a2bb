"""The played evenings and what can be bought: the purse problem of some routes as arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.decide.stock.buying_now import sold_off, usual_day
from advisor.decide.stock.limited_purse import PurseItem, PurseUse, use_purse
from advisor.decide.stock.need import Floats
from advisor.decide.stock.played_evenings import row_up
from advisor.decide.stock.purse import share_purse
from advisor.decide.stock.supply import SupplyAdvice
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.played_routes import play_route
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices
from advisor.tasks.stock_items import SupplyAnswer
from advisor.tasks.stock_needs import Order

CHOICES = 28
"""Quantities of an item that are tried with a purse, about."""


class PurseTable:
    """The played pieces and the choices, for any row of parts."""

    def __init__(
        self,
        costs: Sequence[RouteCost],
        supplies: Sequence[SupplyAnswer],
        *,
        pricing: Pricing,
        book: RouteBook,
    ) -> None:
        self.free = [each for each in supplies if each.market.stockable]
        self._supplies = supplies
        columns = {each.item: place for place, each in enumerate(self.free)}
        self.played, self.worth = [], []
        self.lower = 0.0
        prices = buy_prices(pricing)
        for seed, cost in enumerate(costs):
            played = play_route(cost, columns, pricing=pricing, book=book, seed=seed)
            self.played.append(played)
            mean = 0.0 if cost.mean is None else cost.mean / cost.pieces
            self.worth.append(prices.get(pricing.name(cost.makes), mean))
        makes = {pricing.name(cost.makes) for cost in costs}
        self.unpriced = sorted(makes - prices.keys()) if len(costs) > 1 else []

    def use(self, parts: Sequence[tuple[int, int]], budget: float) -> PurseUse:
        """The best use for a row of parts; places are those of the supplies' quantities."""
        chosen = [_choices(each, budget) for each in self.free]
        shared = share_purse(
            [each.advice.spent for each in self.free],
            [each.advice.totals for each in self.free],
            budget=budget,
        )
        self.lower = shared.lower
        chosen = [np.union1d(c, [at]) for c, at in zip(chosen, shared.places, strict=True)]
        items = [_purse_item(s, c) for s, c in zip(self.free, chosen, strict=True)]
        used = row_up(self.played, parts)
        free = [each.advice.place for each in self.free]
        fits = sum(float(each.advice.spent[each.advice.place]) for each in self.free) <= budget
        begin = [
            [int(np.searchsorted(c, at)) for c, at in zip(chosen, places, strict=True)]
            for places in ([free, shared.places] if fits else [shared.places])
        ]
        found = use_purse(
            items,
            used[:, :, :-1],
            cash=used[:, :, -1],
            worth=np.array([self.worth[route] * pieces for route, pieces in parts]),
            budget=budget,
            begin=begin,
        )
        places = tuple(int(c[at]) for c, at in zip(chosen, found.places, strict=True))
        return PurseUse(places, found.paid, found.value, found.spent, budget)

    def chance_any_short(self, orders: Sequence[Order]) -> float:
        """Chance that something runs short of all orders after today's purchases."""
        row = [(number, order.pieces) for number, order in enumerate(orders)]
        used = row_up(self.played, row)[:, -1, :-1]
        there = [each.on_hand + each.advice.buy_now for each in self.free]
        return float(np.any(np.ceil(used - 1e-6) > np.array(there), axis=1).mean())

    def all_places(self, places: Sequence[int]) -> tuple[int, ...]:
        """The same for every supply, those that cannot be bought ahead as they were."""
        found = dict(zip((each.item for each in self.free), places, strict=True))
        return tuple(found.get(each.item, each.advice.place) for each in self._supplies)


def _choices(supply: SupplyAnswer, budget: float) -> np.ndarray:
    """Places of a few quantities that the purse allows, none and the best among them."""
    advice = supply.advice
    allowed = np.flatnonzero(advice.spent <= budget)
    likely = advice.question.need.quantile(0.97)
    near = allowed[advice.quantities[allowed] <= max(likely, advice.buy_now)]
    picked = near[np.unique(np.linspace(0, len(near) - 1, CHOICES).astype(np.int64))]
    return np.union1d(picked, np.intersect1d([advice.place], allowed)).astype(np.int64)


def _purse_item(supply: SupplyAnswer, places: np.ndarray) -> PurseItem:
    advice = supply.advice
    question, last = advice.question, advice.later.looks[-1]
    ladder, left = question.offers.ladder, np.arange(int(advice.quantities[places].max()) + 1)
    return PurseItem(
        quantities=advice.quantities[places],
        paid=advice.spent[places],
        later=_later_cost(advice),
        brings=question.leftover
        * last.middle
        * last.mean_level
        * sold_off(left, usual_qty=ladder.usual_qty, depth=ladder.depth),
        on_hand=supply.on_hand,
    )


def _later_cost(advice: SupplyAdvice) -> Floats:
    """What missing units cost later: spread evenly over the days, as dear as the plan has it."""
    question, last = advice.question, advice.later.looks[-1]
    ladder, days = question.offers.ladder, question.days
    missing = np.ceil(np.arange(question.need.most + 2) / ladder.lots_of) * ladder.lots_of
    daily = usual_day(missing / days, usual_qty=ladder.usual_qty, depth=ladder.depth)
    cost: Floats = last.middle * last.mean_price * days * daily
    waiting = float(question.need.pmf @ cost[: len(question.need.pmf)])
    planned = float(advice.later.cost_from(np.array([0]))[0])
    return cost * min(max(planned / waiting, 0.5), 1.0) if days > 1 and waiting > 0 else cost
