"""What ten more logged tries of each step would be worth before one makes or buys."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from advisor.decide.craft import CraftAdvice
from advisor.decide.worth_of_news import TRIES, TriesWorth, worth_of_tries
from advisor.routes.learned import UnsureStep
from advisor.tasks.craft_flips import AskedRoute

STEPS_ASKED = 4


def find_tries_worth(
    ways: Sequence[AskedRoute], advice: CraftAdvice, *, pieces: int
) -> list[TriesWorth]:
    """The worth of more tries of the steps whose odds are in doubt, the most first.

    Steps of every route count: news may also lift a route that is not the best today.
    Odds that are stated and were never tried are taken as they stand, and steps of
    routes that make a supply are not asked. Odds so good that a loop would earn for ever
    count as if the piece came for nothing.

    Args:
        ways: Every route of the answer, in its order.
        advice: The answer.
        pieces: For how many pieces the money is.
    """
    other = math.inf if advice.alternative is None else advice.alternative / pieces
    weighed = [each.cautious / pieces for each in advice.routes]
    found = []
    for number, (way, verdict) in enumerate(zip(ways, advice.routes, strict=True)):
        alternative = min([other, *weighed[:number], *weighed[number + 1 :]])
        for step, best in way.asked.unsure_steps()[:STEPS_ASKED]:
            alphas = step.posterior.alphas
            now = way.after_tries(step, best, 0, 0)
            worth = worth_of_tries(
                partial(_cost_after, way, step, best, min(0.0, now)),
                alternative,
                now=now,
                successes=alphas[best],
                failures=sum(alphas) - alphas[best],
            )
            if worth > 0:
                route = verdict.option.route
                found.append(TriesWorth(route, step.step, TRIES, pieces * worth))
    return sorted(found, key=lambda each: -each.worth)


def _cost_after(way: AskedRoute, step: UnsureStep, best: int, least: float, well: int) -> float:
    return max(least, way.after_tries(step, best, TRIES, well))
