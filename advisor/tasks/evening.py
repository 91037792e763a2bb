"""The evening's plan: gathers every way to earn, what the market takes, and answers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite

from advisor.decide.evening.evening_plan import MOST_OF_ONE, EveningPlan, Work, plan_evening
from advisor.decide.evening.evening_reasons import (
    EveningStory,
    LeftOut,
    evening_cautions,
    evening_reasons,
)
from advisor.decide.evening.summed_laws import add_laws
from advisor.errors import CannotAnswer, WrongUse
from advisor.figures import difference
from advisor.names import name_key
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.sale_demand import find_askers
from advisor.tasks.sell_compared import Compared, Earning, compare_earnings
from advisor.tasks.selling import MOST_DAYS
from advisor.tasks.stock_markets import season_days_left
from advisor.tasks.ways_to_earn import SERVICE, Way

MOST_HOURS = 24.0
WORST = 0.95


@dataclass(frozen=True)
class PlannedWork:
    """Some of one way.

    Attributes:
        minutes, spent, profit: Of all of them together, on average.
    """

    way: Way
    count: int
    minutes: float
    spent: float
    profit: float


@dataclass(frozen=True)
class Evening:
    """The answer.

    Attributes:
        planned: What to do, most profit first; empty: rest.
        story: What the sentences are made from.
        compared: What each way earns for itself.
        reasons, cautions: Sentences.
        pricing: The prices that all rests on.
    """

    planned: tuple[PlannedWork, ...]
    story: EveningStory
    compared: tuple[Earning, ...]
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    pricing: Pricing


def advise_evening(
    book: RouteBook, pricing: Pricing, *, hours: float, budget: float, within: int
) -> Evening:
    """Answer what to do with some hours and a purse.

    Args:
        hours: Time there is, > 0.
        budget: Money there is, in the workspace money, >= 0.
        within: Days that the pieces have to sell in.
    Raises: WrongUse: hours, budget or days out of range. CannotAnswer: no way at all.
    """
    if not 0 < hours <= MOST_HOURS:
        raise WrongUse(f"--hours {hours:g} is out of range", right=f"over 0, up to {MOST_HOURS:g}")
    if not (isfinite(budget) and budget >= 0):
        raise WrongUse(f"--budget {budget:g} is no purse", right="0 or more")
    if not 1 <= within <= MOST_DAYS:
        raise WrongUse(f"--within {within} is out of range", right=f"1 to {MOST_DAYS} days")
    left = season_days_left(pricing)
    days = within if left is None else max(1, min(within, left))
    compared = compare_earnings(book, pricing, days=days, most=MOST_OF_ONE)
    if not compared.ways:
        raise CannotAnswer(
            "there is nothing to plan with: " + (compared.notes or ("no routes are written",))[0],
            right="write routes, and quote what they use and make",
        )
    question = _Question(compared, pricing, within=days)
    plan = question.plan(hours, budget)
    planned = question.describe(plan)
    story = _tell(planned, question, hours=hours, budget=budget, profit=plan.profit)
    notes = [
        *_season_cut(within, days),
        *_open_orders(pricing),
        *_timeless(compared.ways),
        *compared.notes,
        *compared.unplanned,
        *pricing.market.cautions,
    ]
    return Evening(
        planned=planned,
        story=story,
        compared=compared.earnings,
        reasons=tuple(evening_reasons(story)),
        cautions=tuple(evening_cautions(story, notes=notes)),
        pricing=pricing,
    )


class _Question:
    """The ways as the programme wants them, and what the market pays for each piece more."""

    def __init__(self, compared: Compared, pricing: Pricing, *, within: int) -> None:
        self.pricing, self.within = pricing, within
        self.caution = float(pricing.settings.trade.caution)
        self.ways = [way for way in compared.ways if way.kind != SERVICE]
        self.ways += _cheapest(way for way in compared.ways if way.kind == SERVICE)
        self.gains: dict[str, list[float]] = {}
        self._compared = compared
        self.works = [self._work(way) for way in self.ways]

    def plan(self, hours: float, budget: float) -> EveningPlan:
        """The best plan with so much time and money."""
        return plan_evening(self.works, self.gains, minutes=60.0 * hours, purse=budget)

    def best_left_out(self) -> LeftOut | None:
        """The way that earns most alone, were there time and money; None where none earns."""
        best: LeftOut | None = None
        for way, work in zip(self.ways, self.works, strict=True):
            gains = self.gains[work.item]
            won = difference(gains[0], work.cost) if gains else 0.0
            if won <= 0:
                continue
            profit = won + self._own_time(way) * self._done(way, 1)
            if best is None or profit > best.profit:
                best = LeftOut(way.what, profit, minutes=work.minutes, money=work.money)
        return best

    def describe(self, plan: EveningPlan) -> tuple[PlannedWork, ...]:
        """The plan with what each part of it takes and earns."""
        order = sorted(range(len(self.ways)), key=lambda place: self.works[place].cost)
        sold: dict[str, int] = {}
        planned = []
        for place in order:  # of ways to one item the cheapest is counted as sold first
            work, way, count = self.works[place], self.ways[place], plan.counts[place]
            before = sold.get(work.item, 0)
            sold[work.item] = before + count
            if count:
                gain = sum(self.gains[work.item][before : before + count])
                minutes = count * way.minutes
                won = difference(gain, count * work.cost)
                profit = won + self._own_time(way) * self._done(way, count)
                planned.append(PlannedWork(way, count, minutes, count * way.spent, profit))
        return tuple(sorted(planned, key=lambda each: -each.profit))

    def _done(self, way: Way, count: int) -> float:
        """How many of them are done on average: a service only when it is asked for."""
        if way.kind != SERVICE:
            return float(count)
        from scipy.stats import poisson

        law = poisson(self._orders_a_day(way))
        return float(sum(law.sf(k) for k in range(count)))

    def _own_time(self, way: Way) -> float:
        """What the time of one is valued at: it is in its cost, and no money."""
        return way.cost - way.spent

    def _work(self, way: Way) -> Work:
        key = name_key(self.pricing.name(way.sells))
        money = way.spent
        if self.caution:
            worst = way.find_law().shortfall(WORST) - self._own_time(way)
            money = (1.0 - self.caution) * money + self.caution * worst
        item = f"{SERVICE} {key}" if way.kind == SERVICE else key
        if item not in self.gains:
            self.gains[item] = (
                self._service_gains(way, key)
                if way.kind == SERVICE
                else self._compared.gains.get(key, [])
            )
        # the gains of a service are what is left of the price, for the work is only done if asked
        cost = 0.0 if way.kind == SERVICE else way.cost
        return Work(item, cost, way.minutes, max(money, 0.0))

    def _makers(self, key: str) -> set[str]:
        """The routes that do a service."""
        return {
            way.route
            for way in self._compared.ways
            if name_key(self.pricing.name(way.sells)) == key
        }

    def _service_gains(self, way: Way, key: str) -> list[float]:
        """Profit of the first, second, ... order times the chance that it comes in a day."""
        if key not in self._compared.service_prices:
            return []
        from scipy.stats import poisson

        price, _ = self._compared.service_prices[key]
        law = poisson(self._orders_a_day(way))
        profits = [(price - way.cost) * float(law.sf(k)) for k in range(MOST_OF_ONE)]
        return [each for each in profits if each > 0]

    def _orders_a_day(self, way: Way) -> float:
        """Mean number of orders in a day at the advised price."""
        key = name_key(self.pricing.name(way.sells))
        _, chance = self._compared.service_prices[key]
        askers = find_askers(self.pricing.name(way.sells), self._makers(key), self.pricing)
        return askers.a_day * chance


def _season_cut(asked: int, days: int) -> list[str]:
    """Said where the season leaves fewer days to sell in than asked for."""
    if days == asked:
        return []
    return [f"The season ends before {asked} days: {days} to sell in."]


def _open_orders(pricing: Pricing) -> list[str]:
    """Orders that are open, in a sentence: what was promised comes first."""
    waiting = [each for each in pricing.dealings.taken if each.end is None]
    if not waiting:
        return []
    told = ", ".join(f"{each.pieces} by {each.route} for {each.customer}" for each in waiting[:5])
    more = "" if len(waiting) <= 5 else f" and {len(waiting) - 5} more"
    return [f"Open orders come first and are not planned here: {told}{more}."]


def _timeless(ways: Sequence[Way]) -> list[str]:
    """Ways whose files give no minutes, in a sentence."""
    names = list(dict.fromkeys(way.route for way in ways if way.minutes <= 0))
    if not names:
        return []
    return [f"No minutes are written in {', '.join(names)}: that work is taken to need no time."]


def _cheapest(services: Iterable[Way]) -> list[Way]:
    """The way of least cost for each service."""
    best: dict[str, Way] = {}
    for way in services:
        key = name_key(way.sells)
        if key not in best or way.cost < best[key].cost:
            best[key] = way
    return list(best.values())


def _tell(
    planned: Sequence[PlannedWork],
    question: _Question,
    *,
    hours: float,
    budget: float,
    profit: float,
) -> EveningStory:
    minutes = add_laws([each.way.find_minutes().n_fold(each.count) for each in planned])
    money = add_laws([each.way.find_law().n_fold(each.count) for each in planned])
    own_time = sum(each.count * (each.way.cost - each.way.spent) for each in planned)
    return EveningStory(
        money=question.pricing.market.money,
        hours=hours,
        budget=budget,
        planned=[(each.way.what, each.count) for each in planned],
        minutes=sum(each.minutes for each in planned),
        spent=sum(each.spent for each in planned),
        profit=sum(each.profit for each in planned),
        chance_time=minutes.chance_within(60.0 * hours) if planned else None,
        chance_purse=money.chance_within(budget + own_time) if planned else None,
        worth_of_hour=question.plan(hours + 1.0, budget).profit - profit,
        worth_of_purse=question.plan(hours, 1.5 * budget).profit - profit,
        within=question.within,
        services=any(each.way.kind == SERVICE for each in planned),
        caution=question.caution,
        left_out=None if planned else question.best_left_out(),
        hour_value=float(question.pricing.settings.trade.hour_value),
    )
