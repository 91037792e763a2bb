"""How many of one's own the market takes in a day: from own sales, deals seen, settings."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.sell.own_demand import Demand, Stood, count_gaps, count_sales, learn_demand
from advisor.figures import amount, spell_days
from advisor.levels.item_levels import ItemLevels
from advisor.levels.series import DEAL
from advisor.names import name_key
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.levels_then import LevelsThen
from advisor.tasks.pricing import Pricing
from advisor.tasks.stock_markets import WATCHED_DAYS

SALES_A_DAY = 1.0
"""Units that the market takes of one seller in a day where nothing tells."""

FEWEST_DEALS = 5
SAID_WORTH, DEALS_WORTH, GUESS_WORTH = 5.0, 3.0, 1.0
"""Own sales that settings, deals of others, or nothing but a guess count as."""

TELLS_DAYS = 1 / 24
"""Where nothing sold in less time than this, there is nothing to say of it."""

SHARE_AT_MOST = 2.0
HALF_ACCEPT = 0.5
"""At the going rate half the customers who ask accept: twice as many ask as buy."""


@dataclass(frozen=True)
class SaleDemand:
    """How many sell a day, and where that comes from.

    Attributes:
        source: As a sentence; None where the settings alone say it.
    """

    known: Demand
    source: str | None


def find_demand(
    name: str, levels: ItemLevels | None, pricing: Pricing, *, width: float
) -> SaleDemand:
    """How many of one's own of an item sell in a day at the level.

    Args:
        name: The book's name of it.
        width: How fast buyers grow few above the level, log scale.
    """
    assumed, worth, source = _assumed(name, levels, pricing)
    own = _own_sales(name, pricing, width)
    known = learn_demand(assumed, worth, sold=own.sold, days=own.days)
    if own.sold <= 0 and own.days < TELLS_DAYS:
        return SaleDemand(known, source)
    learned = (
        f"{_learned_from(own)}: {known.a_day:.2g} sell in a day ({known.low_95:.2g} to "
        f"{known.high_95:.2g} in 95 of 100 cases); the {assumed:.2g} assumed before counts as "
        f"{worth:g} {'sale' if worth == 1 else 'sales'}."
    )
    return SaleDemand(known, learned)


def _learned_from(own: _OwnSales) -> str:
    """What was sold in which time, as the beginning of a sentence."""
    time = spell_days(own.days)
    if own.sold <= 0:
        return f"None of yours sold in {time} {own.when}, counted as if at the level"
    said = f"Learned from {amount(own.logged, digits=3)} of yours sold"
    part = "" if own.sold == own.logged else f", {amount(own.sold, digits=3)} of them"
    stood = "" if own.listed else ", some taken to have stood all the while"
    return f"{said}{part} in {time} {own.when}, counted as if at the level{stood}"


def find_askers(item: str, makers: Collection[str], pricing: Pricing) -> Demand:
    """How many customers a day ask for a service, whether they take the offer or not.

    Args:
        item: The book's name of the service.
        makers: The routes that do it: offers by them are for it.
    """
    said = pricing.settings.item(item).sells_per_day
    assumed, worth = (SALES_A_DAY, GUESS_WORTH) if said is None else (said, SAID_WORTH)
    offers = [*pricing.dealings.taken, *pricing.dealings.declined]
    since = pricing.market.as_of_us - WATCHED_DAYS * MICROSECONDS_A_DAY
    at = sorted(each.at_us for each in offers if each.route in makers and each.at_us >= since)
    asked, days = count_gaps([(_day(at_us), 1.0, 1.0) for at_us in at])
    return learn_demand(assumed / HALF_ACCEPT, worth, sold=asked, days=days)


def _assumed(
    name: str, levels: ItemLevels | None, pricing: Pricing
) -> tuple[float, float, str | None]:
    """The guess before own sales, the sales it counts as, and where it comes from."""
    said = pricing.settings.item(name).sells_per_day
    if said is not None:
        return said, SAID_WORTH, None
    dealt = _dealt_a_day(name, levels, pricing)
    if dealt is not None:
        a_day, sellers = dealt
        source = (
            f"Taken from the deals of the last {WATCHED_DAYS} days, shared among {sellers} "
            f"sellers: {a_day:.2g} of yours sell in a day; set sells_per_day if you know better, "
            "or log your sales."
        )
        return a_day, DEALS_WORTH, source
    return (
        SALES_A_DAY,
        GUESS_WORTH,
        "Too few deals were seen to tell how many sell: one of yours a day is taken; set "
        "sells_per_day if you know better, or log your sales.",
    )


def _dealt_a_day(
    name: str, levels: ItemLevels | None, pricing: Pricing
) -> tuple[float, int] | None:
    """Units dealt a day for each seller over the last weeks, and how many sellers there are.

    One's own sales are no part of it where they are logged, and oneself none of the
    sellers. None where too few deals were seen.
    """
    series = None if levels is None else pricing.series.get(levels.item)
    if levels is None or series is None:
        return None
    now = pricing.market.as_of_us
    since = now - WATCHED_DAYS * MICROSECONDS_A_DAY
    believed = ~np.isin(series.ids, list(levels.screened))
    rows = (series.side == DEAL) & (series.at_us >= since) & believed
    own = [
        each.qty
        for each in pricing.dealings.sales
        if each.at_us >= since and _same(each.item, name, pricing)
    ]
    if int(rows.sum()) - len(own) < FEWEST_DEALS:
        return None
    watched = (now - max(since, int(series.at_us.min()))) / MICROSECONDS_A_DAY
    units = float(np.where(np.isnan(series.qty[rows]), 1.0, series.qty[rows]).sum()) - sum(own)
    others = 0 if levels.ladder is None else len(levels.ladder.steps)
    sellers = max(others, 1) if own else 1 + others
    return max(units, 0.0) / max(watched, 1.0) / sellers, sellers


@dataclass(frozen=True, slots=True)
class _OwnSales:
    """Own units sold.

    Attributes:
        logged: All of them.
        sold, days: Those that tell of a time, and how long they stood as if at the level.
        listed: Own listings were seen.
    """

    logged: float
    sold: float
    days: float
    listed: bool

    @property
    def when(self) -> str:
        """Which time it is."""
        return "while your listings stood" if self.listed else "after the first"


def _own_sales(name: str, pricing: Pricing, width: float) -> _OwnSales:
    """What own sales tell: by the listings that stood, else by the gaps between sales."""
    reader = _Shares(name, pricing, width)
    sales = [each for each in pricing.dealings.sales if _same(each.item, name, pricing)]
    logged = sum(each.qty for each in sales)
    listings = [each for each in pricing.dealings.listings if _same(each.item, name, pricing)]
    if listings:
        stood: dict[int, Stood] = {}
        for each in listings:
            share = reader.share(each.price, each.money, each.at_us)
            known = stood.get(each.at_us)
            qty = None if each.qty is None else float(each.qty)
            if known is not None:  # several asks at one look: the cheapest sells first
                qty = None if known.qty is None or qty is None else known.qty + qty
                share = max(share, known.share)
            stood[each.at_us] = Stood(_day(each.at_us), qty, share)
        sold, days = count_sales(
            list(stood.values()),
            [(_day(each.at_us), each.qty) for each in sales],
            until=_day(pricing.market.as_of_us),
        )
        return _OwnSales(logged, sold, days, listed=True)
    shares = [
        (_day(each.at_us), each.qty, reader.share(each.price, each.money, each.at_us))
        for each in sales
    ]
    sold, days = count_gaps(shares)
    return _OwnSales(logged, sold, days, listed=False)


def _same(item: str, name: str, pricing: Pricing) -> bool:
    return name_key(pricing.name(item)) == name_key(name)


def _day(at_us: int) -> float:
    return at_us / MICROSECONDS_A_DAY


class _Shares:
    """Which part of the buyers at the level buys at a price of a day gone by."""

    def __init__(self, name: str, pricing: Pricing, width: float) -> None:
        self._name, self._width = name, width
        self._pricing = replace(pricing, fixed={})
        self._then = LevelsThen(self._pricing)
        self._kept = 1.0 - float(pricing.settings.trade.sale_fee)

    def share(self, price: float, money: str, at_us: int) -> float:
        """1 where no level of that time is known."""
        net = self._then.selling(self._name, at_us)
        log_rate, _ = self._pricing.market.rates.log_rate(money, np.array([at_us]))
        if not net or not math.isfinite(log_rate[0]):
            return 1.0
        above = (math.log(price * self._kept / net) + float(log_rate[0])) / self._width
        return SHARE_AT_MOST / (1.0 + math.exp(min(above, 700.0)))
