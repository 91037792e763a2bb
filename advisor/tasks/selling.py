"""When to sell and at what price: gathers levels, demand and the days, and answers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.decide.sell.sale_market import SaleMarket, width_from_asks
from advisor.decide.sell.sell_advice import SellAdvice, weigh_sale
from advisor.decide.sell.sell_reasons import SellStory, said_days, sell_cautions, sell_reasons
from advisor.errors import BadInput, CannotAnswer, WrongUse
from advisor.levels.item_levels import ItemLevels
from advisor.levels.series import DEAL
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.pricing import Pricing, known_item
from advisor.tasks.routing import RouteBook
from advisor.tasks.sell_compared import Earning, compare_earnings
from advisor.tasks.stock_markets import (
    SELLING_DAYS,
    WATCHED_DAYS,
    season_days_left,
    season_share,
)

MOST_COUNT = 1000
MOST_DAYS = 120
SALES_A_DAY = 1.0
"""Units that the market takes of one seller in a day where nothing tells."""

FEWEST_DEALS = 5


@dataclass(frozen=True)
class Sell:
    """The answer.

    Attributes:
        piece: The book's name of it.
        count, days: How many, and the days to sell in.
        advice: The decision.
        compared: What an hour earns by this and by other ways, most first.
        story: What the sentences are made from.
        reasons, cautions: Sentences.
        pricing: The prices that all rests on.
    """

    piece: str
    count: int
    days: int
    advice: SellAdvice
    compared: tuple[Earning, ...]
    story: SellStory
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    pricing: Pricing


def advise_sell(book: RouteBook, pricing: Pricing, *, piece: str, count: int, within: int) -> Sell:
    """Answer when to sell some pieces within some days, and at which asking price.

    Raises: WrongUse: a count or days out of range. BadInput: an item nothing is known of,
        or money. CannotAnswer: nobody is seen buying or selling it; the season is over.
    """
    if not 1 <= count <= MOST_COUNT:
        raise WrongUse(f"--count {count} is out of range", right=f"1 to {MOST_COUNT}")
    if not 1 <= within <= MOST_DAYS:
        raise WrongUse(f"--within {within} is out of range", right=f"1 to {MOST_DAYS} days")
    name = _known_piece(piece, pricing)
    notes: list[str] = []
    days, left = within, season_days_left(pricing)
    if left is not None and days > left:
        days = max(left, 1)
        ends = f"in {said_days(left)}" if left else "today"
        notes.append(f"The season ends {ends}: the time to sell in is cut to {said_days(days)}.")
    levels = pricing.levels(name)
    a_day, source = _sales_a_day(name, levels, pricing)
    market = _find_market(name, levels, pricing, days=days, a_day=a_day)
    advice = weigh_sale(count, market)
    compared, left_out = compare_earnings(
        book, pricing, piece=name, proceeds_each=advice.proceeds / count
    )
    story = SellStory(
        piece=name,
        money=pricing.market.money,
        count=count,
        advice=advice,
        market=market,
        season_left=left,
        demand_source=source,
        ask_level=None if levels is None or levels.ask is None else levels.ask.level,
    )
    return Sell(
        piece=name,
        count=count,
        days=days,
        advice=advice,
        compared=tuple(compared),
        story=story,
        reasons=tuple(sell_reasons(story)),
        cautions=tuple(sell_cautions(story, notes=[*notes, *left_out, *pricing.market.cautions])),
        pricing=pricing,
    )


def _known_piece(piece: str, pricing: Pricing) -> str:
    name = pricing.name(piece)
    if name not in pricing.fixed:
        name = known_item(piece, pricing.names)
    if pricing.market.rates.now(name) is not None:
        raise BadInput("this is money", right="name a piece to sell", item=name)
    return name


def _find_market(
    name: str, levels: ItemLevels | None, pricing: Pricing, *, days: int, a_day: float
) -> SaleMarket:
    """The market of one item; a what-if price is the price at which listings sell.

    Raises: CannotAnswer: it has no sale level.
    """
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    ask = None if levels is None or levels.ask is None else levels.ask.level
    drift = np.zeros(days)
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
    share[0] = max(share[0], 1.0 / SELLING_DAYS)
    bid = None if levels is None or levels.bid is None else min(levels.bid.level, level * kept)
    return SaleMarket(
        level=level,
        a_day=a_day,
        width=width_from_asks(level, ask),
        bid=bid,
        drift=drift,
        share=share,
        kept=kept,
    )


def _sales_a_day(
    name: str, levels: ItemLevels | None, pricing: Pricing
) -> tuple[float, str | None]:
    """How many of yours sell in a day at the level, and where that comes from if not settings."""
    said = pricing.settings.item(name).sells_per_day
    if said is not None:
        return said, None
    dealt = _dealt_a_day(levels, pricing)
    if levels is not None and dealt is not None:
        sellers = 1 + (0 if levels.ladder is None else len(levels.ladder.steps))
        return dealt / sellers, (
            f"Taken from the deals of the last {WATCHED_DAYS} days, shared among {sellers} "
            f"sellers: {dealt / sellers:.2g} of yours sell in a day; set sells_per_day if you "
            "know better."
        )
    return SALES_A_DAY, (
        "Too few deals were seen to tell how many sell: one of yours a day is taken; set "
        "sells_per_day if you know better."
    )


def _dealt_a_day(levels: ItemLevels | None, pricing: Pricing) -> float | None:
    """Units dealt in a day over the last weeks; None where too few deals were seen."""
    series = None if levels is None else pricing.series.get(levels.item)
    if levels is None or series is None:
        return None
    now = pricing.market.as_of_us
    since = now - WATCHED_DAYS * MICROSECONDS_A_DAY
    believed = ~np.isin(series.ids, list(levels.screened))
    rows = (series.side == DEAL) & (series.at_us >= since) & believed
    if int(rows.sum()) < FEWEST_DEALS:
        return None
    watched = (now - max(since, int(series.at_us.min()))) / MICROSECONDS_A_DAY
    units = np.where(np.isnan(series.qty[rows]), 1.0, series.qty[rows])
    return float(units.sum()) / max(watched, 1.0)
