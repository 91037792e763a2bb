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
from math import sqrt

import numpy as np

from advisor.routes.chain import follow_choices
from advisor.routes.changed_odds import WayWithOdds
from advisor.routes.learned import UnsureStep
from advisor.routes.quadrature import beta_nodes, combine_nodes, nodes_for_each
from advisor.routes.stages import StageModel

MOST_NODES = 600
MOST_NODES_EACH = 24
MOST_SPREAD_NODES = 64
MOST_LAW_NODES = 27
MOST_LAW_NODES_ENDLESS = 48
FEWEST_NODES = 4
NODES_TIMES_OUTCOMES = 2_000_000


@dataclass(frozen=True)
class OddsNodes:
    """A few ways the odds may be, and how likely each is.

    Attributes:
        odds: float, shape (nodes, k): of every outcome.
        weights: float, shape (nodes,), summing to 1.
    """

    odds: np.ndarray
    weights: np.ndarray


@dataclass(frozen=True)
class OddsAverage:
    """What one run of the chosen way comes to, averaged over unsure odds.

    Attributes:
        flows: float, shape (k,): how often each outcome comes to pass, on average.
        visits: float, shape (n,): mean visits of each stage; at an end, the odds of ending there.
        law_nodes: Odds to find laws at; one where all are sure.
        spread_exists: Whether a standard deviation exists.
        spread_nodes: Odds to find it at.
        spread_flows: float, shape (spread nodes, k): the flows there.
        endless: Steps for which no mean exists: it might be that they never succeed.
        error: Relative change of the mean number of actions when nodes are left out.
    """

    flows: np.ndarray
    visits: np.ndarray
    law_nodes: OddsNodes
    spread_exists: bool
    spread_nodes: OddsNodes
    spread_flows: np.ndarray
    endless: tuple[str, ...]
    error: float

    def mean(self, amounts: np.ndarray) -> float:
        """Mean of what the outcomes add up to. [amounts: shape (k,)]"""
        return float(self.flows @ amounts)

    def odds_sd(self, amounts: np.ndarray) -> float:
        """Standard deviation, over what the odds may be, of that mean.

        Where none exists: half the distance between its quantiles at 16 % and 84 %, which
        is the same for a normal law.
        """
        means = self.spread_flows @ amounts
        weights = self.spread_nodes.weights
        if self.spread_exists:
            return sqrt(max(float(weights @ (means - self.mean(amounts)) ** 2), 0.0))
        order = np.argsort(means)
        middle = np.cumsum(weights[order]) - weights[order] / 2
        low, high = np.interp((0.16, 0.84), middle, means[order])
        return float(high - low) / 2


def average_over_odds(
    model: StageModel, actions: np.ndarray, unsure: Sequence[UnsureStep]
) -> OddsAverage:
    """Average one run of the chosen way over what its unsure odds may be.

    Args:
        model: The route, with single odds.
        actions: Action taken at each stage, shape (n,); -1 at an end.
        unsure: Steps whose odds are not known for sure; those not taken do not matter.
    """
    way = WayWithOdds(model, follow_choices(model, actions))
    taken = [(step, place) for step in unsure if (place := way.place_outcomes(step)).max() >= 0]
    for step, place in taken:
        way.use_means(step, place)
    chances = [chance for step, place in taken for chance in _split_step(way, step, place)]
    chances.sort(key=lambda chance: -chance.influence)
    endless = tuple(dict.fromkeys(each.step for each in chances if each.a <= each.pole))
    nodes = _odds_nodes(way, chances, MOST_NODES, MOST_NODES_EACH)
    flows = nodes.weights @ way.flows(nodes.odds)
    spread_exists = all(chance.a > 2 * chance.pole for chance in chances)
    spread_nodes = _spread_nodes(way, chances) if spread_exists else nodes
    most_law = MOST_LAW_NODES_ENDLESS if endless else MOST_LAW_NODES
    law_each = most_law if endless else _law_nodes_each(chances, float(flows.sum()))
    return OddsAverage(
        flows=flows,
        visits=way.visits(flows),
        law_nodes=_odds_nodes(way, chances, most_law, law_each),
        spread_exists=spread_exists,
        spread_nodes=spread_nodes,
        spread_flows=way.flows(spread_nodes.odds),
        endless=endless,
        error=_error(way, chances, float(flows.sum())),
    )


@dataclass(frozen=True)
class _Chance:
    """One independent chance Beta(a, b): that it comes to `left` rather than `right`.

    Attributes:
        left, right: Indices of the outcomes on either side.
        pole: Order in which what the way comes to grows as the chance goes to 0.
        influence: Variance of the mean number of actions as this chance varies.
    """

    step: str
    left: np.ndarray
    right: np.ndarray
    a: float
    b: float
    pole: int = 0
    influence: float = 0.0

    def nodes(self, count: int) -> tuple[np.ndarray, np.ndarray]:
        """Nodes and weights; the pole taken out where the mean exists."""
        return beta_nodes(self.a, self.b, count, pole=self.pole if self.a > self.pole else 0)


def _odds_at(way: WayWithOdds, chances: Sequence[_Chance], values: np.ndarray) -> np.ndarray:
    """Odds of all outcomes, shape (k,), where the chances have these values."""
    odds = way.mean_odds.copy()
    for chance, value in zip(chances, values, strict=True):
        total = chance.a + chance.b
        odds[chance.left] *= value * total / chance.a
        odds[chance.right] *= (1.0 - value) * total / chance.b
    return odds


def _split_step(way: WayWithOdds, step: UnsureStep, place: np.ndarray) -> list[_Chance]:
    """The independent chances that a step's posterior is made of.

    A Dirichlet posterior is a product of Betas over any successive division of its
    outcomes. First comes whether it is one of those that, alone, let the way end:
    as the chance of all these goes to 0, costs grow without limit.
    """
    count = len(step.posterior.alphas)
    needed = [n for n in range(count) if way.ends_without((place >= 0) & (place != n))]
    others = [n for n in range(count) if n not in needed]
    splits = _divide(needed) + _divide(others)
    if needed and others:
        splits.insert(0, (needed, others))
    return [_make_chance(way, step, place, split) for split in splits]


def _divide(numbers: list[int]) -> list[tuple[list[int], list[int]]]:
    return [([first], numbers[place + 1 :]) for place, first in enumerate(numbers[:-1])]


def _make_chance(
    way: WayWithOdds, step: UnsureStep, place: np.ndarray, split: tuple[list[int], list[int]]
) -> _Chance:
    left, right = split
    alphas = step.posterior.alphas
    chance = _Chance(
        step=step.step,
        left=np.flatnonzero(np.isin(place, left)),
        right=np.flatnonzero(np.isin(place, right)),
        a=sum(alphas[number] for number in left),
        b=sum(alphas[number] for number in right),
    )
    near, nearer = _actions_at(way, chance, np.array([1e-4, 1e-6]))
    chance = replace(chance, pole=max(0, round(float(np.log10(nearer / near)) / 2)))
    nodes, weights = chance.nodes(3)
    actions = _actions_at(way, chance, nodes)
    return replace(chance, influence=float(weights @ (actions - weights @ actions) ** 2))


def _actions_at(way: WayWithOdds, chance: _Chance, values: np.ndarray) -> np.ndarray:
    """Mean number of actions where this chance has these values, the others at their means."""
    odds = np.array([_odds_at(way, [chance], np.array([value])) for value in values])
    return np.asarray(way.flows(odds).sum(axis=1))


def _odds_nodes(
    way: WayWithOdds, chances: Sequence[_Chance], most: int, most_each: int
) -> OddsNodes:
    """Nodes for averages over the chances; one where all odds are sure."""
    if not chances:
        return OddsNodes(way.mean_odds[np.newaxis], np.ones(1))
    most = min(most, max(FEWEST_NODES, NODES_TIMES_OUTCOMES // len(way.mean_odds)))
    counts = nodes_for_each(len(chances), most, most_each=most_each)
    values, weights = combine_nodes(
        [chance.nodes(count) for chance, count in zip(chances, counts, strict=True)]
    )
    return OddsNodes(np.array([_odds_at(way, chances, each) for each in values]), weights)


def _law_nodes_each(chances: Sequence[_Chance], actions: float) -> int:
    """How many nodes a law needs for each chance: the more, the more the chance matters.

    With these the quantiles of a wait with a Beta chance are met to the whole try.
    """
    spread = max((sqrt(chance.influence) for chance in chances), default=0.0)
    share = spread / actions if actions else 0.0
    return next((nodes for nodes, most in ((3, 0.02), (5, 0.1), (8, 0.3)) if share < most), 16)


def _spread_nodes(way: WayWithOdds, chances: Sequence[_Chance]) -> OddsNodes:
    """Nodes for averages of squares, which grow with twice the order."""
    squared = [replace(chance, pole=2 * chance.pole) for chance in chances]
    return _odds_nodes(way, squared, MOST_SPREAD_NODES, MOST_NODES_EACH)


def _error(way: WayWithOdds, chances: Sequence[_Chance], actions: float) -> float:
    """How much the mean number of actions changes when each chance has fewer nodes."""
    if not chances or actions == 0.0:
        return 0.0
    nodes = _odds_nodes(way, chances, MOST_NODES // 2, MOST_NODES_EACH - 6)
    fewer = nodes.weights @ way.flows(nodes.odds).sum(axis=1)
    return float(abs(fewer / actions - 1.0))
