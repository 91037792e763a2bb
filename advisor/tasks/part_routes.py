"""Routes cut out of a route: up to a half-made stage, and to another grade."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from advisor.routes.route import MarketStage, Route
from advisor.routes.table import Table
from advisor.tasks.routing import RouteBook


def up_to_stage(route: Route, market: MarketStage) -> Route | None:
    """The route that ends with a half-made piece on the table.

    None where the stage is not on the way, or its steps are written with `vary` or a pool.
    """
    if route.pool is not None or market.stage in (route.start, route.finish):
        return None
    if any(step.vary for step in route.steps):
        return None
    reached, waiting = {route.start}, [route.start]
    while waiting:
        stage = waiting.pop()
        if stage == market.stage:
            continue
        for step in route.steps:
            onward = {outcome.stage for outcome in step.outcomes} if step.start == stage else set()
            waiting += onward - reached
            reached |= onward
    if market.stage not in reached:
        return None
    left = reached - {market.stage}
    return replace(
        route,
        makes=market.item,
        finish=market.stage,
        steps=tuple(step for step in route.steps if step.start in left),
        market=tuple(each for each in route.market if each.stage in left),
    )


def to_grades(route: Route) -> Iterator[Route]:
    """For each other grade of a pool's piece, the route that makes that one."""
    if route.pool is None:
        return
    for grade in route.pool.grades:
        wanted = {key: value for key, value in grade.values.items() if key != "item"}
        yield replace(
            route,
            makes=str(grade.values["item"]),
            finish=str(grade.values["item"]),
            pool=replace(
                route.pool, finish=Table(wanted, grade.path, grade.lines, grade.step), grades=()
            ),
        )


def in_place_of(book: RouteBook, name: str, route: Route) -> RouteBook:
    """The routes with a part of one in its place."""
    return replace(book, routes={**book.routes, name: route})
