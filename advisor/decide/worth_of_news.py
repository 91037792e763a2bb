"""What news is worth before one chooses: looked at before it has come.

    worth = least mean cost without the news - mean over the news of the least cost with it

News that cannot change what one does is worth nothing. Tries of a step are such
news: `n` more of them come out well k times with the odds of the beta-binomial law,
and each k gives a cost of making that is compared with the alternative anew.

Source: preposterior analysis, Raiffa & Schlaifer, Applied Statistical Decision
Theory (Harvard 1961), chapters 1 and 5; beta-binomial law, section 7.11.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, lgamma

import numpy as np

TRIES = 10
NOTHING = 1e-4
"""Below this share of the cost a worth is not told from the error of the averages."""


@dataclass(frozen=True)
class TriesWorth:
    """What some more logged tries of a step are worth before one decides.

    Attributes:
        route, step: Whose.
        tries: How many more.
        worth: Money saved on average, >= 0; what the tries themselves cost is not in it.
    """

    route: str
    step: str
    tries: int
    worth: float


def worth_of_news(
    chances: Sequence[float],
    costs: Sequence[Sequence[float]],
    *,
    now: float | None = None,
) -> float:
    """What it is worth to hear the news before choosing the way of least mean cost.

    Args:
        chances: Of each piece of news, summing to 1, shape (news,).
        costs: Mean cost of each way given each piece of news, shape (news, ways).
        now: Least mean cost without the news; None: of the ways as they stand.
    """
    weights, table = np.asarray(chances), np.asarray(costs)
    least = float((weights[:, np.newaxis] * table).sum(axis=0).min()) if now is None else now
    told = float((weights * table.min(axis=1)).sum())
    return max(0.0, least - told)


def worth_of_tries(
    cost_after: Callable[[int], float],
    alternative: float,
    *,
    now: float,
    successes: float,
    failures: float,
    tries: int = TRIES,
) -> float:
    """What some more tries are worth to whoever then makes, or does the other thing.

    Args:
        cost_after: (how many of the tries came out well) -> mean cost of making then;
            it never rises with them.
        alternative: Mean cost of the best other thing.
        now: Mean cost of making today.
        successes, failures: What is known of the odds: the two numbers of a beta law, > 0.
        tries: How many, >= 1.
    """
    worst, best = cost_after(0), cost_after(tries)
    if best >= min(worst, alternative):
        return 0.0
    chances = count_chances(tries, successes, failures)
    between = [cost_after(well) for well in range(1, tries)]
    costs = [(each, alternative) for each in (worst, *between, best)]
    worth = worth_of_news(chances, costs, now=min(now, alternative))
    return worth if worth > NOTHING * abs(now) else 0.0


def count_chances(tries: int, successes: float, failures: float) -> list[float]:
    """Chance that 0, 1, ... of some tries come out well, their odds known by a beta law.

    >>> [round(each, 3) for each in count_chances(2, 1.0, 1.0)]
    [0.333, 0.333, 0.333]
    """
    whole = _log_beta(successes, failures)
    ways = [lgamma(tries + 1) - lgamma(k + 1) - lgamma(tries - k + 1) for k in range(tries + 1)]
    return [
        exp(way + _log_beta(successes + well, failures + tries - well) - whole)
        for well, way in enumerate(ways)
    ]


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)
