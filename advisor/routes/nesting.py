"""Items that other routes make: each costs the cheaper of buying and making.

Routes may need each other's pieces. Every item has one unit cost, the same wherever it
is used; a circle of routes in which nothing can be bought, or that would earn for ever,
is refused by name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from advisor.errors import BadInput, CannotAnswer, RouteFault
from advisor.names import name_key
from advisor.routes.make_or_buy import MakeOrBuy, name_items
from advisor.routes.priced import BuiltRoute, PricedRoute, Prices
from advisor.routes.route import Route, Step


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
    makers, faults = _find_makers(main, routes, build)
    work = MakeOrBuy(makers, faults, prices)
    work.improve()
    lacking = work.find_unobtainable()
    missing = [
        key
        for key in main.used_by_steps
        if key in lacking or (key not in makers and key not in prices.buy)
    ]
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
) -> tuple[dict[str, list[BuiltRoute]], dict[str, str]]:
    """Routes that make what is used, and what these use, and so on, by item.

    Returns: The routes, and the faults of those that cannot be built, by route.
    """
    by_item: dict[str, list[Route]] = {}
    for route in routes.values():
        by_item.setdefault(name_key(route.makes), []).append(route)
    makers: dict[str, list[BuiltRoute]] = {}
    faults: dict[str, str] = {}
    waiting = list(main.used_by_steps)
    while waiting:
        key = waiting.pop()
        if key not in by_item or key in makers:
            continue
        makers[key] = []
        for route in by_item[key]:
            try:
                makers[key].append(build(route))
            except BadInput as fault:
                faults[route.name] = str(fault)
        waiting += [used for maker in makers[key] for used in maker.used_by_steps]
    return makers, faults


def _first_user(route: Route, key: str) -> Step | None:
    """The first step of the file that uses an item."""
    for step in route.steps:
        used = [*step.uses, *(each for outcome in step.outcomes for each in outcome.uses)]
        if any(each.item is not None and name_key(each.item) == key for each in used):
            return step
    return None


def _refuse_missing(main: BuiltRoute, missing: list[str], work: MakeOrBuy) -> None:
    """Say what to quote, or which circle has no way in."""
    wanted: dict[str, None] = {}
    circle: dict[str, None] = {}
    waiting, seen = list(missing), set()
    while waiting:
        key = waiting.pop(0)
        if key in seen or key in work.prices.buy:
            continue
        seen.add(key)
        if key not in work.makers:
            wanted[key] = None
        for maker in work.makers.get(key, []):
            circle[maker.route.name] = None
            waiting += maker.used_by_steps
    if work.faults and not wanted:
        name, fault = sorted(work.faults.items())[0]
        raise CannotAnswer(
            f"no buying price for {name_items(missing)}; route {name!r} cannot make it: {fault}",
            file=main.route.file,
            right="quote it, or mend the route",
        )
    if wanted:
        step = _first_user(main.route, next(iter(wanted)))
        raise CannotAnswer(
            f"no buying price for {name_items(list(wanted))}",
            file=main.route.file,
            line=None if step is None else step.table.line("uses" if step.uses else "outcomes"),
            step=None if step is None else step.name,
            right="quote each of them",
        )
    raise RouteFault(
        f"the routes {name_items(list(circle))} need each other's pieces, and none of these "
        f"({name_items(missing)}) can be bought",
        file=main.route.file,
        right="quote one of them, or write a step that does without",
    )
