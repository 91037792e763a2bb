"""Where a customer's piece can be lost on the way, and who bears it.

A route for a service may lead to a stage that no step leaves: there the customer's
piece is gone. Such a route has no answer until it is said what is then paid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from advisor.errors import CannotAnswer
from advisor.names import did_you_mean, name_key
from advisor.routes.amounts import ItemAmount
from advisor.routes.odds import certain
from advisor.routes.route import Outcome, Route, Step
from advisor.tasks.routing import RouteBook

SETTLED = "settle the lost piece"


def settle_losses(book: RouteBook, name: str, losses: Mapping[str, float]) -> RouteBook:
    """The routes, with a way on from wherever this one's piece is lost.

    The way on costs what is paid for the piece, so that the best choices count it; the
    order itself ends there.

    Args:
        name: The route, as in the book.
        losses: What is paid where the customer's piece is lost, in the workspace money, by
            the stage as typed.
    Raises: CannotAnswer: it can be lost where no terms say so.
    """
    route = book.routes[name]
    ends = _dead_ends(route)
    pays = {name_key(stage): money for stage, money in losses.items()}
    for end in ends:
        if name_key(end) not in pays:
            raise CannotAnswer(
                "the customer's piece can be lost here, and no terms say who bears it",
                file=route.file,
                stage=end,
                right=f'say what you then pay: --lost "{end}=120", or =0 if it is their risk',
            )
    if not ends:
        return book
    ways_on = (_way_on(route, end, pays[name_key(end)]) for end in ends)
    changed = replace(route, steps=(*route.steps, *ways_on))
    return replace(book, routes={**book.routes, name: changed})


def _dead_ends(route: Route) -> list[str]:
    """Stages that no step leaves, by their written names; a likely slip of the pen is none."""
    if route.pool is not None or any(step.vary for step in route.steps):
        return []
    known = [step.start or "" for step in route.steps]
    known += [route.finish, *(market.stage for market in route.market)]
    keys = {name_key(stage) for stage in known}
    reached = dict.fromkeys(outcome.stage for step in route.steps for outcome in step.outcomes)
    return [
        stage
        for stage in reached
        if name_key(stage) not in keys and did_you_mean(stage, known) is None
    ]


def _way_on(route: Route, stage: str, pays: float) -> Step:
    paid = ItemAmount(None, Fraction(pays), None)
    onward = Outcome(route.start, certain(None), (), (), Fraction(0), None, None)
    return Step(
        name=SETTLED,
        start=stage,
        outcomes=(onward,),
        uses=(paid,),
        gives=(),
        minutes=Fraction(0),
        vary={},
        when=None,
        put=None,
        effect=None,
        since=None,
        table=route.steps[0].table,
    )
