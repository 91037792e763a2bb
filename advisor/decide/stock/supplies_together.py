"""Supplies that run out together share the way to the market: who bears how much of it.

Where several items are used up at one pace, one more way to the market fetches
all of them: it is made if the worst stocked one runs out. To least

    sum of cost_i(q_i)  +  trip * max over i of chance_short_i(q_i)

the maximum is written as the greatest weighted mean of the chances; the weights,
which then tell how much of the trip each item bears, are found by raising those
of the items that run out most.

Source: multiplicative weights for a game against the maximum, Freund & Schapire,
    Adaptive game playing using multiplicative weights, Games and Economic
    Behavior 29 (1999) 79-103, section 3.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.decide.stock.need import Floats

ROUNDS = 400


def share_trip(
    costs: Sequence[Floats], chances: Sequence[Floats], *, trip_cost: float
) -> list[float]:
    """How much of one way to the market each item bears; the parts sum to `trip_cost`.

    Args:
        costs: For each item, what each quantity comes to without the trip, shape (quantities,).
        chances: Chance of running short with each quantity, likewise.
        trip_cost: Money for one way to the market.
    """
    if len(costs) == 1 or trip_cost == 0:
        return [trip_cost / len(costs)] * len(costs)
    log_weights, total = np.zeros(len(costs)), np.zeros(len(costs))
    for number in range(1, ROUNDS + 1):
        weights = np.exp(log_weights - log_weights.max())
        weights /= weights.sum()
        total += weights
        short = [
            float(chance[np.argmin(cost + weight * trip_cost * chance)])
            for cost, chance, weight in zip(costs, chances, weights.tolist(), strict=True)
        ]
        log_weights += 4.0 / np.sqrt(number) * (np.array(short) - max(short))
    return [float(part) for part in trip_cost * total / total.sum()]
