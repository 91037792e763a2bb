"""What one run, or many, adds up to: cost, minutes, units of an item; their means and laws.

A step that uses a made item adds what making it adds: the mean in the means, and an
independent draw of its whole law in the laws. Where an item is used in making itself,
its luck there is left out of the spread; its mean is not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import inf, sqrt

import numpy as np

from advisor.routes.chain import follow_choices
from advisor.routes.distribution import cost_distribution
from advisor.routes.made_items import MadeItems
from advisor.routes.mixture import mix_laws
from advisor.routes.nesting import MadeItem
from advisor.routes.priced import PricedRoute, Prices
from advisor.routes.total_law import CostDistribution

Amounts = Callable[[PricedRoute], np.ndarray]
"""What each outcome of a route adds by itself, made items left out, shape (k,)."""

MOST_DRAWS = 400
"""Made units of one item that one outcome may use up before its luck is left out."""


@dataclass
class RouteTotals:
    """Totals of a route whose steps may use made items.

    Attributes:
        main: The route.
        made: Items that are made, those used to make them included.
        luck_left_out: Items whose luck is not carried everywhere; grows as laws are asked.
    """

    main: PricedRoute
    made: Mapping[str, MadeItem]

    def __post_init__(self) -> None:
        self.luck_left_out: set[str] = set()

    def made_units(self, priced: PricedRoute) -> dict[str, np.ndarray]:
        """Units of each made item that each outcome uses, shape (k,)."""
        found = {}
        for key in self.made:
            if key in priced.built.used_by_steps:
                item = priced.built.keys.index(key)
                found[key] = priced.built.step_uses[:, [item]].toarray().ravel()
        return found

    def unit_means(self, amounts: Amounts) -> dict[str, float]:
        """Mean total of making one of each made item: m = d + U m."""
        keys = list(self.made)
        if not keys:
            return {}
        routes = [self.made[key].priced for key in keys]
        units = np.array([[route.mean_units(key) for key in keys] for route in routes])
        own = np.array([route.average.mean(amounts(route)) for route in routes])
        means = np.linalg.solve(np.eye(len(keys)) - units, own)
        return dict(zip(keys, means.tolist(), strict=True))

    def outcome_amounts(self, amounts: Amounts, priced: PricedRoute | None = None) -> np.ndarray:
        """What each outcome adds, made items at their mean, shape (k,)."""
        priced = priced or self.main
        means = self.unit_means(amounts)
        total = amounts(priced).astype(float)
        for key, units in self.made_units(priced).items():
            total = total + units * means[key]
        return total

    def mean(self, amounts: Amounts) -> float:
        """Mean total of one run; infinite where it does not exist."""
        if self.main.average.endless:
            return inf
        return self.main.average.mean(self.outcome_amounts(amounts))

    def law(self, amounts: Amounts, *, pieces: int = 1) -> CostDistribution:
        """The law of the total of this many independent runs."""
        return self._law(self.main, amounts, (), pieces)

    def _law(
        self, priced: PricedRoute, amounts: Amounts, inside: tuple[str, ...], pieces: int = 1
    ) -> CostDistribution:
        per_outcome = self.outcome_amounts(amounts, priced)
        draws = self._draws(priced, amounts, inside)
        model = replace(priced.built.model, uses=priced.built.step_uses)
        average = priced.average
        laws = [
            cost_distribution(
                replace(model, odds=odds), priced.choices, per_outcome, made=draws
            ).n_fold(pieces)
            for odds in average.law_nodes.odds
        ]
        if len(laws) == 1:
            return laws[0]
        mean = inf if average.endless else pieces * average.mean(per_outcome)
        sd = _spread(priced, per_outcome, draws, pieces)
        return mix_laws(laws, average.law_nodes.weights, mean=mean, sd=sd)

    def _draws(
        self, priced: PricedRoute, amounts: Amounts, inside: tuple[str, ...]
    ) -> dict[int, CostDistribution]:
        """The law of one unit of each made item, by its place among the route's items."""
        draws = {}
        for key, units in self.made_units(priced).items():
            if key in inside or float(units.max(initial=0.0)) > MOST_DRAWS:
                self.luck_left_out.add(key)
                continue
            law = self._law(self.made[key].priced, amounts, (*inside, key))
            if law.sd > 0:
                draws[priced.built.keys.index(key)] = law
        return draws


def _spread(
    priced: PricedRoute,
    amounts: np.ndarray,
    draws: Mapping[int, CostDistribution],
    pieces: int,
) -> float:
    """Spread of the total over luck and unsure odds; infinite where it does not exist.

    The pieces share the odds, whatever they are: for each way the odds may be, their
    totals are independent, and their variances add up.
    """
    nodes = priced.average.spread_nodes
    if not priced.average.spread_exists:
        return inf
    units = {item: priced.built.step_uses[:, [item]].toarray().ravel() for item in draws}
    own = MadeItems(dict(draws), units).own_variance(len(amounts))
    model = priced.built.model
    moments = [
        follow_choices(replace(model, odds=odds), priced.choices.actions).moments(amounts, own)
        for odds in nodes.odds
    ]
    means = pieces * np.array([each.mean for each in moments])
    squares = pieces * np.array([each.sd for each in moments]) ** 2 + means**2
    centre = float(nodes.weights @ means)
    return sqrt(max(0.0, float(nodes.weights @ squares) - centre**2))


def cost_amounts(prices: Prices, made: Mapping[str, MadeItem]) -> Amounts:
    """Money: what the market takes and brings, made items left out."""

    def amounts(priced: PricedRoute) -> np.ndarray:
        bought = {key: prices.buy.get(key, 0.0) for key in priced.built.keys if key not in made}
        return priced.built.outcome_costs(prices, bought)

    return amounts


def minute_amounts(priced: PricedRoute) -> np.ndarray:
    """Minutes."""
    return priced.built.model.minutes


def bought_amounts(key: str, made: Mapping[str, MadeItem]) -> Amounts:
    """Units of one item that are bought."""

    def amounts(priced: PricedRoute) -> np.ndarray:
        built = priced.built
        if key not in built.keys:
            return np.zeros(len(built.model.odds))
        uses = built.market_uses if key in made else built.market_uses + built.step_uses
        return np.asarray(uses[:, [built.keys.index(key)]].toarray().ravel())

    return amounts


def given_amounts(key: str) -> Amounts:
    """Units of one item that come back or are sold."""

    def amounts(priced: PricedRoute) -> np.ndarray:
        built = priced.built
        if key not in built.keys:
            return np.zeros(len(built.model.odds))
        return np.asarray(built.model.gives[:, [built.keys.index(key)]].toarray().ravel())

    return amounts
