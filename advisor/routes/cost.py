"""What a route costs: the mean, the bad night, the shopping list, the best choices, the proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from math import inf, isfinite

import numpy as np

from advisor.errors import BadInput, CannotAnswer
from advisor.names import did_you_mean, name_key
from advisor.routes.build import GOALS, build_stages
from advisor.routes.cost_answer import ItemGive, ItemMade, ItemUse, RouteCost, StageChoice
from advisor.routes.learned import DEFAULT_TRUST, Tries, learn_odds
from advisor.routes.market import tell_unpriced
from advisor.routes.nesting import UnitCosts, find_unit_costs
from advisor.routes.priced import BuiltRoute, PricedRoute, Prices, price_route
from advisor.routes.route import Route
from advisor.routes.stages import ACTION_WORDS, STEP
from advisor.routes.totals import (
    Amounts,
    RouteTotals,
    bought_amounts,
    cost_amounts,
    given_amounts,
    minute_amounts,
    spent_amounts,
)

CLOSE_AVERAGE = 1e-6
NAMES_AT_MOST = 5


def route_cost(
    route: str,
    *,
    routes: Mapping[str, Route],
    buy: Mapping[str, float],
    sell: Mapping[str, float],
    money: str,
    goal: str = "keep",
    pieces: int = 1,
    budget: float | None = None,
    hour_value: float = 0.0,
    trust: float = DEFAULT_TRUST,
    tries: Mapping[str, Tries] | None = None,
    leaves_out_loops: bool = False,
) -> RouteCost:
    """Everything that is to know of a route's cost at given prices.

    Args:
        route: Its name.
        routes: All routes by name; their pieces may be used by others.
        buy: What one unit of an item costs. Money costs 1 of itself.
        sell: What one unit brings, net of the sale fee; an item given back without
            one counts 0, with a caution.
        money: The item all is valued in.
        goal: "keep" or "sale"; with "sale" a cost is minus the profit.
        pieces: For how many pieces, >= 1.
        budget: For the chance to stay within it.
        hour_value: What an hour of one's own time is worth.
        trust: How many tries stated odds count as, once there are tries.
        tries: Logged tries by route.
        leaves_out_loops: Leave out, with a caution, what is sold on the way where that would
            earn without limit; else the route is refused. Routes that make supplies always do.

    Raises:
        CannotAnswer: an unknown route; items without a price, all named at once.
        RouteFault: a route that cannot be solved.
    """
    _check_question(goal, pieces, budget)
    if route not in routes:
        raise CannotAnswer(
            f"there is no route {route!r}",
            right=did_you_mean(route, routes) or "known are " + ", ".join(sorted(routes)),
        )
    prices = Prices(_checked(buy, money), _checked(sell, money), hour_value)
    notes: dict[str, None] = {}

    def build(each: Route, its_goal: str = "keep") -> BuiltRoute:
        learned = learn_odds(each, trust=trust, tries=(tries or {}).get(each.name))
        notes.update(dict.fromkeys(learned.cautions))
        model = build_stages(
            each,
            goal=its_goal,
            money=money,
            odds=learned.odds,
            buyable=prices.buy,
            sellable=prices.sell,
        )
        return BuiltRoute(each, model, learned.unsure, leaves_out_loops=True)

    if goal == "sale":
        _refuse_unsellable(routes[route], prices)
    main = replace(build(routes[route], goal), leaves_out_loops=leaves_out_loops)
    unit_costs = find_unit_costs(main, routes, prices, build=build)
    priced = price_route(main, prices, unit_costs.costs)
    answer = _Answer(priced, unit_costs, prices, pieces)
    notes.update(dict.fromkeys(unit_costs.cautions))
    notes.update(dict.fromkeys(tell_unpriced(routes[route], prices.buy, prices.sell)))
    return answer.collect(goal=goal, money=money, budget=budget, notes=notes)


def _check_question(goal: str, pieces: int, budget: float | None) -> None:
    if goal not in GOALS:
        raise BadInput(f"the goal is {goal!r}", right="it must be one of " + ", ".join(GOALS))
    if pieces < 1:
        raise BadInput(f"{pieces} pieces are asked for", right="ask for 1 or more")
    if budget is not None and not isfinite(budget):
        raise BadInput(f"the budget is {budget}", right="it must be a number")


def _refuse_unsellable(route: Route, prices: Prices) -> None:
    """Refuse a piece for sale that has no selling price, and no grade of it has one."""
    grades = route.pool.grades if route.pool else ()
    wanted = [route.makes, *(grade.text("item") for grade in grades)]
    if not any(name_key(item) in prices.sell for item in wanted):
        raise CannotAnswer(
            f"no selling price for {', '.join(map(repr, wanted))}",
            file=route.file,
            right="quote what it sells for, or ask for the cost of keeping it",
        )


def _checked(prices: Mapping[str, float], money: str) -> dict[str, float]:
    """Prices by key, that of money itself among them."""
    for item, price in prices.items():
        if not (isfinite(price) and price >= 0):
            raise BadInput(f"the price is {price}", item=item, right="it must be 0 or more")
    return {name_key(item): float(price) for item, price in prices.items()} | {name_key(money): 1.0}


class _Answer:
    """Collects what is told of a priced route."""

    def __init__(
        self, priced: PricedRoute, unit_costs: UnitCosts, prices: Prices, pieces: int
    ) -> None:
        self.priced = priced
        self.prices = prices
        self.pieces = pieces
        self.made = unit_costs.made
        self.totals = RouteTotals(priced, unit_costs.made)
        self.routes = [priced, *(item.priced for item in self.made.values())]
        self.names = {
            key: name
            for each in reversed(self.routes)
            for key, name in zip(each.built.keys, each.built.model.items, strict=True)
        }

    def collect(
        self, *, goal: str, money: str, budget: float | None, notes: dict[str, None]
    ) -> RouteCost:
        """The whole answer."""
        route, model = self.priced.built.route, self.priced.built.model
        choices, average = self.priced.choices, self.priced.average
        cost = cost_amounts(self.prices, self.made)
        spent = spent_amounts(self.prices, self.made)
        use = self._use()
        gives = self._gives(notes)
        endless = bool(average.endless)
        self._note_left_out(notes, money)
        self._note_doubts(notes)
        amounts = self.totals.outcome_amounts(cost)
        return RouteCost(
            route=route.name,
            makes=route.makes,
            goal=goal,
            money=money,
            pieces=self.pieces,
            mean=self._mean(cost),
            odds_sd=None if endless else self.pieces * self.totals.odds_sd(cost),
            find_law=partial(self.totals.law, cost, pieces=self.pieces),
            find_minutes=partial(self.totals.law, minute_amounts, pieces=self.pieces),
            find_spent=partial(self.totals.law, spent, pieces=self.pieces),
            own_time=self._own_time(),
            hour_value=self.prices.hour_value,
            use=use,
            gives=gives,
            made=self._made_items(),
            choices=self._choices(),
            visits=self._visits(),
            lower=self.pieces * choices.lower,
            upper=self.pieces * choices.upper,
            budget=budget,
            left_out=self.priced.left_out,
            cautions=tuple(notes),
            model=model,
            actions=choices.actions,
            outcome_costs=amounts,
            outcome_time=self.totals.outcome_amounts(minute_amounts)
            * (self.prices.hour_value / 60.0),
            outcome_spent=self.totals.outcome_amounts(spent),
        )

    def _mean(self, amounts: Amounts) -> float | None:
        mean = self.totals.mean(amounts)
        return self.pieces * mean if isfinite(mean) else None

    def _own_time(self) -> float | None:
        minutes = self._mean(minute_amounts)
        return None if minutes is None else minutes * self.prices.hour_value / 60.0

    def _use(self) -> dict[str, ItemUse]:
        found = {}
        for key, name in self.names.items():
            amounts = bought_amounts(key, self.made)
            mean = self._mean(amounts)
            if mean == 0.0 or not any(amounts(each).any() for each in self.routes):
                continue
            find_law = partial(self.totals.law, amounts, pieces=self.pieces)
            found[name] = ItemUse(name, mean, self.prices.buy.get(key, 0.0), find_law)
        return found

    def _gives(self, notes: dict[str, None]) -> dict[str, ItemGive]:
        found = {}
        for key, name in self.names.items():
            mean = self._mean(given_amounts(key))
            if mean == 0.0 or not any(given_amounts(key)(each).any() for each in self.routes):
                continue
            price = self.prices.sell.get(key)
            found[name] = ItemGive(name, mean, price)
            if price is None:
                notes[f"no selling price for {name!r}: what comes back of it counts 0"] = None
        return found

    def _made_items(self) -> dict[str, ItemMade]:
        found = {}
        units = self.totals.made_units(self.priced)
        for key, item in self.made.items():
            if key not in units:
                continue
            mean = self.priced.average.mean(units[key]) * self.pieces
            if self.priced.average.endless:
                mean = inf
            found[self.names[key]] = ItemMade(
                item=self.names[key],
                route=item.priced.built.route.name,
                mean=mean if isfinite(mean) else None,
                unit_cost=item.unit_cost,
            )
        return found

    def _choices(self) -> dict[str, StageChoice]:
        model, choices = self.priced.built.model, self.priced.choices
        first_outcome = np.searchsorted(model.outcome_action, choices.actions)
        found = {}
        for stage in np.flatnonzero(choices.actions >= 0).tolist():
            action = int(choices.actions[stage])
            kind = int(model.action_kind[action])
            step = None
            if kind == STEP:
                step = model.steps[int(model.action_step[action])]
            elif ACTION_WORDS[kind] == "buy in":
                step = model.stages[int(model.outcome_stage[first_outcome[stage]])]
            found[model.stages[stage]] = StageChoice(
                ACTION_WORDS[kind], step, float(choices.cost_to_go[stage])
            )
        return found

    def _visits(self) -> dict[str, float | None]:
        if self.priced.average.endless:
            return dict.fromkeys(self.priced.built.model.stages)
        visits = self.priced.average.visits * self.pieces
        return dict(zip(self.priced.built.model.stages, visits.tolist(), strict=True))

    def _note_left_out(self, notes: dict[str, None], money: str) -> None:
        for each in [sale for priced in self.routes for sale in priced.left_out]:
            notes[each.told(money)] = None

    def _note_doubts(self, notes: dict[str, None]) -> None:
        average = self.priced.average
        never = np.flatnonzero(np.isnan(self.priced.choices.cost_to_go))
        if len(never):
            stages = self.priced.built.model.stages
            named = ", ".join(repr(stages[each]) for each in never[:NAMES_AT_MOST].tolist())
            more = f" and {len(never) - NAMES_AT_MOST} more" if len(never) > NAMES_AT_MOST else ""
            notes[f"nothing leads to {named}{more}"] = None
        for step in average.endless:
            notes[
                f"no mean exists: step {step!r} has no stated odds and no success was seen, "
                "so it may never succeed; the quantiles still hold"
            ] = None
        spread_exists = all(each.average.spread_exists for each in self.routes)
        if not spread_exists and not average.endless:
            notes[
                "no standard deviation exists: too few successes were seen; the spread from "
                "unsure odds is told by quantiles"
            ] = None
        if average.error > CLOSE_AVERAGE:
            notes[
                f"the average over unsure odds is good to about {average.error:.1g} of its size"
            ] = None
        for key in sorted(self.totals.find_luck_left_out()):
            notes[f"the luck of making {self.names[key]!r} is not in the spread everywhere"] = None
