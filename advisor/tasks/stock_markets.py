"""The market of each supply as the stock decision needs it: offers, price ahead, sellers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.stock.buying_now import OffersNow, refuse_holes
from advisor.decide.stock.need import Floats
from advisor.decide.stock.price_looks import PriceWalk
from advisor.decide.stock.price_tiers import PriceTiers, make_tiers
from advisor.decide.stock.trader_trust import TraderRecord, weigh_trust
from advisor.decide.stock.wanted_post import SellerFlow, asks_vanishing_a_day, find_sellers
from advisor.errors import BadInput, CannotAnswer, WrongUse
from advisor.levels.item_levels import ItemLevels
from advisor.levels.ladders import Ladder, Rung
from advisor.levels.series import ASK
from advisor.names import did_you_mean, name_key
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.pricing import Pricing
from advisor.tasks.walked_prices import standing_ladder

SERVICES = "services"
"""Items of this family are paid when they are used: one does not stock up on them."""

SELLING_DAYS = 7.0
"""In so many last days of a season leftovers find fewer and fewer buyers, at its end none."""

WATCHED_DAYS = 30

PLAIN_QTY = 20.0
"""Units one buys at a time of what was never quoted."""


@dataclass(frozen=True, eq=False)
class StillPrice:
    """A price that is known and stays."""

    start_log: float
    drift: Floats
    day_sd: Floats
    start_sd: float = 0.0
    quote_sd: float = 0.0


@dataclass(frozen=True, eq=False)
class SupplyMarket:
    """One item's market.

    Attributes:
        item: The book's name of it.
        offers: What can be bought today.
        walk: The law of the asking price.
        leftover: What a unit brings on the last day, as a share of the asking price then.
        sellers: Who would sell to a wanted post; None where the price is a what-if.
        stockable: Whether one can buy it ahead.
        left_aside: Offers whose trader is too likely to fail, at their asked prices.
    """

    item: str
    offers: OffersNow
    walk: PriceWalk
    leftover: float
    sellers: SellerFlow | None
    stockable: bool
    left_aside: tuple[Rung, ...] = ()


def find_market(
    item: str,
    pricing: Pricing,
    *,
    days: int,
    tiers: PriceTiers | None,
    records: Mapping[int, TraderRecord] | None = None,
) -> SupplyMarket:
    """The market of one item at the pricing's moment.

    Args:
        records: The deals one had with each trader, by code.

    Raises: CannotAnswer: it was never quoted, or nobody asks a price. BadInput: a ladder
        with a hole.
    """
    said = pricing.settings.item(item)
    stockable = name_key(said.family or "") != SERVICES
    share = season_share(pricing, days)
    if item in pricing.fixed:
        price = pricing.fixed[item]
        if price <= 0:
            raise BadInput(f"a price of {price:g}", right="a price above 0", item=item)
        ladder = Ladder((), None, price, _usual_qty(item, pricing), 0.0, said.lots_of)
        walk = StillPrice(math.log(price), np.zeros(days), np.zeros(days))
        kept = (1.0 - float(pricing.settings.trade.sale_fee)) * share
        return SupplyMarket(item, OffersNow(ladder, tiers), walk, kept, None, stockable)
    levels = pricing.levels(item)
    if levels is None:
        raise CannotAnswer(
            "no price of it was ever quoted", right=f'quote it: makeworth quote "{item}"', item=item
        )
    if levels.ask_path is None or levels.ladder is None:
        raise CannotAnswer("nobody is known to ask a price for it", right="quote an ask", item=item)
    refuse_holes(levels.ladder, item)
    ladder = standing_ladder(levels.ladder, pricing.market.as_of_us)
    path = levels.ask_path
    # what is not seen standing is found at the level on average, and that is unsure
    unseen = math.exp(0.5 * (path.start_sd**2 + path.quote_sd**2))
    trusted = weigh_trust(replace(ladder, level=ladder.level * unseen), records or {})
    return SupplyMarket(
        item,
        OffersNow(trusted.ladder, tiers, trusted.risks),
        path,
        leftover=_leftover_share(levels, days) * share,
        sellers=_sellers(levels, pricing),
        stockable=stockable,
        left_aside=trusted.left_aside,
    )


def _usual_qty(item: str, pricing: Pricing) -> float:
    """Units one buys at a time: as settings or past offers have it, else a plain guess."""
    said, levels = pricing.settings.item(item).usual_qty, pricing.levels(item)
    if said is not None:
        return float(said)
    return PLAIN_QTY if levels is None or levels.ladder is None else levels.ladder.usual_qty


def season_days_left(pricing: Pricing) -> int | None:
    """Whole days until the season ends; None outside every season."""
    for season in pricing.settings.seasons:
        if season.start_us <= pricing.market.as_of_us < season.end_us:
            return int((season.end_us - pricing.market.as_of_us) // MICROSECONDS_A_DAY)
    return None


def season_share(pricing: Pricing, days: int) -> float:
    """What is left of a leftover's worth so many days from now, as the season ends; 1 before."""
    left = season_days_left(pricing)
    return 1.0 if left is None else min(1.0, max(0.0, (left - days) / SELLING_DAYS))


def _leftover_share(levels: ItemLevels, days: int) -> float:
    """Net sale price on the last day over the asking price then.

    No more than it brings today: a rise that is foreseen is no reason to buy more
    than is needed.
    """
    sale, ask = levels.sale_path, levels.ask_path
    if sale is None or ask is None:
        return 0.0
    moved = float(np.sum(sale.drift[:days]))
    log_sale = sale.start_log + min(moved, 0.0)
    log_ask = ask.start_log + float(np.sum(ask.drift[:days]))
    return min(1.0, math.exp(log_sale - log_ask))


def _sellers(levels: ItemLevels, pricing: Pricing) -> SellerFlow | None:
    if levels.ask is None or levels.ladder is None:
        return None
    fee = float(pricing.settings.trade.sale_fee)
    bid = None if levels.bid is None else levels.bid.level / (1.0 - fee)
    quote_sd = 0.0 if levels.ask_path is None else levels.ask_path.quote_sd
    return find_sellers(
        ask=levels.ask.level,
        bid=bid,
        quote_sd=quote_sd,
        turnover=_turnover(levels, pricing),
        lot=levels.ladder.usual_qty,
    )


def _turnover(levels: ItemLevels, pricing: Pricing) -> float | None:
    series = pricing.series.get(levels.item)
    if series is None:
        return None
    since = pricing.market.as_of_us - WATCHED_DAYS * MICROSECONDS_A_DAY
    believed = ~np.isin(series.ids, list(levels.screened))
    rows = np.flatnonzero((series.side == ASK) & (series.at_us >= since) & believed)
    return asks_vanishing_a_day(
        series.at_us[rows],
        series.price[rows],
        qty=series.qty[rows],
        trader=series.trader[rows],
    )


def read_tiers(
    whole: Sequence[str], beyond: Sequence[str], *, items: Sequence[str], pricing: Pricing
) -> dict[str, PriceTiers]:
    """Price lists for lots as typed, by item.

    Args:
        whole: "ITEM=LOT:PRICE,LOT:PRICE": the price holds for all units of the lot.
        beyond: Likewise; each price holds for the units beyond its lot only.
        items: The items that are needed.
    Raises: WrongUse: no such form, two lists for one item. BadInput: an item not needed.
    """
    tiers: dict[str, PriceTiers] = {}
    known = {name_key(item): item for item in items}
    for option, typed in (("--tier", whole), ("--tier-beyond", beyond)):
        for text in typed:
            spelled, _, rows = text.rpartition("=")
            item = known.get(name_key(pricing.name(spelled)))
            if not spelled.strip():
                raise WrongUse(f"{option} {text!r} names no item", right=f"write {option} {_FORM}")
            if item is None:
                right = did_you_mean(spelled, items) or f"needed are {', '.join(items)}"
                raise BadInput("no step uses this item", right=right, item=spelled.strip())
            if item in tiers:
                raise WrongUse(f"two price lists for {item!r}", right="give one")
            steps = [_read_tier(row, option, text) for row in rows.split(",")]
            tiers[item] = make_tiers(steps, incremental=option == "--tier-beyond", item=item)
    return tiers


_FORM = '"lantern frame=60:2.2,200:2"'


def _read_tier(row: str, option: str, text: str) -> tuple[float, float]:
    lot, sign, price = row.partition(":")
    try:
        if not sign:
            raise ValueError
        return float(lot), float(price)
    except ValueError:
        what = f"{option} {text!r} is no price list"
        raise WrongUse(what, right=f"write {option} {_FORM}") from None
