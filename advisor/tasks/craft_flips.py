"""Where the make-or-buy answer flips: by the price of a supply, of the piece, or by odds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from advisor.decide.break_even import FlipPoint, flip_odds, flip_price
from advisor.decide.craft import CraftAdvice
from advisor.errors import RouteFault
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.learned import UnsureStep
from advisor.routes.priced import Prices
from advisor.routes.repricing import Repricing, StepOdds
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, count_tries, sell_prices

ODDS_TRIED = 6


@dataclass(frozen=True)
class AskedRoute:
    """A route that can be asked for its cost again, and how caution stretches its mean.

    Attributes:
        asked: The route.
        stretch: Cautious cost over mean cost today; taken to stay as it is.
    """

    asked: Repricing
    stretch: float

    def at_price(self, item: str, price: float) -> tuple[float, float]:
        """Cautious cost and its slope; minus infinity where a loop earns without limit."""
        try:
            cost, units = self.asked.cost_at_price(item, price)
        except RouteFault:
            return -math.inf, 0.0
        return self.stretch * cost, self.stretch * units

    def at_odds(self, step: StepOdds, odds: float) -> float:
        """Cautious cost when the step's best outcome has these odds."""
        try:
            return self.stretch * self.asked.cost_at_odds(step, odds)
        except RouteFault:
            return -math.inf

    def after_tries(self, step: UnsureStep, best: int, tries: int, well: int) -> float:
        """Cautious cost when so many more tries of a step were seen."""
        try:
            return self.stretch * self.asked.cost_after_tries(step, best, tries=tries, well=well)
        except RouteFault:
            return -math.inf


def ask_routes(
    book: RouteBook,
    advice: CraftAdvice,
    costs: Mapping[str, RouteCost],
    *,
    pricing: Pricing,
    goal: str,
) -> list[AskedRoute]:
    """Every route of an answer, cheapest first, to be asked again."""
    return [
        AskedRoute(
            _repricing(book, costs[each.option.route], pricing, goal=goal),
            each.cautious / each.option.mean if each.option.mean else 1.0,
        )
        for each in advice.routes
    ]


def find_flips(
    ways: Sequence[AskedRoute],
    advice: CraftAdvice,
    costs: Mapping[str, RouteCost],
    *,
    money: str,
    goal: str,
    piece: str,
) -> list[FlipPoint]:
    """Where the answer flips by the price of a supply or of the piece, or by the odds of a step.

    The answer flips where the cheapest of *all* routes is even with the alternative. Where
    that is the best route today, only what it hangs on can turn the answer; where none is
    cheap enough, any route's supplies and steps can.
    """
    best = advice.best
    if best is None or advice.alternative is None or best.option.mean == 0:
        return []
    cost = costs[best.option.route]
    target = advice.alternative / cost.pieces
    flips = []
    turned_by = ways if best.cautious / cost.pieces >= target else ways[:1]
    for item, now in _prices_asked(turned_by, cost).items():
        if name_key(item) == name_key(money) or now <= 0:
            continue
        at = flip_price(partial(_least_at_price, ways, item), target, now=now)
        if at is not None:
            flips.append(FlipPoint(item, "item", now, at))
    weighed = [each.cautious / cost.pieces for each in advice.routes]
    for number, way in enumerate(turned_by):
        others = min([*weighed[:number], *weighed[number + 1 :]], default=math.inf)
        for step in way.asked.chancy_steps()[:ODDS_TRIED]:
            at = flip_odds(partial(_least_at_odds, way, others, step), target, now=step.odds)
            if at is not None and step.step not in [each.name for each in flips]:
                flips.append(FlipPoint(step.step, "odds", step.odds, at))
    if goal == "keep" and best.cautious > 0:
        flips.append(FlipPoint(piece, "item", target, best.cautious / cost.pieces))
    return sorted(flips, key=_distance)


def _prices_asked(ways: Sequence[AskedRoute], cost: RouteCost) -> dict[str, float]:
    """Items whose price may turn the answer, at today's price; those the best route uses first."""
    used = {item: use.unit_price for item, use in cost.use.items()}
    keys = {name_key(item) for item in used}
    may = {
        item: price
        for way in ways
        for item, price in way.asked.items.items()
        if name_key(item) not in keys
    }
    return used | may


def _least_at_price(ways: Sequence[AskedRoute], item: str, price: float) -> tuple[float, float]:
    return min(way.at_price(item, price) for way in ways)


def _least_at_odds(way: AskedRoute, others: float, step: StepOdds, odds: float) -> float:
    """The step's own route at these odds, or the cheapest of the others as it is."""
    return min(others, way.at_odds(step, odds))


def _distance(flip: FlipPoint) -> float:
    return abs(math.log(flip.flips_at / flip.now)) if flip.flips_at > 0 else math.inf


def _repricing(book: RouteBook, cost: RouteCost, pricing: Pricing, *, goal: str) -> Repricing:
    trade = pricing.settings.trade
    walked = {name_key(each.item): each.unit_price for each in cost.use.values()}
    prices = Prices(
        {name_key(item): price for item, price in buy_prices(pricing).items()}
        | walked
        | {name_key(pricing.market.money): 1.0},
        {name_key(item): price for item, price in sell_prices(pricing).items()}
        | {name_key(pricing.market.money): 1.0},
        float(trade.hour_value),
    )
    return Repricing(
        cost.route,
        book.routes,
        prices=prices,
        money=pricing.market.money,
        goal=goal,
        trust=trade.trust,
        tries=count_tries(book, pricing),
        not_sold=[each.item for each in cost.left_out],
    )
