"""Choices for whoever cannot be sure of the odds.

Choices that are best at the likeliest odds may lean on a step that, for all one
knows, hardly ever works. A chance p that is known by a beta law with a successes in
n tries takes (n - 1) / (a - 1) tries on average, so the odds (a - 1) / (n - 1) give
its mean where it is tried until it works. The best choices at such odds are a
second proposal; which of the two is taken is decided by the mean over all the odds
may be.

Source: mean of 1/p for p ~ Beta(a, b), Johnson, Kotz & Balakrishnan, Continuous
Univariate Distributions, vol. 2, 2nd ed. (Wiley 1995), section 25.3.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from advisor.routes.learned import UnsureStep
from advisor.routes.solve import BestChoices
from advisor.routes.stages import StageModel

HARDLY_EVER = 0.01
"""Of the likeliest odds: what a chance counts as whose mean number of tries does not exist."""


def doubt_odds(
    model: StageModel, choices: BestChoices, costs: np.ndarray, unsure: Sequence[UnsureStep]
) -> tuple[StageModel, tuple[UnsureStep, ...]]:
    """The same route, its unsure steps as hard as they are on average.

    Args:
        model: The route at its likeliest odds.
        choices: The best choices there; they tell which outcome of a step is the best.
        costs: Of each outcome, shape (k,).
        unsure: Steps whose odds are not known for sure.
    """
    odds, doubted = model.odds.copy(), []
    for step in unsure:
        place = step.find_outcomes(model)
        hard = _make_hard(step, find_best_outcome(model, choices, costs, step))
        for number, (now, then) in enumerate(zip(step.odds, hard, strict=True)):
            odds[place == number] *= then / now
        doubted.append(replace(step, odds=tuple(hard.tolist())))
    return replace(model, odds=odds), tuple(doubted)


def find_best_outcome(
    model: StageModel, choices: BestChoices, costs: np.ndarray, step: UnsureStep
) -> int:
    """Position of an unsure step's outcome after which the least is still to be paid."""
    to_go = np.append(np.nan_to_num(choices.cost_to_go), 0.0)
    after, place = costs + to_go[model.outcome_stage], step.find_outcomes(model)
    means = [_mean_after(after, model.odds, place == each) for each in range(len(step.odds))]
    return int(np.argmin(means))


def _mean_after(after: np.ndarray, odds: np.ndarray, which: np.ndarray) -> float:
    total = float(odds[which].sum())
    return float((after * odds)[which].sum()) / total if total > 0 else float("inf")


def _make_hard(step: UnsureStep, best: int) -> np.ndarray:
    """Its odds with the best outcome as rare as the mean number of tries makes it."""
    alphas, odds = np.array(step.posterior.alphas), np.array(step.odds)
    rare = (alphas[best] - 1.0) / (alphas.sum() - 1.0) if alphas[best] > 1.0 else 0.0
    rare = max(rare, HARDLY_EVER * odds[best])
    hard = odds * (1.0 - rare) / (1.0 - odds[best])
    hard[best] = rare
    return np.asarray(hard)
