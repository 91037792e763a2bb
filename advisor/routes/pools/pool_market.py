"""Buy in, sell out and stop on a route with a pool; grades are sold as they are."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from advisor.names import name_key
from advisor.routes.build import ItemNumbers
from advisor.routes.draft import ModelDraft
from advisor.routes.pools.landing import Landing
from advisor.routes.pools.plain_stages import PlainStages
from advisor.routes.pools.pool_route import PoolRoute
from advisor.routes.stages import BUY_IN, END, SELL_OUT, STOP


class PoolMarket:
    """What the market adds to a route's own steps.

    Where chance is about to speak (a redraw, an offer) there is nothing to buy or
    sell: what comes of it can be sold just as well.

    Args:
        pool_route: The route.
        landing: Where pieces come to.
        plain: Stages that are written by name.
        goal: "keep" or "sale".
    """

    def __init__(
        self, pool_route: PoolRoute, landing: Landing, plain: PlainStages, *, goal: str
    ) -> None:
        self.pool_route, self.landing, self.plain = pool_route, landing, plain
        self.for_sale = goal == "sale"

    def add(
        self,
        draft: ModelDraft,
        items: ItemNumbers,
        *,
        buyable: Collection[str] | None,
        sellable: Collection[str] | None,
    ) -> None:
        """Add the actions that the market offers at each stage."""
        done = self.landing.done()
        at_rest = self.landing.at_rest()
        for market in self.pool_route.route.market:
            stage = self.plain.number(market.stage)
            if _has(market.item, buyable):
                others = at_rest[(at_rest != stage) & ~done[at_rest]]
                actions = draft.add_actions(others, BUY_IN)
                uses = draft.add_outcomes(actions, stage)
                draft.add_uses(uses, items.number(market.item), 1.0)
            if _has(market.item, sellable) and (self.for_sale or not done[stage]):
                target = END if self.for_sale else self.plain.start
                _sell(draft, [stage], target, item=items.number(market.item))
        if self.for_sale:
            self._add_sales(draft, items, done, sellable)
            draft.add_outcomes(draft.add_actions(at_rest, STOP), END)

    def _add_sales(
        self,
        draft: ModelDraft,
        items: ItemNumbers,
        done: np.ndarray,
        sellable: Collection[str] | None,
    ) -> None:
        """The finished piece can be sold, and every grade that is met."""
        route = self.pool_route.route
        sold = {(self.plain.number(each.stage), name_key(each.item)) for each in route.market}
        ends = [
            stage
            for stage in np.flatnonzero(done).tolist()
            if (stage, name_key(route.makes)) not in sold
        ]
        if _has(route.makes, sellable):
            _sell(draft, ends, END, item=items.number(route.makes))
        for grade, stages in self.landing.graded_stages():
            if _has(grade.item, sellable):
                _sell(draft, stages, END, item=items.number(grade.item))


def _sell(draft: ModelDraft, stages: Sequence[int] | np.ndarray, target: int, *, item: int) -> None:
    actions = draft.add_actions(np.asarray(stages, dtype=np.int64), SELL_OUT)
    draft.add_gives(draft.add_outcomes(actions, target), item, 1.0)


def _has(item: str, priced: Collection[str] | None) -> bool:
    return priced is None or name_key(item) in priced
