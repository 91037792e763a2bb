"""One order as the customer and you agree on it: when it ends, what is paid on the way.

The best choices of the route are followed. A try is the route's chancy step that
is taken most often. An order may be agreed to end after so many tries, or where
the customer's piece is lost; the stages are then told apart by the tries used,
and every law stays exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np
from scipy.sparse import csr_array

from advisor.decide.service.winning import Floats
from advisor.errors import CannotAnswer
from advisor.routes.chain import Chain, follow_choices
from advisor.routes.distribution import cost_distribution
from advisor.routes.pools.redrawing import SEE
from advisor.routes.solve import BestChoices
from advisor.routes.stages import END, STEP, StageModel
from advisor.routes.total_law import CostDistribution

MOST_STAGES = 20_000
NO_LOSSES: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, eq=False)
class AgreedOrder:
    """Every outcome of an order, and how it counts.

    Attributes:
        model: Stages of the order; each has one action.
        cost: What each outcome costs you, shape (k,); its minutes are the model's.
        tried: Whether it is an outcome of a try, shape (k,).
        succeeded, failed: Whether the order ends with it, and how, shape (k,).
        lost: For each stage where the customer's piece is lost, whether it is with it.
    """

    model: StageModel
    cost: Floats
    tried: Floats
    succeeded: Floats
    failed: Floats
    lost: Mapping[str, Floats]

    @cached_property
    def _choices(self) -> BestChoices:
        count = len(self.model.stages)
        return BestChoices(np.arange(count), np.zeros(count), 0.0, 0.0, 0)

    @cached_property
    def _chain(self) -> Chain:
        return follow_choices(self.model, self._choices.actions)

    def mean(self, amounts: Floats) -> float:
        """Mean of what an order adds up to."""
        return self._chain.moments(amounts).mean

    def law(self, amounts: Floats) -> CostDistribution:
        """The law of what an order adds up to."""
        return cost_distribution(self.model, self._choices, amounts)

    @cached_property
    def chance_done(self) -> float:
        """Chance that the order ends with the piece made."""
        return min(1.0, self.mean(self.succeeded))

    @cached_property
    def chances_lost(self) -> dict[str, float]:
        """Chance that it ends with the customer's piece lost, by the stage."""
        return {stage: self.mean(ends) for stage, ends in self.lost.items()}


def find_try(model: StageModel, actions: np.ndarray) -> str | None:
    """The chancy step taken most often; None where nothing is left to chance.

    A draw onto a piece of a pool is chancy, though what comes of it is a stage of its own.
    """
    chain = follow_choices(model, actions)
    steps = [_step_name(model, action) for action in chain.actions.tolist()]
    visits: dict[str, float] = {}
    for place, step in enumerate(steps):
        here = chain.source == place
        draws = any(steps[onward] == SEE for onward in chain.target[here].tolist() if onward >= 0)
        if step not in (None, SEE) and (draws or float(chain.odds[here].max()) < 1.0):
            visits[str(step)] = visits.get(str(step), 0.0) + float(chain.visits[place])
    return max(visits, key=lambda step: visits[step]) if visits else None


def _step_name(model: StageModel, action: int) -> str | None:
    """The step that an action is; None where it is none."""
    is_step = int(model.action_kind[action]) == STEP
    return model.steps[int(model.action_step[action])] if is_step else None


def agree_order(
    model: StageModel,
    actions: np.ndarray,
    *,
    cost: Floats,
    try_step: str | None,
    tries: int | None = None,
    losses: Mapping[str, float] = NO_LOSSES,
) -> AgreedOrder:
    """The order that follows these choices under these terms.

    Args:
        model: The route.
        actions: Action taken at each stage, shape (n,).
        cost: What each outcome costs you, shape (k,).
        try_step: The step whose takings count as tries.
        tries: The order fails when a try is due after so many; None: no end.
        losses: What you pay where the customer's piece is lost and the order ends, by the stage.
    Raises: CannotAnswer: so many stages and tries that the law cannot be told.
    """
    chain = follow_choices(model, actions)
    count, layers = len(chain.stages), 1 if tries is None else tries + 1
    if layers * count > MOST_STAGES:
        raise CannotAnswer(
            f"{tries} tries over {count} stages are too many to tell apart",
            right=f"agree on at most {MOST_STAGES // count - 1}",
        )
    steps = [_step_name(model, action) for action in chain.actions.tolist()]
    is_try = np.array([try_step is not None and step == try_step for step in steps])
    tried = is_try[chain.source]
    arrives = model.outcome_stage[chain.outcomes]
    arrived = np.array(model.stages, dtype=object)[arrives]
    lost_at = {stage: (arrives >= 0) & (arrived == stage) for stage in losses}
    lost, paid = np.zeros(len(arrives), dtype=bool), np.zeros(len(arrives))
    for stage, pays in losses.items():
        lost |= lost_at[stage]
        paid += pays * lost_at[stage]
    done = (chain.target < 0) & ~lost
    onward = ~(done | lost)
    layer = np.repeat(np.arange(layers), len(chain.source))
    after = layer + np.tile(tried, layers) if tries is not None else layer
    due = is_try[chain.target] & onward if tries is not None else np.zeros_like(onward)
    failed = np.tile(due, layers) & (after >= layers - 1)
    moves = np.tile(onward, layers) & ~failed & (after < layers)
    return AgreedOrder(
        model=_lay_out(
            layer * count + np.tile(chain.source, layers),
            np.where(moves, after * count + np.tile(chain.target, layers), END),
            odds=np.tile(chain.odds, layers),
            minutes=np.tile(model.minutes[chain.outcomes], layers),
            start=chain.start,
        ),
        cost=np.tile(cost[chain.outcomes] + paid, layers),
        tried=np.tile(tried, layers).astype(float),
        succeeded=np.tile(done, layers).astype(float),
        failed=failed.astype(float),
        lost={stage: np.tile(ends, layers).astype(float) for stage, ends in lost_at.items()},
    )


def _lay_out(
    source: np.ndarray, target: np.ndarray, *, odds: Floats, minutes: Floats, start: int
) -> StageModel:
    """A model whose stages have one action each."""
    count = int(source.max()) + 1
    nothing = csr_array((len(source), 0))
    return StageModel(
        stages=[str(stage) for stage in range(count)],
        start=start,
        done=np.zeros(count, dtype=bool),
        steps=["go on"],
        action_stage=np.arange(count),
        action_kind=np.full(count, STEP),
        action_step=np.zeros(count, dtype=int),
        outcome_action=source,
        outcome_stage=target,
        odds=odds,
        minutes=minutes,
        items=[],
        uses=nothing,
        gives=nothing,
    )
