"""A replay: every morning's advice settled on what stood later, and the sums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from advisor.decide.replay.day_advice import DayAdvice
from advisor.decide.replay.forecast_scores import ForecastCame, ForecastScore, score_forecasts
from advisor.decide.replay.settled_craft import CraftSettled, settle_craft
from advisor.decide.replay.settled_sale import SaleSettled, settle_sale
from advisor.decide.replay.settled_stock import StockSettled, settle_stock
from advisor.decide.replay.standing import MarketDay, Standing


@dataclass
class SettledDay:
    """What came of one morning's advice, by piece or (route, item)."""

    day: str
    forecasts: list[ForecastCame] = field(default_factory=list)
    crafts: dict[str, CraftSettled] = field(default_factory=dict)
    stocks: dict[tuple[str, str], StockSettled] = field(default_factory=dict)
    sales: dict[str, SaleSettled] = field(default_factory=dict)


def settle_day(advice: DayAdvice, market: Sequence[MarketDay], *, kept: float) -> SettledDay:
    """Settle one morning's advice.

    What would be known only after the last of these days is not settled.

    Args:
        market: What stood on the day itself, the next day and so on, >= 1.
        kept: The part of a price that is left after the fee.
    """
    settled = SettledDay(advice.day)
    for said in advice.forecasts:
        for days, quantiles in said.ahead:
            seen = market[days - 1].get(said.item) if days <= len(market) else None
            if seen is not None and seen.is_fresh:
                came = seen.unit_price(said.usual_qty)
                one = ForecastCame(days, tuple(quantiles), said.last_quote, came)
                settled.forecasts.append(one)
    for craft in advice.crafts:
        if (cost := settle_craft(craft, market[0], kept=kept)) is not None:
            settled.crafts[craft.piece] = cost
    for stock in advice.stocks:
        seen_days = _days_of(stock.item, market, stock.days + 1)
        if seen_days and (paid := settle_stock(stock, seen_days, kept=kept)) is not None:
            settled.stocks[stock.route, stock.item] = paid
    for sale in advice.sales:
        seen_days = _days_of(sale.piece, market, len(sale.asks))
        if seen_days and (brought := settle_sale(sale, seen_days, kept=kept)) is not None:
            settled.sales[sale.piece] = brought
    return settled


def _days_of(item: str, market: Sequence[MarketDay], count: int) -> list[Standing | None]:
    """What stood of an item on so many days; nothing where not all of them are over."""
    return [day.get(item) for day in market[:count]] if count <= len(market) else []


@dataclass(frozen=True)
class Ways:
    """Sums of three ways to act, and how many times each was settled."""

    followed: float
    plain: float
    hindsight: float
    settled: int


@dataclass(frozen=True)
class ReplaySums:
    """The whole replay.

    Attributes:
        forecast: One for each number of days ahead.
        craft, stock, sell: Sums over all days.
        craft_right: How many times the craft advice was as good as hindsight.
    """

    days: Sequence[SettledDay]
    forecast: tuple[ForecastScore, ...]
    craft: Ways
    stock: Ways
    sell: Ways
    craft_right: int


def sum_days(days: Sequence[SettledDay], *, ahead: Sequence[int]) -> ReplaySums:
    """Add up settled days.

    Args:
        ahead: The days ahead that forecasts are scored for.
    """
    crafts = [each for day in days for each in day.crafts.values()]
    came = [each for day in days for each in day.forecasts]
    return ReplaySums(
        days,
        tuple(score_forecasts(came, days=each) for each in ahead),
        craft=sum_ways(crafts),
        stock=sum_supplies([each for day in days for each in day.stocks.values()]),
        sell=sum_ways([each for day in days for each in day.sales.values()]),
        craft_right=sum(each.was_right for each in crafts),
    )


def sum_ways(settled: Sequence[CraftSettled] | Sequence[SaleSettled]) -> Ways:
    """Add up what was settled one by one."""
    return Ways(
        sum(each.followed for each in settled),
        sum(each.plain for each in settled),
        sum(each.hindsight for each in settled),
        len(settled),
    )


def sum_supplies(settled: Sequence[StockSettled]) -> Ways:
    """The same of supplies."""
    return Ways(
        sum(each.paid for each in settled),
        sum(each.paid_plain for each in settled),
        sum(each.paid_hindsight for each in settled),
        len(settled),
    )
