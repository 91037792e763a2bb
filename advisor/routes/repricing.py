"""The least mean cost of a route at other prices or odds, choices taken anew each time.

Stages are built once; only prices and single odds change. Laws are not made,
so asking again is cheap.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from advisor.names import name_key
from advisor.routes.build import build_stages
from advisor.routes.doubted_odds import find_best_outcome
from advisor.routes.learned import DEFAULT_TRUST, Tries, UnsureStep, learn_odds
from advisor.routes.nesting import UnitCosts, find_unit_costs
from advisor.routes.pools.redrawing import step_of_user
from advisor.routes.priced import BuiltRoute, PricedRoute, Prices, price_route, stop_selling
from advisor.routes.route import Route
from advisor.routes.stages import STEP
from advisor.routes.totals import RouteTotals, bought_amounts, cost_amounts


@dataclass(frozen=True)
class StepOdds:
    """A step of the best way that can turn out in several ways, and its best outcome.

    Attributes:
        step: Its name.
        stage: Where the best outcome leads.
        row: Which outcome of the model that is.
        odds: Its odds today.
        visits: How often the best way takes the step.
    """

    step: str
    stage: str
    row: int
    odds: float
    visits: float


class Repricing:
    """Asks a route for its least mean cost again and again.

    Args:
        route: Its name.
        routes: All routes by name.
        prices: Today's; whether an item can be bought or sold at all is taken from here.
        money, goal, trust, tries: As for `route_cost`.
        not_sold: Items that the route does not sell out on the way.
    """

    def __init__(
        self,
        route: str,
        routes: Mapping[str, Route],
        *,
        prices: Prices,
        money: str,
        goal: str = "keep",
        trust: float = DEFAULT_TRUST,
        tries: Mapping[str, Tries] | None = None,
        not_sold: Collection[str] = (),
    ) -> None:
        self._routes = routes
        self._prices = prices
        self._money = money
        self._trust = trust
        self._tries = tries or {}
        self._built: dict[str, BuiltRoute] = {}
        main = self._build(routes[route], goal)
        not_sold = [name_key(item) for item in not_sold]
        self._main = replace(stop_selling(main, not_sold), leaves_out_loops=False)

    def _build(self, route: Route, goal: str = "keep") -> BuiltRoute:
        if goal == "keep" and route.name in self._built:
            return self._built[route.name]
        learned = learn_odds(route, trust=self._trust, tries=self._tries.get(route.name))
        model = build_stages(
            route,
            goal=goal,
            money=self._money,
            odds=learned.odds,
            buyable=self._prices.buy,
            sellable=self._prices.sell,
        )
        built = BuiltRoute(route, model, learned.unsure, leaves_out_loops=True)
        if goal == "keep":
            self._built[route.name] = built
        return built

    @cached_property
    def today(self) -> float:
        """Least mean cost at today's prices and odds."""
        totals, unit_costs = self._solve(self._main, self._prices)
        return totals.mean(cost_amounts(self._prices, unit_costs.made))

    @cached_property
    def items(self) -> dict[str, float]:
        """Today's price of every item that the route, or one that makes a supply, may buy."""
        return {
            name: self._prices.buy[key]
            for key, name in self._names.items()
            if key in self._prices.buy
        }

    @cached_property
    def _names(self) -> dict[str, str]:
        """Items of this route and of those that make its supplies, by key."""
        self._solve(self._main, self._prices)  # builds the routes that make supplies
        return {
            key: name
            for built in (*self._built.values(), self._main)
            for key, name in zip(built.keys, built.model.items, strict=True)
        }

    def cost_at_price(self, item: str, price: float) -> tuple[float, float]:
        """Least mean cost when one unit of the item costs this, and the units bought of it."""
        key = name_key(item)
        if key not in self._names:
            return self.today, 0.0
        prices = replace(self._prices, buy={**self._prices.buy, key: price})
        totals, unit_costs = self._solve(self._main, prices)
        cost = totals.mean(cost_amounts(prices, unit_costs.made))
        return cost, totals.mean(bought_amounts(key, unit_costs.made))

    def cost_at_odds(self, step: StepOdds, odds: float) -> float:
        """Least mean cost when the step's best outcome has these odds.

        The step's other outcomes share the rest as they do today.
        """
        model = self._main.model
        same = model.outcome_action == model.outcome_action[step.row]
        changed = model.odds.copy()
        others = 1.0 - model.odds[step.row]
        changed[same] *= (1.0 - odds) / others if others > 0 else 0.0
        changed[step.row] = odds
        unsure = tuple(each for each in self._main.unsure if each.step != step.step)
        main = replace(self._main, model=replace(model, odds=changed), unsure=unsure)
        totals, unit_costs = self._solve(main, self._prices)
        return totals.mean(cost_amounts(self._prices, unit_costs.made))

    def unsure_steps(self) -> list[tuple[UnsureStep, int]]:
        """Steps whose odds are in doubt, those that the best way takes most often first.

        Returns: Each with the position, among its outcomes, of the best one.
        """
        main = self._main
        priced = self._solve(main, self._prices)[0].main
        flows = priced.average.flows
        taken = [float(flows[each.find_outcomes(main.model) >= 0].sum()) for each in main.unsure]
        return [
            (step, find_best_outcome(main.model, priced.choices, priced.costs, step))
            for step, _ in sorted(zip(main.unsure, taken, strict=True), key=lambda each: -each[1])
        ]

    def cost_after_tries(self, step: UnsureStep, best: int, *, tries: int, well: int) -> float:
        """Least mean cost when so many more tries of a step were seen.

        Args:
            step: A step whose odds are in doubt.
            best: Position of its best outcome.
            tries: How many more.
            well: How many of them came to the best outcome; the rest are shared among
                the others as their odds are.
        """
        alphas = np.array(step.posterior.alphas)
        others = np.delete(alphas, best)
        seen = np.insert((tries - well) * others / others.sum(), best, well)
        posterior = replace(step.posterior, alphas=tuple((alphas + seen).tolist()))
        odds = posterior.single_odds()
        model, place = self._main.model, step.find_outcomes(self._main.model)
        changed = model.odds.copy()
        for number, (now, then) in enumerate(zip(step.odds, odds, strict=True)):
            changed[place == number] *= then / now
        told = replace(step, posterior=posterior, odds=tuple(odds.tolist()))
        unsure = tuple(told if each is step else each for each in self._main.unsure)
        main = replace(self._main, model=replace(model, odds=changed), unsure=unsure)
        totals, unit_costs = self._solve(main, self._prices)
        return totals.mean(cost_amounts(self._prices, unit_costs.made))

    def chancy_steps(self) -> list[StepOdds]:
        """Steps of the best way with several outcomes, most often taken first."""
        priced = self._solve(self._main, self._prices)[0].main
        found = [
            replace(each, odds=float(self._main.model.odds[each.row]))
            for each in _find_chancy_steps(priced)
        ]
        return sorted(found, key=lambda each: -each.visits)

    def _solve(self, main: BuiltRoute, prices: Prices) -> tuple[RouteTotals, UnitCosts]:
        unit_costs = find_unit_costs(main, self._routes, prices, build=self._build)
        priced = price_route(main, prices, unit_costs.costs)
        return RouteTotals(priced, unit_costs.made), unit_costs


def _find_chancy_steps(priced: PricedRoute) -> list[StepOdds]:
    model, choices = priced.built.model, priced.choices
    found = []
    if priced.average.endless:
        return []
    visits = priced.average.visits
    for stage in np.flatnonzero((choices.actions >= 0) & (visits > 0)).tolist():
        action = int(choices.actions[stage])
        rows = np.flatnonzero(model.outcome_action == action)
        if model.action_kind[action] != STEP or len(rows) < 2:
            continue
        to_go = priced.costs[rows] + choices.cost_to_go[model.outcome_stage[rows]]
        row = int(rows[np.argmin(to_go)])
        if not 0 < model.odds[row] < 1:
            continue
        found.append(
            StepOdds(
                step=step_of_user(model.steps[int(model.action_step[action])], model.stages[stage]),
                stage=model.stages[int(model.outcome_stage[row])],
                row=row,
                odds=float(model.odds[row]),
                visits=float(visits[stage]),
            )
        )
    return found
