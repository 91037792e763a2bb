"""The answers that pages show beside make or buy: supplies, service, sale, luck, ledger.

Each is asked with the terms of its command line, so that page and terminal tell the
same. One that has no answer is told and keeps none of the others.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import TypeVar

import numpy as np

from advisor.errors import MakeworthError
from advisor.routes.total_law import CostDistribution
from advisor.tasks.pricing import Pricing
from advisor.tasks.report_luck import count_course
from advisor.tasks.report_replay import won_so_far
from advisor.tasks.routing import RouteBook
from advisor.tasks.workspace import Workspace
from reports.decision_data import (
    AskedAnswer,
    LedgerDay,
    LedgerPage,
    LossCurve,
    LuckPage,
    ReplayPage,
    ServicePage,
)

WITHIN_DAYS = 7
ORDERS_TOGETHER = (1, 20)
PRICES_DRAWN = 161

Answered = TypeVar("Answered")


@dataclass
class AnswerDesk:
    """Asks every question of a report; what has no answer is noted.

    Attributes:
        as_of: The date as typed; None for now. It stands in the commands shown.
        on_part: Called with the name of each part before it is worked out.
        unanswered: What could not be answered, and why.
    """

    workspace: Workspace
    book: RouteBook
    pricing: Pricing
    as_of: str | None = None
    on_part: Callable[[str], None] | None = None
    unanswered: list[tuple[str, str]] = field(default_factory=list)

    def ask(self, what: str, answer: Callable[[], Answered]) -> Answered | None:
        """The answer, or None where there is none, which is noted."""
        if self.on_part is not None:
            self.on_part(what)
        try:
            return answer()
        except MakeworthError as fault:
            self.unanswered.append((what, self.book.tell(fault)))
            return None

    def command(self, words: str) -> str:
        """A command line with the report's date."""
        return f"makeworth {words}" + (f" --as-of {self.as_of}" if self.as_of else "")

    def stocks(self) -> dict[str, AskedAnswer]:
        """What to buy for one piece by each route, over the days of the report."""
        asked = {r: self.ask(f"supplies for {r}", partial(self._stock, r)) for r in self.routes}
        return {route: each for route, each in asked.items() if each is not None}

    def _stock(self, route: str) -> AskedAnswer:
        from advisor.tasks.stock_json import stock_json
        from advisor.tasks.stocking import StockTerms, advise_stock

        terms = StockTerms(within=WITHIN_DAYS)
        stock = advise_stock(
            self.workspace, self.book, self.pricing, route=route, pieces=1, terms=terms
        )
        words = f"advise stock {quoted(route)} --within {WITHIN_DAYS}"
        return AskedAnswer(stock_json(stock), self.command(words))

    def services(self) -> dict[str, ServicePage]:
        """What to charge for making each route's piece for others."""
        asked = {r: self.ask(f"service by {r}", partial(self._service, r)) for r in self.routes}
        return {route: each for route, each in asked.items() if each is not None}

    def _service(self, route: str) -> ServicePage:
        from advisor.tasks.service_basis import ServiceQuestion
        from advisor.tasks.service_json import service_json
        from advisor.tasks.service_work import find_work
        from advisor.tasks.serving import advise_service

        service = advise_service(self.book, self.pricing, ServiceQuestion(route))
        law: Callable[[int], CostDistribution] = service.law.n_fold
        if service.cost.odds_sd:  # what is not known of the odds is the same for all orders
            law = find_work(self.book, route, pricing=self.pricing, orders=1, own=True).law
        kept = 1.0 - float(self.pricing.settings.trade.sale_fee)
        command = self.command(f"advise service {quoted(route)}")
        asked = AskedAnswer(service_json(service), command)
        return ServicePage(asked, loss_curves(law, kept=kept))

    def sells(self, pieces: Sequence[str]) -> dict[str, AskedAnswer]:
        """When to sell one of each piece, and at what price."""
        asked = {p: self.ask(f"sale of {p}", partial(self._sell, p)) for p in pieces}
        return {piece: each for piece, each in asked.items() if each is not None}

    def _sell(self, piece: str) -> AskedAnswer:
        from advisor.tasks.sell_json import sell_json
        from advisor.tasks.selling import advise_sell

        sell = advise_sell(self.book, self.pricing, piece=piece, count=1, within=WITHIN_DAYS)
        return AskedAnswer(sell_json(sell), self.command(f"advise sell {quoted(piece)}"))

    def lucks(self) -> dict[str, LuckPage]:
        """The luck of every route that has logged attempts."""
        logged = [route for route in self.routes if self.pricing.tries.get(route)]
        asked = {r: self.ask(f"luck with {r}", partial(self._luck, r)) for r in logged}
        return {route: each for route, each in asked.items() if each is not None}

    def _luck(self, route: str) -> LuckPage:
        from advisor.tasks.luck import judge_luck, luck_json

        answer = luck_json(judge_luck(self.workspace, self.book, self.pricing, route=route))
        asked = AskedAnswer(answer, self.command(f"ledger --luck {quoted(route)}"))
        until = self.pricing.market.as_of_us
        return LuckPage(asked, count_course(self.workspace, answer, until_us=until))

    def ledger(self) -> LedgerPage | None:
        """The ledger with its days; None where nothing was logged."""
        return self.ask("ledger", self._ledger)

    def _ledger(self) -> LedgerPage | None:
        from advisor.tasks.accounts import read_accounts
        from advisor.tasks.ledger_rows import ledger_json

        accounts = read_accounts(self.workspace, self.book, self.pricing)
        if not accounts.ledger.postings:
            return None
        answer = ledger_json(accounts, "piece")
        days = ledger_json(accounts, "day")["by"]
        begin, stretch = self._season()
        known = [each for each in days if each["day"] is not None]
        return LedgerPage(
            AskedAnswer(answer, self.command("ledger")),
            profit_by_day([each for each in known if begin is None or each["day"] >= begin]),
            stretch,
        )

    def replay(self) -> ReplayPage | None:
        """The newest replay that the book keeps; None where none was run lately."""
        return self.ask("replay", self._replay)

    def _replay(self) -> ReplayPage | None:
        from advisor.tasks.replay_rows import replay_json
        from advisor.tasks.replaying import replay_kept

        kept = replay_kept(self.workspace, last=self.as_of)
        if kept is None:
            return None
        words = f"replay --from {kept.first.isoformat()} --to {kept.last.isoformat()}"
        answer = replay_json(kept)
        return ReplayPage(AskedAnswer(answer, f"makeworth {words}"), won_so_far(answer["by_day"]))

    def _season(self) -> tuple[str | None, str]:
        """First day and name of the season one is in; None outside every season."""
        now, zone = self.pricing.market.as_of_us, self.pricing.settings.timezone
        for season in self.pricing.settings.seasons:
            if season.start_us <= now < season.end_us:
                first = datetime.fromtimestamp(season.start_us // 1_000_000, zone)
                return f"{first:%Y-%m-%d}", season.name
        return None, "all that was logged"

    @property
    def routes(self) -> list[str]:
        """Every route, in order."""
        return list(self.book.routes)


def quoted(name: str) -> str:
    """A name as it is typed at a terminal."""
    return name if name.replace("-", "").replace("_", "").isalnum() else f'"{name}"'


def loss_curves(law: Callable[[int], CostDistribution], *, kept: float) -> tuple[LossCurve, ...]:
    """How likely a fixed price loses money, over the price, for some numbers of orders.

    Args:
        law: The law of what so many orders cost.
        kept: The part of a payment that stays with one.
    """
    laws = {orders: law(orders) for orders in ORDERS_TOGETHER}
    one = laws[1]
    low, high = one.quantile(0.05) / kept, max(one.quantile(0.99), 1.5 * one.mean) / kept
    if not high > low:
        low, high = 0.5 * one.mean / kept, 1.5 * one.mean / kept
    prices = np.linspace(low, high, PRICES_DRAWN).tolist()
    return tuple(
        LossCurve(
            orders, prices, [1.0 - own.chance_within(kept * orders * price) for price in prices]
        )
        for orders, own in laws.items()
    )


def profit_by_day(rows: Sequence[Mapping[str, float | str]]) -> tuple[LedgerDay, ...]:
    """Days with the profit added up."""
    so_far, days = 0.0, []
    for row in rows:
        profit = float(row["profit"])
        so_far += profit
        days.append(
            LedgerDay(str(row["day"]), float(row["spent"]), float(row["earned"]), profit, so_far)
        )
    return tuple(days)
