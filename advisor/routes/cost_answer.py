"""What is told of a route at given prices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from advisor.figures import amount
from advisor.routes.stages import StageModel
from advisor.routes.total_law import CostDistribution

if TYPE_CHECKING:
    from advisor.routes.priced import SaleLeftOut

NO_PROMISE = "An average is not a promise: set a budget before you start and stop there."


@dataclass(frozen=True)
class ItemUse:
    """Units of one item bought for the route.

    Attributes:
        item: Its name as first written.
        mean: Units on average; None where no mean exists.
        unit_price: What one costs.
        find_law: Finds the law of the units; `law` keeps it.
    """

    item: str
    mean: float | None
    unit_price: float
    find_law: Callable[[], CostDistribution] = field(repr=False, compare=False)

    @property
    def mean_cost(self) -> float | None:
        """Mean units times price; None where no mean exists."""
        return None if self.mean is None else self.mean * self.unit_price

    @cached_property
    def law(self) -> CostDistribution:
        """The law of the units."""
        return self.find_law()


@dataclass(frozen=True)
class ItemGive:
    """Units of one item that come back or are sold.

    Attributes:
        item: Its name as first written.
        mean: Units on average; None where no mean exists.
        unit_price: What one brings; None where nobody was seen to buy it (it counts 0).
    """

    item: str
    mean: float | None
    unit_price: float | None


@dataclass(frozen=True)
class ItemMade:
    """An item that is cheaper made than bought.

    Attributes:
        item: Its name as first written.
        route: The route that makes it.
        mean: Units used on average; None where no mean exists.
        unit_cost: Mean cost of making one.
    """

    item: str
    route: str
    mean: float | None
    unit_cost: float


@dataclass(frozen=True)
class StageChoice:
    """The best action at a stage.

    Attributes:
        action: "step", "buy in", "sell out" or "stop".
        step: The step's name; for buy in, the stage bought into; else None.
        cost_to_go: Least mean cost from here on, at the odds that choices are taken by.
    """

    action: str
    step: str | None
    cost_to_go: float


@dataclass(frozen=True)
class RouteCost:
    """What a route costs at given prices.

    Attributes:
        route, makes, goal, money: What was asked.
        pieces: For how many pieces everything but `choices` is.
        mean: Mean cost, averaged over unsure odds; None where it does not exist.
        odds_sd: Standard deviation of the mean cost from unsure odds; 0 where all are
            sure; where none exists, half the distance between the quantiles at 16 % and
            84 %, with a caution; None where not even the mean exists.
        find_law: Finds the law of the cost (luck, and odds not known for sure; prices
            fixed); `law` keeps it.
        find_minutes: Finds the law of the time taken; `minutes` keeps it.
        find_spent: Finds the law of the money laid out: what is bought and the fees, nothing
            that comes in taken off, own time left out; `spent` keeps it.
        own_time: What one's own time counts for in the mean; None where no mean exists.
        hour_value: What an hour of one's own time counts for.
        use, gives, made: By item, in the order first used.
        choices: Best action by stage, in reading order.
        visits: Mean visits by stage.
        lower, upper: Bounds on the least mean cost, at the odds that choices are taken by.
        budget: The budget asked about; None without one.
        left_out: Sales on the way that would earn without limit and are left out.
        cautions: What to know beside the numbers.
        model: Stages, actions, outcomes.
        actions: The chosen action at each stage of the model, -1 where there is none.
        outcome_costs: What each outcome costs, made items at their mean, shape (k,).
        outcome_time: How much of that is one's own time, shape (k,).
        outcome_spent: Money each outcome lays out, nothing that comes in taken off, shape (k,).
    """

    route: str
    makes: str
    goal: str
    money: str
    pieces: int
    mean: float | None
    odds_sd: float | None
    find_law: Callable[[], CostDistribution] = field(repr=False, compare=False)
    find_minutes: Callable[[], CostDistribution] = field(repr=False, compare=False)
    find_spent: Callable[[], CostDistribution] = field(repr=False, compare=False)
    own_time: float | None
    hour_value: float
    use: Mapping[str, ItemUse]
    gives: Mapping[str, ItemGive]
    made: Mapping[str, ItemMade]
    choices: Mapping[str, StageChoice]
    visits: Mapping[str, float | None]
    lower: float
    upper: float
    budget: float | None
    left_out: tuple[SaleLeftOut, ...]
    cautions: tuple[str, ...]
    model: StageModel
    actions: np.ndarray
    outcome_costs: np.ndarray
    outcome_time: np.ndarray
    outcome_spent: np.ndarray

    @cached_property
    def law(self) -> CostDistribution:
        """The law of the cost."""
        return self.find_law()

    @property
    def chance_within(self) -> float | None:
        """Chance to stay within the budget; None without one.

        Of a piece to keep the cost must stay within it. For sale it is the chance that the
        purse lasts: money of a sale at the end pays for nothing bought before it.
        """
        if self.budget is None:
            return None
        law = self.spent if self.goal == "sale" else self.law
        return law.chance_within(self.budget)

    def tell_own_time(self, whole: str = "it") -> str | None:
        """How much of the cost is one's own time, in words; None where it counts nothing.

        Args:
            whole: What the cost is called.
        """
        if not self.own_time:
            return None
        at = f"your own time at {amount(self.hour_value)} an hour"
        if self.goal == "sale":
            return f"{amount(self.own_time)} {self.money} is taken off for {at}"
        return f"of {whole} {amount(self.own_time)} {self.money} is {at}"

    @cached_property
    def minutes(self) -> CostDistribution:
        """The law of the time taken."""
        return self.find_minutes()

    @cached_property
    def spent(self) -> CostDistribution:
        """The law of the money laid out, nothing that comes in taken off."""
        return self.find_spent()
