"""What a chosen way comes to when some odds are known from tries only.

The choices stay as they are; visits, use and cost are averaged over what the odds
may be, since the mean of 1/p is not 1 over the mean of p. A posterior over several
outcomes is split into independent chances: first "one of the outcomes without which
the evening never ends", then which of them. Deterministic nodes, no random numbers.
Where not even the mean exists (nothing stated, no success seen) that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.chain import Chain, follow_choices
from advisor.routes.equations import ChainEquations
from advisor.routes.learned import UnsureStep
from advisor.routes.quadrature import beta_nodes, combine_nodes, nodes_for_each
from advisor.routes.stages import StageModel

MOST_NODES = 256
MOST_NODES_EACH = 12
MOST_LAW_NODES = 27
MOST_LAW_NODES_EACH = 16
LARGE_ROUTE = 20_000
MOST_NODES_LARGE = 4


@dataclass(frozen=True)
class OddsAverage:
    """What one run of the chosen way comes to, averaged over unsure odds.

    Attributes:
        flows: float, shape (k,): how often each outcome comes to pass, on average.
        visits: float, shape (n,): visits of each stage with something to do.
        node_flows: float, shape (nodes, k): the flows at each node of the average.
        node_weights: float, shape (nodes,), summing to 1.
        law_odds: float, shape (law nodes, k): odds to find laws at, one row where all are sure.
        law_weights: float, shape (law nodes,), summing to 1.
        endless: Steps for which no mean exists: it might be that they never succeed.
        spread_exists: Whether the standard deviation exists.
        error: Relative change of the mean number of actions when nodes are left out.
    """

    flows: np.ndarray
    visits: np.ndarray
    node_flows: np.ndarray
    node_weights: np.ndarray
    law_odds: np.ndarray
    law_weights: np.ndarray
    endless: tuple[str, ...]
    spread_exists: bool
    error: float

    def mean(self, amounts: np.ndarray) -> float:
        """Mean of what the outcomes add up to. [amounts: shape (k,)]"""
        return float(self.flows @ amounts)

    def odds_sd(self, amounts: np.ndarray) -> float:
        """Standard deviation, over what the odds may be, of that mean."""
        means = self.node_flows @ amounts
        centre = float(self.node_weights @ means)
        return float(np.sqrt(max(self.node_weights @ (means - centre) ** 2, 0.0)))


def average_over_odds(
    model: StageModel, actions: np.ndarray, unsure: Sequence[UnsureStep]
) -> OddsAverage:
    """Average one run of the chosen way over what its unsure odds may be.

    Args:
        model: The route, with single odds.
        actions: Action taken at each stage, shape (n,); -1 at an end.
        unsure: Steps whose odds are not known for sure; those not taken do not matter.
    """
    way = _Way(model, follow_choices(model, actions))
    chances = [chance for step in unsure for chance in _split_step(way, step)]
    chances.sort(key=lambda chance: -chance.influence)
    endless = dict.fromkeys(chance.step for chance in chances if chance.a <= chance.pole)
    large = len(way.chain.stages) > LARGE_ROUTE
    most = MOST_NODES_LARGE if large else MOST_NODES
    nodes, weights = _nodes(chances, most, MOST_NODES_EACH)
    flows = np.array([way.flows(way.odds_at(chances, node)) for node in nodes])
    law_nodes, law_weights = _nodes(
        chances, MOST_NODES_LARGE if large else MOST_LAW_NODES, MOST_LAW_NODES_EACH
    )
    mean_flows = weights @ flows
    return OddsAverage(
        flows=mean_flows,
        visits=way.visits(mean_flows),
        node_flows=flows,
        node_weights=weights,
        law_odds=np.array([way.odds_at(chances, node) for node in law_nodes]),
        law_weights=law_weights,
        endless=tuple(endless),
        spread_exists=all(chance.a > 2 * chance.pole for chance in chances),
        error=0.0 if large else _error(way, chances, float(mean_flows.sum())),
    )


@dataclass(frozen=True)
class _Chance:
    """One independent chance Beta(a, b): that it comes to `left` rather than `right`."""

    step: str
    left: tuple[np.ndarray, ...]
    right: tuple[np.ndarray, ...]
    a: float
    b: float
    pole: int = 0
    influence: float = 0.0

    @property
    def mean(self) -> float:
        return self.a / (self.a + self.b)


class _Way:
    """The chosen way as a chain whose odds can be exchanged."""

    def __init__(self, model: StageModel, chain: Chain) -> None:
        self.model = model
        self.chain = chain

    def odds_at(self, chances: Sequence[_Chance], values: np.ndarray) -> np.ndarray:
        """Odds of all outcomes, shape (k,), where the chances have these values."""
        factors = np.ones(len(self.model.odds))
        for chance, value in zip(chances, values, strict=True):
            for outcomes in chance.left:
                factors[outcomes] *= value / chance.mean
            for outcomes in chance.right:
                factors[outcomes] *= (1.0 - value) / (1.0 - chance.mean)
        return self._mean_odds(chances) * factors

    def _mean_odds(self, chances: Sequence[_Chance]) -> np.ndarray:
        """The model's odds with those of unsure steps at their posterior means."""
        return self.posterior_means if chances else self.model.odds

    @cached_property
    def posterior_means(self) -> np.ndarray:
        return self.model.odds.copy()

    def flows(self, odds: np.ndarray) -> np.ndarray:
        """How often each outcome comes to pass at these odds, shape (k,)."""
        chain = self.chain
        found = np.zeros(len(self.model.odds))
        if not len(chain.stages):
            return found
        own = odds[chain.outcomes]
        onward = chain.target >= 0
        shape = (len(chain.stages), len(chain.stages))
        moves = csr_array((own[onward], (chain.source[onward], chain.target[onward])), shape=shape)
        begin = np.zeros(len(chain.stages))
        begin[chain.start] = 1.0
        visits = ChainEquations(moves).solve_transposed(begin)
        found[chain.outcomes] = visits[chain.source] * own
        return found

    def visits(self, flows: np.ndarray) -> np.ndarray:
        """Visits of the stages with something to do, and of the ends reached, shape (n,)."""
        model = self.model
        landed = model.outcome_stage >= 0
        found = np.bincount(
            model.outcome_stage[landed], weights=flows[landed], minlength=len(model.stages)
        )
        found[model.start] += 1.0
        return found

    def ends_with(self, left_out: np.ndarray) -> bool:
        """Whether the way can end from everywhere without these outcomes. [bool, shape (k,)]"""
        from scipy.sparse.csgraph import breadth_first_order

        chain = self.chain
        kept = ~left_out[chain.outcomes]
        count = len(chain.stages)
        target = np.where(chain.target < 0, count, chain.target)[kept]
        backward = csr_array(
            (np.ones(len(target)), (target, chain.source[kept])), shape=(count + 1, count + 1)
        )
        reached = breadth_first_order(backward, count, return_predecessors=False)
        return len(reached) == count + 1


def _split_step(way: _Way, step: UnsureStep) -> list[_Chance]:
    """The independent chances that a step's posterior is made of; none if it is not taken."""
    place = step.find_outcomes(way.model)
    on_way = np.zeros(len(place), dtype=bool)
    on_way[way.chain.outcomes] = True
    place[~on_way] = -1
    if not (place >= 0).any():
        return []
    alphas = step.posterior.alphas
    members = [np.flatnonzero(place == number) for number in range(len(alphas))]
    means = step.posterior.mean()
    for number, outcomes in enumerate(members):
        way.posterior_means[outcomes] *= means[number] / step.odds[number]
    unsure = place >= 0
    needed = [number for number in range(len(alphas)) if way.ends_with(unsure & (place != number))]
    others = [number for number in range(len(alphas)) if number not in needed]
    splits = _list_splits(needed) + _list_splits(others)
    if needed and others:
        splits = [(needed, others), *splits]
    return [_chance(way, step.step, left, right, members, alphas) for left, right in splits]


def _list_splits(numbers: list[int]) -> list[tuple[list[int], list[int]]]:
    return [([first], numbers[place + 1 :]) for place, first in enumerate(numbers[:-1])]


def _chance(
    way: _Way,
    step: str,
    left: list[int],
    right: list[int],
    members: list[np.ndarray],
    alphas: tuple[float, ...],
) -> _Chance:
    chance = _Chance(
        step=step,
        left=tuple(members[number] for number in left),
        right=tuple(members[number] for number in right),
        a=sum(alphas[number] for number in left),
        b=sum(alphas[number] for number in right),
    )
    steps = [way.flows(way.odds_at([chance], np.array([q]))).sum() for q in (1e-6, 1e-4)]
    pole = max(0, round(float(np.log10(steps[0] / steps[1])) / 2))
    nodes, weights = beta_nodes(chance.a, chance.b, 3, pole=pole if chance.a > pole else 0)
    around = np.array([way.flows(way.odds_at([chance], np.array([q]))).sum() for q in nodes])
    spread = float(weights @ (around - weights @ around) ** 2)
    return replace(chance, pole=pole, influence=spread)


def _nodes(chances: Sequence[_Chance], most: int, most_each: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes, shape (nodes, chances), and weights; one empty node where all odds are sure."""
    if not chances:
        return np.zeros((1, 0)), np.ones(1)
    counts = nodes_for_each(len(chances), most, most_each=most_each)
    return combine_nodes(
        [_rule(chance, count) for chance, count in zip(chances, counts, strict=True)]
    )


def _rule(chance: _Chance, count: int) -> tuple[np.ndarray, np.ndarray]:
    return beta_nodes(chance.a, chance.b, count, pole=chance.pole if chance.a > chance.pole else 0)


def _error(way: _Way, chances: Sequence[_Chance], actions: float) -> float:
    """How much the mean number of actions changes when each chance has fewer nodes."""
    if not chances or actions == 0.0:
        return 0.0
    nodes, weights = _nodes(chances, MOST_NODES // 4, MOST_NODES_EACH - 4)
    fewer = sum(
        weight * way.flows(way.odds_at(chances, node)).sum()
        for node, weight in zip(nodes, weights, strict=True)
    )
    return float(abs(fewer / actions - 1.0))
