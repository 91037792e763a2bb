"""A route at prices: its best choices and what one run comes to."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import isfinite

import numpy as np
from scipy.sparse import csr_array, diags_array

from advisor.errors import CannotAnswer, EarningLoop, RouteFault
from advisor.figures import amount
from advisor.names import name_key
from advisor.routes.average import OddsAverage, average_over_odds
from advisor.routes.doubted_odds import doubt_odds
from advisor.routes.learned import UnsureStep
from advisor.routes.route import Route
from advisor.routes.solve import BestChoices, best_choices
from advisor.routes.stages import ACTION_WORDS, BUY_IN, SELL_OUT, STEP, StageModel

LESS = 1e-9
"""A way is cheaper than another by more than this share of its cost, or rounding made it so."""


@dataclass(frozen=True)
class Prices:
    """Prices of one unit by item, keyed as `name_key` has them.

    Attributes:
        buy: What buying costs.
        sell: What selling brings, net of the sale fee.
        hour_value: What an hour of one's own time is worth.
    """

    buy: Mapping[str, float]
    sell: Mapping[str, float]
    hour_value: float = 0.0


@dataclass(frozen=True)
class BuiltRoute:
    """A route and its stage model.

    Attributes:
        route: As read.
        model: With the odds that choices are taken by.
        unsure: Steps whose odds are not known for sure.
        leaves_out_loops: Whether sales on the way that earn without limit are left out,
            rather than refused.
    """

    route: Route
    model: StageModel
    unsure: tuple[UnsureStep, ...]
    leaves_out_loops: bool = False

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """The items of the model as keys."""
        return tuple(name_key(item) for item in self.model.items)

    @cached_property
    def by_steps(self) -> np.ndarray:
        """bool, shape (k,): outcomes of the route's own steps."""
        return np.asarray(self.model.action_kind[self.model.outcome_action] == STEP)

    @cached_property
    def step_uses(self) -> csr_array:
        """Units that steps use, shape (k, items); an item used so may be made."""
        return csr_array(diags_array(self.by_steps.astype(float)) @ self.model.uses)

    @cached_property
    def market_uses(self) -> csr_array:
        """Units bought to buy in, shape (k, items)."""
        bought = self.model.action_kind[self.model.outcome_action] == BUY_IN
        return csr_array(diags_array(bought.astype(float)) @ self.model.uses)

    @cached_property
    def used_by_steps(self) -> tuple[str, ...]:
        """Keys of the items that steps use."""
        used = np.unique(self.step_uses.indices)
        return tuple(self.keys[item] for item in used.tolist())

    def outcome_costs(self, prices: Prices, unit_costs: Mapping[str, float]) -> np.ndarray:
        """What each outcome costs, shape (k,).

        Args:
            prices: Of the market.
            unit_costs: Of the items that steps use, bought or made; others count 0.
        """
        used = np.array([unit_costs.get(key, 0.0) for key in self.keys])
        bought = np.array([prices.buy.get(key, 0.0) for key in self.keys])
        sold = np.array([prices.sell.get(key, 0.0) for key in self.keys])
        time = self.model.minutes * (prices.hour_value / 60.0)
        return np.asarray(
            self.step_uses @ used + self.market_uses @ bought - self.model.gives @ sold + time
        )


@dataclass(frozen=True)
class SaleLeftOut:
    """A sale on the way that would earn without limit, left out of an answer.

    Attributes:
        item: What would be sold.
        gain: What one such sale would earn.
    """

    item: str
    gain: float

    def told(self, money: str) -> str:
        """What was left out, in a sentence."""
        return (
            f"Selling {self.item} on the way earns {amount(self.gain)} {money} each time, without "
            "limit on paper: left out here; see advise sell, advise evening"
        )


@dataclass(frozen=True)
class PricedRoute:
    """A route solved at prices.

    Attributes:
        built: The route.
        costs: What each outcome costs, shape (k,); made items at their mean cost.
        choices: The best action at each stage, with proof.
        average: What one run comes to, averaged over unsure odds.
        left_out: Sales on the way that were left out.
    """

    built: BuiltRoute
    costs: np.ndarray
    choices: BestChoices
    average: OddsAverage
    left_out: tuple[SaleLeftOut, ...] = ()

    @property
    def size(self) -> float:
        """What a difference of mean costs is measured by: 1 or more."""
        mean = abs(self.mean_cost)
        return max(1.0, mean) if isfinite(mean) else 1.0

    @property
    def mean_cost(self) -> float:
        """Mean cost of one run; infinite where it does not exist."""
        return float("inf") if self.average.endless else self.average.mean(self.costs)

    def mean_units(self, key: str) -> float:
        """Units of an item that steps use in one run, on average."""
        if key not in self.built.keys:
            return 0.0
        column = self.built.step_uses[:, [self.built.keys.index(key)]].toarray().ravel()
        return self.average.mean(column)


def price_route(built: BuiltRoute, prices: Prices, unit_costs: Mapping[str, float]) -> PricedRoute:
    """Find the best choices of a route at prices.

    Choices stay as they are while the average over unsure odds is taken. They are the
    best at the likeliest odds, or at odds as hard as doubt makes them (`doubted_odds`),
    whichever is cheaper on average; `built` holds the odds they were chosen at.

    Raises:
        RouteFault: a stage that cannot finish, a free loop, a loop that earns for
            ever; with the file, and the line of the step.
    """
    built, costs, choices, left_out = _choose(built, prices, unit_costs)
    average = average_over_odds(built.model, choices.actions, built.unsure)
    likely = PricedRoute(built, costs, choices, average, left_out)
    careful = _choose_in_doubt(likely) if built.unsure else None
    if careful is None or not careful.mean_cost < likely.mean_cost - LESS * likely.size:
        return likely
    return careful


def _choose(
    built: BuiltRoute, prices: Prices, unit_costs: Mapping[str, float]
) -> tuple[BuiltRoute, np.ndarray, BestChoices, tuple[SaleLeftOut, ...]]:
    """The best choices; the route, and its costs, without the sales that had to be left out."""
    left_out: list[SaleLeftOut] = []
    first: RouteFault | None = None
    while True:
        costs = built.outcome_costs(prices, unit_costs)
        try:
            return built, costs, best_choices(built.model, costs), tuple(left_out)
        except EarningLoop as fault:
            first = first or fault
            if not (built.leaves_out_loops and fault.sold):
                raise _with_place(first, built.route) from None
            left_out += [SaleLeftOut(item, fault.gain) for item in fault.sold]
            built = stop_selling(built, [name_key(item) for item in fault.sold])
        except RouteFault as fault:
            raise _with_place(first or fault, built.route) from None


def stop_selling(built: BuiltRoute, sold: Collection[str]) -> BuiltRoute:
    """The route without selling out these items, keyed as `name_key` has them.

    At a stage without a step what is sold is left behind for nothing instead: there is no
    other way on.
    """
    columns = [number for number, key in enumerate(built.keys) if key in sold]
    if not columns:
        return built
    model = built.model
    giving = np.asarray(model.gives[:, columns].sum(axis=1)).ravel() > 0
    sales = np.zeros(len(model.action_stage), dtype=bool)
    sales[model.outcome_action[giving]] = True
    sales &= model.action_kind == SELL_OUT
    only = ~np.isin(model.action_stage, model.action_stage[model.action_kind == STEP])
    paid = ~(sales & only)[model.outcome_action]
    gives = csr_array(diags_array(paid.astype(float)) @ model.gives)
    gives.eliminate_zeros()
    return replace(built, model=drop_actions(replace(model, gives=gives), sales & ~only))


def _choose_in_doubt(likely: PricedRoute) -> PricedRoute | None:
    """The route by the best choices at doubted odds; None where they are the same or none are."""
    built, costs, choices = likely.built, likely.costs, likely.choices
    model, unsure = doubt_odds(built.model, choices, costs, built.unsure)
    try:
        other = best_choices(model, costs)
    except (RouteFault, CannotAnswer):
        return None
    if np.array_equal(other.actions, choices.actions):
        return None
    average = average_over_odds(model, other.actions, unsure)
    return replace(
        likely,
        built=replace(built, model=model, unsure=unsure),
        choices=other,
        average=average,
    )


def _with_place(fault: RouteFault, route: Route) -> RouteFault:
    """The same fault with the file and the line of the step it names."""
    if fault.file is not None:
        return fault
    line = fault.line
    if isinstance(fault, EarningLoop) and fault.step is None:
        line = line or route.lines.line_of(("market",))
    line = line or _line_of(route, fault.step, fault.stage)
    if line is None or fault.step in ACTION_WORDS[1:]:
        line = route.lines.line_of(("market",))
    fault.file, fault.line = None if route.file is None else str(route.file), line
    return fault


def _line_of(route: Route, step: str | None, stage: str | None) -> int | None:
    """Where a step, or the first step at a stage, is written; rungs by their like names."""
    for each in route.steps:
        if step is not None and _like(each.name, step):
            return each.line
    for each in route.steps:
        if stage is not None and each.start is not None and _like(each.start, stage):
            return each.table.line("from")
    for each in route.steps:
        for outcome in each.outcomes:
            if stage is not None and _like(outcome.stage, stage):
                return outcome.line
    return None


def _like(written: str, name: str) -> bool:
    """Whether a name may be one of a written name's rungs."""
    import re

    pattern = re.sub(r"\\\{.*?\\\}", r"-?\\d+", re.escape(name_key(written)))
    return re.fullmatch(pattern, name_key(name)) is not None


def without_items(built: BuiltRoute, missing: Sequence[str]) -> BuiltRoute | None:
    """The route without the steps that use items one cannot have; None if none is left."""
    columns = [number for number, key in enumerate(built.keys) if key in missing]
    using = np.asarray(built.step_uses[:, columns].sum(axis=1)).ravel() > 0
    dropped = np.zeros(len(built.model.action_stage), dtype=bool)
    dropped[built.model.outcome_action[using]] = True
    if dropped.all():
        return None
    return replace(built, model=drop_actions(built.model, dropped))


def drop_actions(model: StageModel, dropped: np.ndarray) -> StageModel:
    """The same model without some of its actions. [bool, shape (m,)]"""
    number = np.cumsum(~dropped) - 1
    kept = ~dropped[model.outcome_action]
    rows = np.flatnonzero(kept)
    return replace(
        model,
        action_stage=model.action_stage[~dropped],
        action_kind=model.action_kind[~dropped],
        action_step=model.action_step[~dropped],
        outcome_action=number[model.outcome_action[rows]],
        outcome_stage=model.outcome_stage[rows],
        odds=model.odds[rows],
        minutes=model.minutes[rows],
        uses=csr_array(model.uses[rows]),
        gives=csr_array(model.gives[rows]),
        outcome_written=None if model.outcome_written is None else model.outcome_written[rows],
    )
