"""How likely a price wins the order, and which price is worth most to ask.

A customer takes the offer if it beats the others'. Others' prices lie about the
going rate; on the log scale their law is taken to be logistic with the spread
that single asks show about the level. So half the customers accept the going
rate itself, and the chance falls with the price. That form is an assumption,
the same as a customer who chooses by a logit rule in the log of the price; where
own offers are logged, which of them were taken tells more (customers.py).

Source: Li & Huh (2011), Manufacturing & Service Operations Management 13:546-563, for
    the price of greatest profit under logit demand; Krishna, Auction Theory, 2nd ed.
    (2010), chapter 2, for bidding against a known law of other bids.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.decide.service.customers import Customers

Floats = NDArray[np.float64]
WinChance = Callable[[Floats], Floats]

PLAIN_LOG_SD = 0.08
"""Spread of single asks about the going rate where no asks tell, log scale."""

LEAST_LOG_SD = 0.02
PRICES_TRIED = 401
ROUNDS = 4

MOST_TIMES = 3.0
"""No price beyond so many times the going rate is looked at: there the law is a guess alone."""


@dataclass(frozen=True, slots=True)
class GoingRate:
    """What others ask for the same.

    Attributes:
        level: The price that half the customers accept.
        sd: How unsure the level is, money.
        log_sd: Spread of single offers about it, and how unsure it is, log scale, > 0.
        customers: What own offers tell of who accepts which price; None: the law above.
        most: No customer is thought to pay more; None: only what `MOST_TIMES` says.
    """

    level: float
    sd: float
    log_sd: float
    customers: Customers | None = None
    most: float | None = None

    def win_chance(self, price: Floats) -> Floats:
        """Chance that a price wins the order."""
        if self.customers is not None:
            return self.customers.accept(np.log(np.maximum(price, 1e-300) / self.level))
        scale = max(self.log_sd, LEAST_LOG_SD) * math.sqrt(3.0) / math.pi
        above = np.log(np.maximum(price, 1e-300) / self.level) / scale
        chance: Floats = 1.0 / (1.0 + np.exp(np.clip(above, -700.0, 700.0)))
        return chance


def best_price(floor: float, win_chance: WinChance, *, low: float, high: float) -> float:
    """The price of greatest expected gain (price - floor) * chance to win.

    Args:
        floor: What the order must bring, money.
        win_chance: Falls with the price.
        low, high: Where to look; the gain should have one peak there.
    """
    for _ in range(ROUNDS):
        prices = np.linspace(low, high, PRICES_TRIED)
        best = int(np.argmax((prices - floor) * win_chance(prices)))
        low = float(prices[max(best - 1, 0)])
        high = float(prices[min(best + 1, PRICES_TRIED - 1)])
    return (low + high) / 2


def price_to_ask(floor: float, going: GoingRate | None) -> float:
    """The price to ask for an order that must bring `floor`; without a going rate the floor."""
    if going is None:
        return floor
    reach = math.exp(6.0 * max(going.log_sd, LEAST_LOG_SD))
    low = max(floor, going.level / reach)
    high = max(floor, going.level) * min(reach, MOST_TIMES)
    if going.most is not None:
        high = min(high, going.most)
    return best_price(floor, going.win_chance, low=low, high=max(low, high))
