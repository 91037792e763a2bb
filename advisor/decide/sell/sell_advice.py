"""List now, hold, or sell at once; and under which price rather to keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.sell.sale_course import PlannedDay, follow_plan, value_at_one_ask
from advisor.decide.sell.sale_market import ASKS_TRIED, SaleMarket
from advisor.decide.sell.sale_plan import SalePlan, plan_sale, sale_chances, value_of_asks

LIST, HOLD, AT_ONCE = "list now", "hold", "sell at once"
FEW_BUYERS = 0.1
"""An ask at which so small a part of the usual buyers buy is no offer: one waits."""

WORTH_WAITING = 0.02
"""One holds for a rise of the level by more than this; else a high ask is just patient."""

UNDERCUT = 0.99
"""So much of another's price is just below it."""

TRIED_FOR_ALL = 12
"""Every so many of the asks is tried as one that stays."""


@dataclass(frozen=True)
class SellAdvice:
    """The answer.

    Attributes:
        verdict: "list now", "hold" or "sell at once".
        plan: The best ask by day and number left.
        days: The plan as it is likely to go.
        ask_now: What to ask today for what is not sold at once.
        list_from: The first day whose ask is one that buyers accept; None: there is none.
        sell_at_once: Pieces to sell to bidders today.
        proceeds: Mean proceeds of the plan, fee taken off.
        floor: The least price, before the fee, at which to part with one piece today.
        one_ask: Mean proceeds of the best ask that stays where it is to the level.
        at_bids: Proceeds of selling to bidders today all that they want; None: nobody bids.
        bidders_want: How many of the pieces that is.
        market_takes: Mean number that would sell in these days at the level.
        below: (price, units) that others have standing below the ask, cheapest first.
        undercut: The price just below the cheapest of those, and mean proceeds where one
            asks that first and then goes on by the plan; None: nobody is below.
    """

    verdict: str
    plan: SalePlan
    days: Sequence[PlannedDay]
    ask_now: float
    list_from: int | None
    sell_at_once: int
    proceeds: float
    floor: float
    one_ask: float
    at_bids: float | None
    bidders_want: int
    market_takes: float
    below: tuple[tuple[float, float], ...] = ()
    undercut: tuple[float, float] | None = None


def weigh_sale(
    count: int, market: SaleMarket, *, others: Sequence[tuple[float, float]] = ()
) -> SellAdvice:
    """The best way to sell so many pieces in the market's days.

    Args:
        others: (price, units) that others have standing, cheapest first.
    """
    plan = plan_sale(
        count, market.periods(count), kept=market.kept, leftover=market.left_over(count)
    )
    left = int(plan.kept_after_bids(0)[count])
    ask = plan.ask(0, max(left, 1))
    days = follow_plan(plan, every=market.every)
    below = tuple(each for each in others if each[0] < ask)
    return SellAdvice(
        verdict=_verdict(market, left, ask),
        plan=plan,
        days=days,
        ask_now=ask,
        list_from=next((d.day for d in days if _is_bought(market, d.day, d.ask)), None),
        sell_at_once=count - left,
        proceeds=float(plan.value[0, count]),
        floor=plan.worth_of_one(0, count) / market.kept,
        one_ask=max(value_at_one_ask(plan, place) for place in range(0, ASKS_TRIED, TRIED_FOR_ALL)),
        at_bids=None if market.bid is None else float(market.bids_on(0, count).sum()),
        bidders_want=_wanted(market, count),
        market_takes=sum(market.buyers_on(day, market.level_on(day)) for day in range(market.days)),
        below=below,
        undercut=_undercut(plan, market, left, below[0][0]) if below and left else None,
    )


def _undercut(plan: SalePlan, market: SaleMarket, left: int, price: float) -> tuple[float, float]:
    """Asking just less than a price for all that is not sold to bidders, then the plan."""
    ask = price * UNDERCUT
    buyers = np.array([market.buyers_from(0, ask)])
    listed = value_of_asks(
        np.array([ask * market.kept]), plan.value[1], chances=sale_chances(buyers, plan.count)
    )
    return ask, float(listed[0, left]) + float(market.bids_on(0, plan.count - left).sum())


def _wanted(market: SaleMarket, count: int) -> int:
    if market.bid is None:
        return 0
    return int(min(count, sum(units for _, units in market.bidders))) if market.bidders else count


def _verdict(market: SaleMarket, left: int, ask: float) -> str:
    if left == 0:
        return AT_ONCE
    highest = max(market.level_on(day) for day in range(market.days + 1))
    waits = highest > (1.0 + WORTH_WAITING) * market.level and not _is_bought(market, 0, ask)
    return HOLD if waits else LIST


def _is_bought(market: SaleMarket, day: int, ask: float) -> bool:
    """Whether an ask is one that a fair part of the usual buyers accept."""
    usual = market.a_day * float(market.share[day])
    return market.buyers_on(day, ask) >= FEW_BUYERS * usual > 0
