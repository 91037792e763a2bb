"""The market that one item is sold in: level, buyers, bidders, and how they move ahead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.decide.sell.sale_market import SaleMarket, width_from_asks
from advisor.errors import BadInput, CannotAnswer
from advisor.levels.series import BID
from advisor.tasks.pricing import Pricing
from advisor.tasks.sale_demand import SaleDemand, find_demand
from advisor.tasks.stock_markets import SELLING_DAYS, season_share
from advisor.tasks.walked_prices import STANDING_US, standing_ladder


@dataclass(frozen=True)
class FoundMarket:
    """The market, and what it rests on.

    Attributes:
        market: As the decision needs it.
        demand: How many sell a day, and where that comes from.
        ask_level: What others ask; None: nobody asks, or the price is a what-if.
        others: (price, units) that others have standing, cheapest first.
    """

    market: SaleMarket
    demand: SaleDemand
    ask_level: float | None
    others: tuple[tuple[float, float], ...]


def find_sale_market(
    name: str, pricing: Pricing, *, days: int, every: int = 1, broken_up: float = 0.0
) -> FoundMarket:
    """The market of one item; a what-if price is the price at which listings sell.

    Args:
        name: The book's name of it.
        days: Days to sell in.
        every: Days that an ask stands.
        broken_up: What one brings taken apart.
    Raises: BadInput: a what-if price of nothing. CannotAnswer: it has no sale level.
    """
    levels = pricing.levels(name)
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    seen_ask = None if levels is None or levels.ask is None else levels.ask.level
    ask, drift = seen_ask, np.zeros(days)
    if name in pricing.fixed:
        level, ask = pricing.fixed[name], None
        if level <= 0:
            raise BadInput(f"a price of {level:g}", right="a price above 0", item=name)
    elif levels is None or levels.sale is None:
        raise CannotAnswer(
            "nobody is seen buying or selling it, so it has no going rate",
            right=f'quote it: makeworth quote "{name}" PRICE',
            item=name,
        )
    else:
        level = levels.sale.level / kept
        if levels.sale_path is not None:
            known = levels.sale_path.drift[:days]
            drift[: len(known)] = known
    share = np.array([season_share(pricing, day) for day in range(days + 1)])
    ends = float(share[-1])
    share[0] = max(share[0], 1.0 / SELLING_DAYS)
    bid = None if levels is None or levels.bid is None else min(levels.bid.level, level * kept)
    width = width_from_asks(level, ask)
    demand = find_demand(name, levels, pricing, width=width)
    market = SaleMarket(
        level=level,
        a_day=demand.known.a_day,
        width=width,
        bid=bid,
        drift=drift,
        share=share,
        kept=kept,
        # supplies are worth nothing either when the season is over
        leftover=max(pricing.settings.item(name).leftover, broken_up * ends),
        every=min(every, days),
        bidders=() if bid is None else _bidders(name, pricing, bid=bid, kept=kept),
    )
    return FoundMarket(market, demand, seen_ask, _asked_by_others(name, pricing))


def _bidders(
    name: str, pricing: Pricing, *, bid: float, kept: float
) -> tuple[tuple[float, float], ...]:
    """(part of the bid level, units) that are seen wanted, best first.

    Empty where nobody was seen bidding within a day, or not all say how many they want.
    """
    series, levels = pricing.series.get(name), pricing.levels(name)
    if series is None or levels is None or name in pricing.fixed:
        return ()
    fresh = (series.side == BID) & (series.at_us >= pricing.market.as_of_us - STANDING_US)
    newest: dict[tuple[int, float], tuple[float, float]] = {}
    for row in np.flatnonzero(fresh).tolist():  # in the order of time: a later look replaces
        quote, trader = int(series.ids[row]), int(series.trader[row])
        if quote in levels.screened or quote not in levels.values:
            continue
        price = levels.values[quote]
        known = (trader, 0.0 if trader >= 0 else price)
        newest[known] = (price * kept / bid, float(series.qty[row]))
    found = sorted(newest.values(), reverse=True)
    return () if any(math.isnan(units) for _, units in found) else tuple(found)


def _asked_by_others(name: str, pricing: Pricing) -> tuple[tuple[float, float], ...]:
    """What stands for sale; one's own listings are no part of a ladder."""
    levels = pricing.levels(name)
    if levels is None or levels.ladder is None:
        return ()
    ladder = standing_ladder(levels.ladder, pricing.market.as_of_us)
    return tuple((step.unit_price, step.qty) for step in ladder.steps)
