"""What the tool would have advised on the morning of a day: all of it from what was known then."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from advisor.decide.replay.day_advice import (
    BUYING,
    CraftSaid,
    DayAdvice,
    ForecastSaid,
    SaleSaid,
    StockSaid,
    WayToHave,
)
from advisor.decide.replay.settled_craft import cheapest_way
from advisor.decide.replay.standing import Standing
from advisor.errors import MakeworthError
from advisor.tasks.standing_prices import last_offers

if TYPE_CHECKING:
    from advisor.decide.craft import CraftAdvice
    from advisor.decide.stock.need import NeedLaw
    from advisor.decide.stock.trader_trust import TraderRecord
    from advisor.routes.cost_answer import RouteCost
    from advisor.tasks.pricing import Pricing
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.stock_items import SupplyAnswer

AHEAD = (1, 3, 7, 14)
QUANTILES = (0.025, 0.1, 0.5, 0.9, 0.975)
EVENINGS = 100
"""A random need is taken as so many equally likely ones."""

TRIFLE = 1e-6
"""What is left of rounding, as a share of what is paid."""

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class ReplayQuestion:
    """What is replayed.

    Attributes:
        pieces: Names of the pieces that are made, bought and sold.
        count: How many pieces are supplied and sold together.
        within: Days that one has for it.
    """

    pieces: tuple[str, ...]
    count: int = 3
    within: int = 7


def advise_on(
    day: str,
    book: RouteBook,
    pricing: Pricing,
    *,
    question: ReplayQuestion,
    own: Collection[int] = (),
    records: Mapping[int, TraderRecord] | None = None,
) -> DayAdvice:
    """All the advice of one morning.

    Args:
        day: The date that begins.
        pricing: Prices as known at the end of the day before.
        own: Codes of traders that are oneself.
        records: The deals one had had with each trader, by code.
    """
    left_out: list[str] = []
    seen = _last_seen(pricing, own)
    crafts, stocks, sales = [], [], []
    for piece in question.pieces:
        craft = _tried(partial(_advise_craft, piece, book, pricing, seen), book, left_out)
        if craft is None:
            continue
        said, route = craft
        if said is not None:
            crafts.append(said)
        if route is not None:
            supply = partial(_advise_stock, route, book, pricing, question, records)
            stocks += _tried(supply, book, left_out) or []
        sale = _tried(partial(_advise_sale, piece, book, pricing, question, seen), book, left_out)
        if sale is not None:
            sales.append(sale)
    forecasts = list(_forecasts(pricing, seen))
    return DayAdvice(day, forecasts, crafts, stocks, sales, left_out)


def _tried(ask: Callable[[], Answer], book: RouteBook, left_out: list[str]) -> Answer | None:
    """An answer; where there is none, it is said why."""
    try:
        return ask()
    except MakeworthError as fault:
        left_out.append(book.tell(fault))
        return None


def _last_seen(pricing: Pricing, own: Collection[int]) -> dict[str, Standing]:
    """The asks last seen of every item, all of them believed."""
    seen = {}
    for item, series in pricing.series.items():
        levels = pricing.levels(item)
        offers = () if levels is None else last_offers(series, levels.values, own=own)
        if offers:
            seen[item] = Standing(offers)
    return seen


def _forecasts(pricing: Pricing, seen: Mapping[str, Standing]) -> Iterator[ForecastSaid]:
    for item, standing in seen.items():
        levels = pricing.levels(item)
        if levels is None or levels.ask_path is None or levels.ladder is None:
            continue
        if pricing.market.rates.now(item) is not None:
            continue
        usual = levels.ladder.usual_qty
        ahead = [
            (days, np.exp(levels.ask_path.log_quantiles(QUANTILES, days, of_quote=True)).tolist())
            for days in AHEAD
        ]
        yield ForecastSaid(item, usual, standing.unit_price(usual), ahead)


def _advise_craft(
    piece: str, book: RouteBook, pricing: Pricing, seen: Mapping[str, Standing]
) -> tuple[CraftSaid | None, str | None]:
    """The advice, where buying is a way as well, and the best route."""
    from advisor.tasks.crafting import weigh_ways

    walked, advice = weigh_ways(book, pricing, piece=piece)
    best, name = advice.best, pricing.name(piece)
    route = None if best is None else best.option.route
    ways = [_way(each.cost, pricing) for each in walked.values() if each.cost.mean is not None]
    if advice.buy is None or not ways:
        return None, route
    ways.append(WayToHave(BUYING, {name: 1.0}, {}))
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    plain = cheapest_way(ways, _remembered(pricing, seen), kept=kept)
    if plain is None:
        return None, route
    followed = [way.name for way in ways].index(_advised(advice))
    return CraftSaid(name, ways, followed, plain), route


def _advised(advice: CraftAdvice) -> str:
    """The way taken: where "either" leaves the choice, the one with the lower mean."""
    makes = advice.verdict == "make" or (advice.verdict == "either" and (advice.saving or 0) >= 0)
    return advice.best.option.route if makes and advice.best is not None else BUYING


def _way(cost: RouteCost, pricing: Pricing) -> WayToHave:
    units = {pricing.name(each.item): each.mean for each in cost.use.values() if each.mean}
    gives = {pricing.name(each.item): each.mean for each in cost.gives.values() if each.mean}
    paid = sum(each.mean * each.unit_price for each in cost.use.values() if each.mean)
    back = sum(each.mean * (each.unit_price or 0.0) for each in cost.gives.values() if each.mean)
    other = (cost.mean or 0.0) - (paid - back)
    return WayToHave(cost.route, units, gives, other if abs(other) > TRIFLE * paid else 0.0)


def _remembered(pricing: Pricing, seen: Mapping[str, Standing]) -> dict[str, float]:
    """One price an item, as somebody has it in mind: the cheapest ask last seen."""
    prices = {item: standing.cheapest for item, standing in seen.items()}
    for money in pricing.market.rates.moneys:
        rate = pricing.market.rates.now(money)
        if rate is not None:
            prices[money] = rate.value
    return prices


def _advise_stock(
    route: str,
    book: RouteBook,
    pricing: Pricing,
    question: ReplayQuestion,
    records: Mapping[int, TraderRecord] | None,
) -> list[StockSaid]:
    from advisor.tasks.stock_items import answer_supplies
    from advisor.tasks.stock_markets import find_market, season_days_left, season_share
    from advisor.tasks.stock_needs import Order, find_needs

    left = season_days_left(pricing)
    days = question.within if left is None else max(1, min(question.within, left))
    needs = find_needs(book, [Order(route, question.count)], pricing=pricing, on_hand=())
    markets = {
        item: find_market(item, pricing, days=days, tiers=None, records=records)
        for item in needs.use
    }
    answers = answer_supplies(needs, markets, days=days, trip_cost=0.0, money_rate=0.0)
    share = season_share(pricing, days)
    return [
        _stock_said(route, each, days=days, leftover=share)
        for each in answers
        if each.market.stockable
    ]


def _stock_said(route: str, answer: SupplyAnswer, *, days: int, leftover: float) -> StockSaid:
    ladder = answer.advice.question.offers.ladder
    return StockSaid(
        route,
        answer.item,
        needs=_evenings(answer.use),
        lots_of=ladder.lots_of,
        usual_qty=ladder.usual_qty,
        buy_now=answer.advice.buy_now,
        plain_qty=answer.advice.plain_qty,
        reserve=[(each.day, each.price) for each in answer.advice.reserve()],
        days=days,
        leftover=leftover,
    )


def _evenings(use: NeedLaw) -> list[int]:
    """The need as equally likely ones: its quantiles in the middle of as many steps."""
    return [use.quantile((each + 0.5) / EVENINGS) for each in range(EVENINGS)]


def _advise_sale(
    piece: str,
    book: RouteBook,
    pricing: Pricing,
    question: ReplayQuestion,
    seen: Mapping[str, Standing],
) -> SaleSaid | None:
    from advisor.decide.sell.sell_advice import weigh_sale
    from advisor.tasks.sale_markets import find_sale_market
    from advisor.tasks.stock_markets import season_days_left

    name = pricing.name(piece)
    if name not in seen:
        return None
    left = season_days_left(pricing)
    days = question.within if left is None else max(1, min(question.within, left))
    found = find_sale_market(name, pricing, days=days)
    plan = weigh_sale(question.count, found.market, others=found.others).plan
    counts = range(question.count + 1)
    return SaleSaid(
        name,
        question.count,
        asks=[[plan.ask(day, each) for each in counts] for day in range(days)],
        kept=[plan.kept_after_bids(day).tolist() for day in range(days)],
        a_day=found.demand.known.a_day,
        last_price=seen[name].cheapest,
    )
