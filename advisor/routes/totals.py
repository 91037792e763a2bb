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


@dataclass(frozen=True)
class RouteTotals:
    """Totals of a route whose steps may use made items.

    Attributes:
        main: The route.
        made: Items that are made, those used to make them included.
    """

    main: PricedRoute
    made: Mapping[str, MadeItem]

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
        own = np.array([route.average.mean(amounts(route)) for route in routes])
        means = np.linalg.solve(np.eye(len(keys)) - self._units_per_unit(), own)
        return dict(zip(keys, means.tolist(), strict=True))

    def _units_per_unit(self) -> np.ndarray:
        """Units of each made item used to make one of each, on average."""
        return np.array(
            [[item.priced.mean_units(key) for key in self.made] for item in self.made.values()]
        )

    def odds_sd(self, amounts: Amounts) -> float:
        """Standard deviation of the mean total from unsure odds, those of made items included.

        Every unit of an item is made at the same odds, whatever they are.
        """
        own = self.main.average.odds_sd(self.outcome_amounts(amounts))
        if not self.made:
            return own
        used = np.array([self.main.mean_units(key) for key in self.made])
        units = np.linalg.solve(np.eye(len(used)) - self._units_per_unit().T, used)
        each = [
            item.priced.average.odds_sd(self.outcome_amounts(amounts, item.priced))
            for item in self.made.values()
        ]
        return sqrt(own**2 + float(np.sum((units * np.array(each)) ** 2)))

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
        made = self._draws(priced, amounts, inside)
        draws = {item: _with_finite_spread(law) for item, law in made.items()}
        model = replace(priced.built.model, uses=priced.built.step_uses)
        average = priced.average
        laws = [
            cost_distribution(
                replace(model, odds=odds), priced.choices, per_outcome, made=draws
            ).n_fold(pieces)
            for odds in average.law_nodes.odds
        ]
        endless_spread = any(law.sd == inf for law in made.values())
        if len(laws) == 1:
            return replace(laws[0], sd=inf) if endless_spread else laws[0]
        mean = inf if average.endless else pieces * average.mean(per_outcome)
        sd = inf if endless_spread else _spread(priced, per_outcome, draws, pieces)
        return mix_laws(laws, average.law_nodes.weights, mean=mean, sd=sd)

    def _draws(
        self, priced: PricedRoute, amounts: Amounts, inside: tuple[str, ...]
    ) -> dict[int, CostDistribution]:
        """The law of one unit of each made item, by its place among the route's items."""
        draws = {}
        for key, units in self.made_units(priced).items():
            if _carries_luck(key, units, inside):
                law = self._law(self.made[key].priced, amounts, (*inside, key))
                if law.sd > 0:
                    draws[priced.built.keys.index(key)] = law
        return draws

    def find_luck_left_out(
        self, priced: PricedRoute | None = None, inside: tuple[str, ...] = ()
    ) -> set[str]:
        """Items whose luck is not carried everywhere into the laws."""
        found: set[str] = set()
        for key, units in self.made_units(priced or self.main).items():
            if _carries_luck(key, units, inside):
                found |= self.find_luck_left_out(self.made[key].priced, (*inside, key))
            else:
                found.add(key)
        return found


def _carries_luck(key: str, units: np.ndarray, inside: tuple[str, ...]) -> bool:
    """Whether units of a made item are drawn one by one, inside the making of others."""
    return key not in inside and float(units.max(initial=0.0)) <= MOST_DRAWS


def _with_finite_spread(law: CostDistribution) -> CostDistribution:
    """The same law; where no standard deviation exists, that of the values kept."""
    if law.sd < inf:
        return law
    return replace(law, sd=sqrt(float(law.pmf @ (law.values - law.mean) ** 2)))


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


def spent_amounts(prices: Prices, made: Mapping[str, MadeItem]) -> Amounts:
    """Money laid out: what is bought and the fees; nothing that comes in, no own time."""
    return cost_amounts(Prices(prices.buy, {}), made)


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
