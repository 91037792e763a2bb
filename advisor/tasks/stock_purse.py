"""One purse for all pieces: which to start, what to buy today, how far it reaches."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.stock.limited_purse import PurseUse
from advisor.decide.stock.played_evenings import EVENINGS
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.stock_items import SupplyAnswer
from advisor.tasks.stock_needs import Order
from advisor.tasks.stock_purse_table import PurseTable

PARTS_AT_MOST = 12
ROUTES_ORDERED = 3
"""Routes up to which every order of making them is tried."""

LIKELY = 0.5
"""A piece is started if it is more likely than not that the purse sees it through."""


@dataclass(frozen=True)
class PursePart:
    """Some pieces of the row: after them, how likely the purse lasted.

    Attributes:
        pieces: How many by this route are done by then.
        enough_80: Money that is enough by then in 8 of 10 cases.
    """

    route: str
    pieces: int
    chance: float
    enough_80: float
    started: bool


@dataclass(frozen=True)
class PursePlan:
    """The purse, used as well as can be.

    Attributes:
        budget: All the money there is.
        parts: In the order of making.
        started: What is worth starting, in the order of making.
        all_started: Whether that is all that was asked for.
        paid: Paid today.
        lacking: Money lacking on average to finish all that was asked for.
        chance_started: Chance that the purse lasts for what is started.
        chance_all: The same for all that was asked for.
        places: For each supply, which of its quantities is bought today.
        lower: No way of spending so much today comes to less on average.
        cautions: Sentences.
    """

    budget: float
    parts: tuple[PursePart, ...]
    started: tuple[Order, ...]
    all_started: bool
    paid: float
    lacking: float
    chance_started: float
    chance_all: float
    places: tuple[int, ...]
    lower: float
    cautions: tuple[str, ...]

    def with_fewer(self, fewer: PursePlan) -> PursePlan:
        """The same once today's purchases are those for what is started only."""
        begun = tuple(replace(each, started=True) for each in fewer.parts)
        rest = tuple(each for each in self.parts if not each.started)
        return replace(
            self,
            parts=begun + rest,
            paid=fewer.paid,
            chance_started=fewer.chance_all,
            places=fewer.places,
            lower=fewer.lower,
        )


def plan_purse(
    orders: Sequence[Order],
    costs: Sequence[RouteCost],
    *,
    supplies: Sequence[SupplyAnswer],
    pricing: Pricing,
    book: RouteBook,
    budget: float,
) -> PursePlan:
    """Which pieces to start with a purse, and what to buy today for all asked for.

    Args:
        costs: Of each order.
        supplies: Answered as if money were no matter.
    """
    table = PurseTable(costs, supplies, pricing=pricing, book=book)
    sequences = list(itertools.permutations(range(len(orders))))
    if len(orders) > ROUTES_ORDERED:
        sequences = [tuple(sorted(range(len(orders)), key=lambda k: costs[k].mean or 0.0))]
    uses = [table.use(_parts(orders, sequence), budget) for sequence in sequences]
    at = int(np.argmax([use.value for use in uses]))
    row, use = _parts(orders, sequences[at]), uses[at]
    while (begun := _likely(use)) < len(row) and row[begun][1] > 1:
        row = _finer(row, begun)
        use = table.use(row, budget)
    return _describe(orders, row, use, table)


def _likely(use: PurseUse) -> int:
    """How many parts of the row the purse sees through more often than not."""
    return int(np.sum(np.logical_and.accumulate(use.chance_finished >= LIKELY)))


def _finer(row: Sequence[tuple[int, int]], begun: int) -> list[tuple[int, int]]:
    """The row with its first unlikely part in small ones, those before taken together."""
    before = [
        (route, sum(pieces for _, pieces in same))
        for route, same in itertools.groupby(row[:begun], key=lambda part: part[0])
    ]
    route, pieces = row[begun]
    cuts = np.linspace(0, pieces, min(pieces, PARTS_AT_MOST) + 1)
    small = [(route, int(each)) for each in np.diff(np.round(cuts))]
    return [*before, *small, *row[begun + 1 :]]


def _parts(orders: Sequence[Order], sequence: Sequence[int]) -> list[tuple[int, int]]:
    """The row of parts: (order, pieces); large orders in a few parts."""
    most = max(1, PARTS_AT_MOST // len(orders))
    parts = []
    for number in sequence:
        cuts = np.linspace(0, orders[number].pieces, min(orders[number].pieces, most) + 1)
        parts += [(number, int(each)) for each in np.diff(np.round(cuts))]
    return parts


def _describe(
    orders: Sequence[Order], row: Sequence[tuple[int, int]], use: PurseUse, table: PurseTable
) -> PursePlan:
    chances, enough = use.chance_finished, use.enough(0.8)
    begun = max(1, _likely(use))
    done, parts = dict.fromkeys(range(len(orders)), 0), []
    started: dict[int, int] = {}
    for number, (route, pieces) in enumerate(row):
        done[route] += pieces
        parts.append(
            PursePart(
                orders[route].route,
                done[route],
                float(chances[number]),
                float(enough[number]),
                number < begun,
            )
        )
        if number < begun:
            started[route] = done[route]
    return PursePlan(
        budget=use.budget,
        parts=tuple(parts),
        started=tuple(Order(orders[route].route, count) for route, count in started.items()),
        all_started=begun == len(row),
        paid=use.paid,
        lacking=use.lacking,
        chance_started=float(chances[begun - 1]),
        chance_all=float(chances[-1]),
        places=table.all_places(use.places),
        lower=table.lower,
        cautions=_cautions(table),
    )


def _cautions(table: PurseTable) -> tuple[str, ...]:
    said = [
        f"How far the purse reaches is played out on {EVENINGS} evenings, so chances may be off by "
        "2 in 100; what is lacking later is bought at the price foreseen, and what comes back or "
        "is left over is not sold before all is done."
    ]
    if table.unpriced:
        said.append(
            f"No price of {', '.join(table.unpriced)} is known: in the purse a piece counts as "
            "worth what making it costs."
        )
    return tuple(said)
