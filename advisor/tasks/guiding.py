"""A route written out for others: gathers what a guide tells."""

from __future__ import annotations

import math
from pathlib import Path

from advisor.figures import amount
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.pools.read_pool import find_pool
from advisor.routes.route import Route
from advisor.routes.route_json import route_json
from advisor.tasks.guide_pool import effects_of, know_pool, want_words
from advisor.tasks.guide_steps import BestWay
from advisor.tasks.pricing import Pricing, read_pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route, read_routes, sell_prices
from advisor.tasks.stock_markets import SERVICES
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339
from reports.guide_data import Guide, GuideStep, PriceBehind, ShoppingLine, StopPlace, Then
from reports.guide_files import GuideWritten, write_guide

SURE = (0.5, 0.8, 0.95)


def guide_route(
    workspace: Workspace, route: str, *, as_of: str | None = None, folder: Path | None = None
) -> GuideWritten:
    """Write the guide of a route, as HTML and Markdown.

    Args:
        route: As typed.
        as_of: A date as typed; None for now.
        folder: Where to; None for the workspace's reports.
    Raises: BadInput: no such route. CannotAnswer: items without a price.
    """
    book = read_routes(workspace)
    name = book.named(route)
    pricing = read_pricing(workspace, as_of=as_of)
    guide = make_guide(workspace, book, pricing, route=name)
    return write_guide(folder or workspace.reports, guide)


def make_guide(workspace: Workspace, book: RouteBook, pricing: Pricing, *, route: str) -> Guide:
    """What the guide of a route tells, at the prices of a moment.

    Args:
        route: Its name, as in the book.
    """
    written = book.routes[route]
    cost = cost_route(book, route, pricing=pricing)
    way = BestWay(cost, written, _money_keys(pricing), _effects(workspace, written))
    steps = way.steps()
    piece = pricing.name(written.makes)
    as_of = us_to_rfc3339(pricing.market.as_of_us)
    return Guide(
        cost=route_json(cost, as_of=as_of),
        about=written.about,
        buy_price=buy_prices(pricing).get(piece),
        sell_price=sell_prices(pricing).get(piece),
        steps=steps,
        unused=way.unused(),
        stops=_stops(written, way, steps, pricing),
        prices=_prices(cost, pricing),
        shopping=_shopping(cost, pricing),
        pool=know_pool(workspace, written, way),
        cautions=[*_tell_time(cost), *cost.cautions, *pricing.market.cautions],
    )


def _tell_time(cost: RouteCost) -> list[str]:
    """What the writer's own time counts for; readers have hours of their own."""
    if not cost.own_time:
        return []
    return [
        f"Costs here count the writer's own time at {amount(cost.hour_value)} {cost.money} an "
        f"hour: {amount(cost.own_time)} of the mean is that, and no money to pay"
    ]


def _money_keys(pricing: Pricing) -> set[str]:
    return {name_key(each) for each in (pricing.market.money, *pricing.market.rates.moneys)}


def _effects(workspace: Workspace, route: Route) -> list[tuple[str, str]]:
    if route.pool is None:
        return []
    return effects_of(route, find_pool(workspace.pools, route.pool.pool))


def _stops(route: Route, way: BestWay, steps: list[GuideStep], pricing: Pricing) -> list[StopPlace]:
    """The stages that are also items, in the order of the file."""
    buy, sell, cost = buy_prices(pricing), sell_prices(pricing), way.cost
    numbers = {name_key(stage): number for number, stage in enumerate(cost.model.stages)}
    bought = {name_key(step.name) for step in steps if step.kind == "buy in"}
    found = []
    for each in route.market:
        item, stage = pricing.name(each.item), numbers.get(name_key(each.stage))
        choice = None if stage is None else cost.choices.get(cost.model.stages[stage])
        found.append(
            StopPlace(
                stage=each.stage,
                item=item,
                sells_for=sell.get(item),
                bought_for=buy.get(item),
                still_to_pay=None if choice is None else choice.cost_to_go,
                then=None if stage is None or choice is None else way.act_at(stage),
                begin_here=name_key(each.item) in bought,
            )
        )
    for grade in () if route.pool is None else route.pool.grades:
        item = pricing.name(str(grade.values.get("item", "")))
        found.append(
            StopPlace(
                stage=f"a piece with {want_words(grade.values)}",
                item=item,
                sells_for=sell.get(item),
                bought_for=buy.get(item),
                still_to_pay=None,
                then=Then("either"),
            )
        )
    return found


def _prices(cost: RouteCost, pricing: Pricing) -> list[PriceBehind]:
    """Every price the cost rests on, in the order of use."""
    used = {each.item: each.unit_price for each in cost.use.values()}
    used |= {each.item: each.unit_price for each in cost.gives.values() if each.unit_price}
    found = []
    for item, price in used.items():
        levels = pricing.levels(pricing.name(item))
        newest = None if levels is None else levels.newest_us
        found.append(
            PriceBehind(
                item=item,
                price=price,
                quotes=0 if levels is None else levels.quotes,
                newest=None if newest is None else us_to_rfc3339(newest),
            )
        )
    found += [
        PriceBehind(each.item, each.unit_cost, 0, None, made_by=each.route)
        for each in cost.made.values()
        if each.mean != 0
    ]
    return found


def _shopping(cost: RouteCost, pricing: Pricing) -> list[ShoppingLine]:
    """What to buy of each item, in whole lots."""
    moneys, lines = _money_keys(pricing), []
    for item, use in cost.use.items():
        if use.mean == 0:
            continue
        lots_of, is_money = pricing.settings.item(item).lots_of, name_key(item) in moneys
        levels = pricing.levels(pricing.name(item))
        note = f"in lots of {lots_of}" if lots_of > 1 else ""
        if is_money:
            note = "for fees"
        elif levels is not None and levels.family == SERVICES:
            note = "a service"
        sure = [use.law.quantile(share) for share in SURE]
        if lots_of > 1:
            sure = [math.ceil(units / lots_of - 1e-9) * lots_of for units in sure]
        lines.append(ShoppingLine(item, use.mean, sure, use.unit_price, note))
    return lines
