"""Items that other routes make: each costs the cheaper of buying and making.

Every item of the circle of routes has one unit cost c. A route's mean cost is linear
in the unit costs of what it uses while its choices stay, so the costs of made items
solve c = k + U c, with U the units used per unit made. Starting from buying everything
that can be bought, choices and "make or buy" are improved until they stay. A circle in
which nothing can be bought, or that would earn for ever, is refused by name.

Source: policy iteration, Howard, Dynamic Programming and Markov Processes (MIT Press
1960); the linear system: Leontief's input-output equations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from advisor.errors import CannotAnswer, RouteFault
from advisor.names import name_key
from advisor.routes.priced import BuiltRoute, PricedRoute, Prices, price_route, without_items
from advisor.routes.route import Route

ROUNDS_AT_MOST = 200
SAME = 1e-12


@dataclass(frozen=True)
class MadeItem:
    """An item that is cheaper made than bought.

    Attributes:
        key: The item.
        unit_cost: Mean cost of making one.
        priced: The route that makes it, at the final unit costs.
    """

    key: str
    unit_cost: float
    priced: PricedRoute


@dataclass(frozen=True)
class UnitCosts:
    """What one unit of each item that steps use costs.

    Attributes:
        costs: By key; bought or made.
        made: The made ones by key.
        cautions: Routes that were left out, in words.
    """

    costs: Mapping[str, float]
    made: Mapping[str, MadeItem]
    cautions: tuple[str, ...]


def find_unit_costs(
    main: BuiltRoute,
    routes: Mapping[str, Route],
    prices: Prices,
    *,
    build: Callable[[Route], BuiltRoute],
) -> UnitCosts:
    """The unit cost of every item that the steps of a route use.

    Args:
        main: The route asked about.
        routes: All routes by name.
        prices: Of the market.
        build: Makes the stages of a route whose piece is to be kept.

    Raises:
        CannotAnswer: items without any price, all named at once.
        RouteFault: a circle of routes in which nothing can be bought, or that earns
            without limit.
    """
    makers = _find_makers(main, routes, build)
    work = _Work(makers, prices)
    work.improve()
    missing = [key for key in main.used_by_steps if work.cost(key) == np.inf]
    if missing:
        _refuse_missing(main, missing, work)
    costs = {key: work.cost(key) for key in main.used_by_steps}
    made = {
        key: MadeItem(key, work.costs[key], work.best[key])
        for key in work.made_for(main.used_by_steps)
    }
    return UnitCosts(costs | {k: m.unit_cost for k, m in made.items()}, made, work.cautions())


def _find_makers(
    main: BuiltRoute, routes: Mapping[str, Route], build: Callable[[Route], BuiltRoute]
) -> dict[str, list[BuiltRoute]]:
    """Routes that make what is used, and what these use, and so on, by item."""
    by_item: dict[str, list[Route]] = {}
    for route in routes.values():
        by_item.setdefault(name_key(route.makes), []).append(route)
    makers: dict[str, list[BuiltRoute]] = {}
    waiting = list(main.used_by_steps)
    while waiting:
        key = waiting.pop()
        if key in by_item and key not in makers:
            makers[key] = [build(route) for route in by_item[key]]
            waiting += [used for maker in makers[key] for used in maker.used_by_steps]
    return makers


class _Work:
    """Unit costs of made items on the way to the least."""

    def __init__(self, makers: Mapping[str, list[BuiltRoute]], prices: Prices) -> None:
        self.makers = makers
        self.prices = prices
        self.costs = {key: prices.buy.get(key, np.inf) for key in makers}
        self.best: dict[str, PricedRoute] = {}
        self.priced: dict[str, tuple[tuple[float, ...], PricedRoute | None]] = {}

    def cost(self, key: str) -> float:
        return float(self.costs.get(key, self.prices.buy.get(key, np.inf)))

    def improve(self) -> None:
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
            buy = self.prices.buy.get(key, np.inf)
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
        if not missing:
            return price_route(maker, self.prices, costs)
        usable = without_items(maker, missing)
        if usable is None:
            return None
        try:
            return price_route(usable, self.prices, costs)
        except RouteFault:
            return None

    def _settle_costs(self) -> None:
        """Solve c = k + U c for the made items; the others cost what buying costs."""
        made = list(self.best)
        for key in self.makers:
            self.costs[key] = self.prices.buy.get(key, np.inf)
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
        told = []
        for key, makers in self.makers.items():
            for maker in makers:
                missing = self.unpriced(maker)
                if missing and key not in self.best:
                    told.append(
                        f"route {maker.route.name!r} is left out as a way to make "
                        f"{maker.route.makes!r}: no price for {_names(missing)}"
                    )
        return tuple(told)

    def unpriced(self, maker: BuiltRoute) -> list[str]:
        """Items a route uses that can neither be bought nor made by any route."""
        return [
            key
            for key in maker.used_by_steps
            if key not in self.makers and key not in self.prices.buy
        ]


def _refuse_missing(main: BuiltRoute, missing: list[str], work: _Work) -> None:
    """Say what to quote, or which circle has no way in."""
    wanted: dict[str, None] = {}
    circle: dict[str, None] = {}
    waiting, seen = list(missing), set()
    while waiting:
        key = waiting.pop(0)
        if key in seen or work.cost(key) != np.inf:
            continue
        seen.add(key)
        if key not in work.makers:
            wanted[key] = None
        for maker in work.makers.get(key, []):
            circle[maker.route.name] = None
            waiting += maker.used_by_steps
    if wanted:
        raise CannotAnswer(
            f"no buying price for {_names(list(wanted))}",
            file=main.route.file,
            right="quote each of them",
        )
    raise RouteFault(
        f"the routes {_names(list(circle))} need each other's pieces, and none of these "
        f"({_names(missing)}) can be bought",
        file=main.route.file,
        right="quote one of them, or write a step that does without",
    )


def _names(names: list[str]) -> str:
    return ", ".join(repr(name) for name in names)


def _same(one: float, other: float) -> bool:
    return one == other or abs(one - other) <= SAME * max(1.0, abs(one), abs(other))
