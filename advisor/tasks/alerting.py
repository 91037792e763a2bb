"""Which alerts of the settings hold: gathers what each one asks about and has it judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from advisor.book.settings import Alert
from advisor.decide.alerts.conditions import (
    AlertState,
    Offer,
    judge_above,
    judge_bargains,
    judge_below,
    judge_moved,
    judge_short,
    judge_stale,
    judge_verdict,
)
from advisor.errors import MakeworthError
from advisor.names import name_key
from advisor.quotes import MICROSECONDS_A_DAY, price_text
from advisor.tasks.pricing import Pricing, read_pricing
from advisor.tasks.routing import RouteBook, read_routes
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339

WITHIN_DAYS = 7
"""Days to buy in, where an alert hangs on what stock advice says; as the pages have it."""

STANDING_DAYS = 1
"""An ask that was seen longer ago is no longer worth running for."""

Answer = Mapping[str, Any]
Told = Mapping[str, frozenset[str]]
"""What of each alert was told and has not ended, by its name."""


@dataclass
class AlertDesk:
    """What alerts are judged by; answers that are there already are not worked out again.

    Attributes:
        stocks: Answers of `advise stock` for one piece within a week, by route.
        crafts: Answers of `advise craft`, by piece.
        levels_before: Ask levels so many days ago, by days and item.
    """

    workspace: Workspace
    book: RouteBook
    pricing: Pricing
    stocks: dict[str, Answer] = field(default_factory=dict)
    crafts: dict[str, Answer] = field(default_factory=dict)
    levels_before: dict[int, Pricing] = field(default_factory=dict)

    def level(self, item: str) -> float | None:
        """The ask level now."""
        return _ask_level(self.pricing, item)

    def level_before(self, item: str, days: int) -> float | None:
        """The ask level as it was known some days ago."""
        return _ask_level(self._pricing_before(days), item)

    def _pricing_before(self, days: int) -> Pricing:
        if days not in self.levels_before:
            then = self.pricing.market.as_of_us - days * MICROSECONDS_A_DAY
            self.levels_before[days] = read_pricing(self.workspace, as_of=us_to_rfc3339(then))
        return self.levels_before[days]

    def advised(self, item: str) -> float | None:
        """The highest price that any route's advice would pay; routes at fault have no say."""
        prices = [
            each["pay_at_most"]
            for route in self.book.routes
            for each in self._stock(route).get("items", ())
            if each["item"] == item and each["pay_at_most"]
        ]
        return max(prices, default=None)

    def _stock(self, route: str) -> Answer:
        from advisor.tasks.stock_json import stock_json
        from advisor.tasks.stocking import StockTerms, advise_stock

        if route not in self.stocks:
            terms = StockTerms(within=WITHIN_DAYS)
            try:
                stock = advise_stock(
                    self.workspace, self.book, self.pricing, route=route, pieces=1, terms=terms
                )
                self.stocks[route] = stock_json(stock)
            except MakeworthError:
                self.stocks[route] = {}
        return self.stocks[route]

    def chances_short(self, route: str, pieces: int) -> dict[str, float]:
        """The chance that more of each supply is used than is on hand."""
        from advisor.tasks.stock_ledger import units_on_hand
        from advisor.tasks.stock_needs import find_needs, read_orders

        kept = units_on_hand(self.workspace, self.book, self.pricing)
        orders = read_orders(self.book, route, pieces, also=())
        needs = find_needs(self.book, orders, pricing=self.pricing, on_hand=(), kept=kept)
        return {item: law.chance_above(needs.on_hand[item]) for item, law in needs.use.items()}

    def craft(self, piece: str, pricing: Pricing | None = None) -> Answer:
        """Make or buy now, or at the prices of another moment.

        Raises: MakeworthError: no answer.
        """
        from advisor.tasks.craft_json import craft_json
        from advisor.tasks.crafting import advise_craft

        if pricing is not None:
            return craft_json(advise_craft(self.book, pricing, piece=piece))
        if piece not in self.crafts:
            self.crafts[piece] = craft_json(advise_craft(self.book, self.pricing, piece=piece))
        return self.crafts[piece]

    def verdict_yesterday(self, piece: str) -> str | None:
        """The answer a day before; None where there was none."""
        try:
            return str(self.craft(piece, self._pricing_before(1))["verdict"])
        except MakeworthError:
            return None

    def offers(self, item: str) -> list[Offer]:
        """Asks of the last day that screening believes, one each."""
        from advisor.tasks.quote_list import list_quotes

        since = us_to_rfc3339(self.pricing.market.as_of_us - STANDING_DAYS * MICROSECONDS_A_DAY)
        offers = {}
        for row in list_quotes(self.workspace, self.pricing, item=item):
            good = row["side"] == "ask" and row["screened"] is None and row["value"] is not None
            if good and row["at"] >= since and not self._is_own(row["trader"]):
                mark = f"{row['price_as_typed']} {row['money']} x{row['qty']} {row['trader']}"
                offers[mark] = Offer(mark, row["value"], row["qty"], row["trader"])
        return list(offers.values())

    def _is_own(self, trader: str | None) -> bool:
        stall = self.pricing.settings.trade.stall
        return bool(stall and trader and name_key(stall) == name_key(trader))

    def age_days(self, item: str) -> float | None:
        """Days since the newest quote."""
        levels = self.pricing.levels(item)
        if levels is None or levels.newest_us is None:
            return None
        return (self.pricing.market.as_of_us - levels.newest_us) / MICROSECONDS_A_DAY


def alerts_now(
    workspace: Workspace,
    as_of: str | None = None,
    *,
    desk: AlertDesk | None = None,
    told: Told | None = None,
) -> list[AlertState]:
    """Whether each alert of the settings holds, in their order; addresses are never told.

    Args:
        as_of: A date as typed; None for now. Without meaning where a desk is given.
        desk: What is known already; None reads the book.
        told: What was told before; None: verdicts are held against the day before.
    """
    if desk is None:
        pricing = read_pricing(workspace, as_of=as_of)
        desk = AlertDesk(workspace, read_routes(workspace), pricing)
    alerts = desk.pricing.settings.alerts
    return [judge_alert(alert, desk, told=told) for alert in alerts]


def judge_alert(alert: Alert, desk: AlertDesk, *, told: Told | None = None) -> AlertState:
    """One alert; what stands in the way of an answer is told in its words."""
    before = None if told is None else told.get(alert_name(alert))
    try:
        if alert.piece is not None:
            return _judge_piece(alert.piece, desk, told=told is not None, before=before)
        if alert.route is not None and alert.short is not None:
            chances = desk.chances_short(alert.route, alert.pieces)
            route = desk.book.named(alert.route)
            return judge_short(route, chances, pieces=alert.pieces, share=float(alert.short))
        return _judge_item(alert, desk, told=bool(before))
    except MakeworthError as fault:
        return AlertState(alert_name(alert), None, str(fault))


def _judge_piece(
    piece: str, desk: AlertDesk, *, told: bool, before: frozenset[str] | None
) -> AlertState:
    name = desk.pricing.name(piece)
    now = desk.craft(name)
    was = next(iter(before or ()), None) if told else desk.verdict_yesterday(name)
    saving = None if now["saving"] is None else now["saving"]["mean"]
    money = desk.pricing.market.money
    return judge_verdict(name, was, now["verdict"], saving=saving, money=money)


def _judge_item(alert: Alert, desk: AlertDesk, *, told: bool) -> AlertState:
    item, money = desk.pricing.name(str(alert.item)), desk.pricing.market.money
    if alert.stale_days is not None:
        return judge_stale(item, desk.age_days(item), limit_days=float(alert.stale_days))
    if alert.bargain:
        return judge_bargains(item, desk.offers(item), desk.advised(item), money=money)
    level = desk.level(item)
    if alert.moved is not None:
        before = desk.level_before(item, alert.within_days)
        share, days = float(alert.moved), alert.within_days
        return judge_moved(item, before, level, share=share, days=days, told=told)
    if alert.above is not None:
        return judge_above(item, level, float(alert.above), money=money, told=told)
    advised = alert.below == "advice"
    limit = desk.advised(item) if advised else float(alert.below or 0)
    return judge_below(item, level, limit, money=money, advised=advised, told=told)


def alert_name(alert: Alert) -> str:
    """What an alert watches, in words that stay the same whatever the prices do."""
    if alert.piece is not None:
        return f"make or buy of {alert.piece}"
    if alert.route is not None:
        return f"{alert.route} x{alert.pieces} short {_number(alert.short)}"
    return f"{alert.item} {_item_condition(alert)}"


def _item_condition(alert: Alert) -> str:
    if alert.moved is not None:
        return f"moved {_number(alert.moved)} in {alert.within_days} d"
    if alert.stale_days is not None:
        return f"stale {_number(alert.stale_days)} d"
    if alert.bargain:
        return "bargain"
    if alert.above is not None:
        return f"above {_number(alert.above)}"
    return f"below {_number(alert.below)}"


def _number(value: Any) -> str:
    return value if isinstance(value, str) else price_text(value)


def name_alerts(alerts: Sequence[Alert]) -> dict[str, Alert]:
    """Alerts by name; of two with the same condition both addresses count."""
    named: dict[str, Alert] = {}
    for alert in alerts:
        name = alert_name(alert)
        known = named.get(name, alert)
        sends = tuple(dict.fromkeys((*known.send, *alert.send)))
        named[name] = replace(known, send=sends, send_env=known.send_env or alert.send_env)
    return named


def _ask_level(pricing: Pricing, item: str) -> float | None:
    levels = pricing.levels(pricing.name(item))
    return None if levels is None or levels.ask is None else levels.ask.level
