"""Making against buying for every item of a circle of routes, improved until it stays.

A route's mean cost is linear in the unit costs of what it uses while its choices
stay, so the unit costs of made items solve c = k + U c, with U the units used per
unit made. From buying everything, at a forbidding price what nobody sells, choices and
"make or buy" are improved in turn. What is still bought at that price in the end cannot
be had.

Source: policy iteration, Howard, Dynamic Programming and Markov Processes (MIT Press
1960); the linear system: Leontief's input-output equations.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from advisor.errors import CannotAnswer, RouteFault
from advisor.routes.priced import BuiltRoute, PricedRoute, Prices, price_route, without_items

ROUNDS_AT_MOST = 200
SAME = 1e-12
FORBIDDING = 1e9


class MakeOrBuy:
    """Unit costs of made items on the way to the least."""

    def __init__(
        self, makers: Mapping[str, list[BuiltRoute]], faults: Mapping[str, str], prices: Prices
    ) -> None:
        self.makers = makers
        self.faults = dict(faults)
        self.prices = prices
        self.forbidding = FORBIDDING * (1.0 + max(prices.buy.values(), default=0.0))
        self.costs = {key: self.buying(key) for key in makers}
        self.best: dict[str, PricedRoute] = {}
        self.priced: dict[str, tuple[tuple[float, ...], PricedRoute | None]] = {}

    def buying(self, key: str) -> float:
        """What buying one costs: forbidding where only routes offer it, infinite where nobody."""
        unsold = self.forbidding if self.makers.get(key) else np.inf
        return float(self.prices.buy.get(key, unsold))

    def cost(self, key: str) -> float:
        """Unit cost of an item at present."""
        return float(self.costs[key]) if key in self.costs else self.buying(key)

    def find_unobtainable(self) -> set[str]:
        """Items that can neither be bought nor made from what can be had."""
        used = {key for makers in self.makers.values() for m in makers for key in m.used_by_steps}
        found = {
            key
            for key in used | set(self.makers)
            if key not in self.best and key not in self.prices.buy
        }
        while True:
            more = {
                key
                for key, priced in self.best.items()
                if key not in found and any(priced.mean_units(each) > 0 for each in found)
            }
            if not more:
                return found
            found |= more

    def improve(self) -> None:
        """Find the least unit costs.

        Raises:
            RouteFault: routes that use up each other's pieces and earn without limit.
        """
        for _ in range(ROUNDS_AT_MOST):
            before = dict(self.costs)
            self._choose_makers()
            self._settle_costs()
            if all(_same(before[key], cost) for key, cost in self.costs.items()):
                return
        names = ", ".join(sorted(priced.built.route.name for priced in self.best.values()))
        raise RouteFault(f"the routes {names} need each other, and their costs do not settle")

    def _choose_makers(self) -> None:
        """For each item the cheapest route at the present unit costs, if cheaper than buying."""
        for key, makers in self.makers.items():
            found = [priced for maker in makers if (priced := self._price(maker)) is not None]
            found.sort(key=lambda priced: priced.mean_cost)
            buy = self.buying(key)
            if found and found[0].mean_cost < buy and not _same(found[0].mean_cost, buy):
                self.best[key] = found[0]
            else:
                self.best.pop(key, None)

    def _price(self, maker: BuiltRoute) -> PricedRoute | None:
        """The route at the present unit costs; None where it cannot make anything yet."""
        costs = {key: self.cost(key) for key in maker.used_by_steps}
        now = tuple(costs.values())
        name = maker.route.name
        if name in self.priced and self.priced[name][0] == now:
            return self.priced[name][1]
        self.priced[name] = now, self._solve(maker, costs)
        return self.priced[name][1]

    def _solve(self, maker: BuiltRoute, costs: Mapping[str, float]) -> PricedRoute | None:
        missing = [key for key, cost in costs.items() if cost == np.inf]
        usable = without_items(maker, missing) if missing else maker
        if usable is None:
            return None
        try:
            priced = price_route(usable, self.prices, costs)
        except (RouteFault, CannotAnswer) as fault:
            if not missing:
                self.faults[maker.route.name] = str(fault)
            return None
        if priced.average.endless:
            self.faults[maker.route.name] = (
                f"no mean cost exists: no success was seen of step {priced.average.endless[0]!r}"
            )
        else:
            self.faults.pop(maker.route.name, None)
        return priced

    def _settle_costs(self) -> None:
        """Solve c = k + U c for the made items; the others cost what buying costs."""
        made = list(self.best)
        for key in self.makers:
            self.costs[key] = self.buying(key)
        if not made:
            return
        units = np.array([[self.best[row].mean_units(key) for key in made] for row in made])
        own = np.array([self._cost_without(self.best[row], made) for row in made])
        if max(abs(np.linalg.eigvals(units))) >= 1.0:
            names = ", ".join(sorted(self.best[key].built.route.name for key in made))
            raise RouteFault(
                f"the routes {names} use up each other's pieces and earn without limit",
                right="check the prices and what their steps give back",
            )
        solved = np.linalg.solve(np.eye(len(made)) - units, own)
        self.costs.update(zip(made, solved.tolist(), strict=True))

    def _cost_without(self, priced: PricedRoute, made: list[str]) -> float:
        """Mean cost of one run, the made items it uses left out."""
        costs = {key: 0.0 if key in made else self.cost(key) for key in priced.built.used_by_steps}
        return priced.average.mean(priced.built.outcome_costs(self.prices, costs))

    def made_for(self, keys: tuple[str, ...]) -> list[str]:
        """The made items among these, and those used to make them, and so on."""
        found: dict[str, None] = {}
        waiting = list(keys)
        while waiting:
            key = waiting.pop(0)
            if key in self.best and key not in found:
                found[key] = None
                waiting += self.best[key].built.used_by_steps
        return list(found)

    def cautions(self) -> tuple[str, ...]:
        """Routes that could make something, were everything they use priced."""
        told = [
            f"route {name!r} is left out as a way to make what is used: {fault}"
            for name, fault in sorted(self.faults.items())
        ]
        for key, makers in self.makers.items():
            for maker in makers:
                missing = self.unpriced(maker)
                if missing and key not in self.best:
                    told.append(
                        f"route {maker.route.name!r} is left out as a way to make "
                        f"{maker.route.makes!r}: no price for {name_items(missing)}"
                    )
        return tuple(told)

    def unpriced(self, maker: BuiltRoute) -> list[str]:
        """Items a route uses that can neither be bought nor made by any route."""
        return [
            key
            for key in maker.used_by_steps
            if key not in self.makers and key not in self.prices.buy
        ]


def name_items(names: list[str]) -> str:
    """Names in quotes, with commas."""
    return ", ".join(repr(name) for name in names)


def _same(one: float, other: float) -> bool:
    if np.inf in (one, other):
        return one == other
    return abs(one - other) <= SAME * max(1.0, abs(one), abs(other))
