"""Buy in, sell out and stop: what the market adds to a route's own steps.

Buy in: at any stage that is not done, pay for a market item and be at its stage;
what was on the table is left behind. Sell out, when the piece is wanted (`keep`):
at a market stage, its sale comes in and the table is at the start again. When it is
made for sale: the evening ends with the sale; the finished piece can always be sold,
and one may stop anywhere with nothing.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np

from advisor.names import name_key
from advisor.routes.draft import ModelDraft
from advisor.routes.route import Route
from advisor.routes.stages import BUY_IN, END, SELL_OUT, STOP

if TYPE_CHECKING:
    from advisor.routes.build import RouteNames


def add_market(
    draft: ModelDraft,
    route: Route,
    names: RouteNames,
    done: np.ndarray,
    *,
    goal: str,
    buyable: Collection[str] | None,
    sellable: Collection[str] | None,
) -> None:
    """Add the actions that the market offers at each stage.

    Args:
        draft: Takes the actions.
        route: For [market] and what the route makes.
        names: Stages and items by number; new items are numbered here.
        done: bool, shape (stages,): the piece is made here.
        goal: "keep" or "sale".
        buyable, sellable: Keys of the items with a price; None: all have one.
    """
    open_stages = np.flatnonzero(~done)
    for stage, market in zip(names.market, route.market, strict=True):
        item = names.items.number(market.item)
        if _has(market.item, buyable):
            actions = draft.add_actions(open_stages[open_stages != stage], BUY_IN)
            draft.add_uses(draft.add_outcomes(actions, stage), item, 1.0)
        if _has(market.item, sellable) and (goal == "sale" or not done[stage]):
            target = END if goal == "sale" else names.start
            actions = draft.add_actions(np.array([stage]), SELL_OUT)
            draft.add_gives(draft.add_outcomes(actions, target), item, 1.0)
    if goal == "sale":
        _add_sale(draft, route, names, done, sellable)


def tell_unpriced(route: Route, buy: Collection[str], sell: Collection[str]) -> list[str]:
    """Stages of [market] that nothing can be done with, for their items have no price."""
    return [
        f"No price of {market.item!r} is known: {market.stage!r} can be neither bought into nor "
        f"sold out (line {market.line})."
        for market in route.market
        if not _has(market.item, buy) and not _has(market.item, sell)
    ]


def _add_sale(
    draft: ModelDraft,
    route: Route,
    names: RouteNames,
    done: np.ndarray,
    sellable: Collection[str] | None,
) -> None:
    """The finished piece can be sold, and every stage left."""
    sold = {
        name_key(market.item)
        for stage, market in zip(names.market, route.market, strict=True)
        if done[stage]
    }
    if name_key(route.makes) not in sold and _has(route.makes, sellable):
        actions = draft.add_actions(np.flatnonzero(done), SELL_OUT)
        draft.add_gives(draft.add_outcomes(actions, END), names.items.number(route.makes), 1.0)
    draft.add_outcomes(draft.add_actions(np.arange(len(done)), STOP), END)


def _has(item: str, priced: Collection[str] | None) -> bool:
    return priced is None or name_key(item) in priced
