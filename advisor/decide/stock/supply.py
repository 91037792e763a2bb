"""How many units of one item to buy today, and what to pay at most on the days to come.

The need is random and known only on the last day. Until then one may buy on any
day; what is missing on the last day is bought at that day's price, what is left
over is sold. Each quantity that can be bought today is tried: its price on
today's ladder plus the least mean cost of going on from there. No use is made of
convexity, which whole lots, price tiers and trips to the market break.

Source: the newsvendor problem with a random need, Snyder & Shen, Fundamentals of
    Supply Chain Theory, 2nd ed. (Wiley 2019), section 4.3; timing: `purchase_plan`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.buying_now import Lot
from advisor.decide.stock.later_days import LaterDays, ReservePrice
from advisor.decide.stock.need import Floats, Ints
from advisor.decide.stock.no_resale import count_for_use
from advisor.decide.stock.price_looks import look_ahead
from advisor.decide.stock.supply_question import SupplyQuestion, refuse_unsound

QUANTITIES_AT_MOST = 2000
"""Quantities tried today; more than that and only every so many lots is tried."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What buying some quantity today comes to."""

    qty: int
    spent_now: float
    expected_cost: float
    chance_short: float


@dataclass(frozen=True, eq=False)
class SupplyAdvice:
    """The answer for one item.

    Attributes:
        question: What was asked.
        quantities: Quantities tried today, ascending, shape (n,).
        spent: What is paid for them today.
        totals: What each comes to in the end, on average: today, later, less leftovers.
        place: Which of them is advised.
        plain_qty, plain_cost: The plain habit: the mean need rounded up bought now, the
            rest when it runs out.
        later: The days to come.
        best_to_resell: Units that would be best on paper, more than advised, most of them
            to be sold again; None where nothing is to be had by that.
    """

    question: SupplyQuestion
    quantities: Ints
    spent: Floats
    totals: Floats
    place: int
    plain_qty: int
    plain_cost: float
    later: LaterDays
    best_to_resell: int | None = None

    @property
    def buy_now(self) -> int:
        """Units to buy today."""
        return int(self.quantities[self.place])

    @property
    def expected_cost(self) -> float:
        """Mean cost of the advised way."""
        return float(self.totals[self.place])

    @property
    def chance_short(self) -> float:
        """Chance that more is needed than is there after buying today."""
        return self.question.need.chance_above(self.buy_now)

    @property
    def pay_at_most(self) -> float:
        """Greatest unit price at which the last lot advised (else the first) is worth buying."""
        lot = self.question.offers.ladder.lots_of
        to = max(self.buy_now, lot)
        worth = self.later.cost_from(np.array([to - lot, to]))
        return max(0.0, float(worth[0] - worth[1]) / lot / (1.0 + self.question.money_rate))

    @property
    def lots(self) -> list[Lot]:
        """From which offers."""
        return self.question.offers.lots_for(self.buy_now) if self.buy_now else []

    def reserve(self) -> list[ReservePrice]:
        """For each day until the last: up to which price to buy more, as foreseen today."""
        return self.later.reservation_prices(self.buy_now)

    def enough_for(self, chance: float) -> int:
        """Units to buy, whole lots, that are enough with a chance."""
        ladder, need = self.question.offers.ladder, self.question.need
        return int(ladder.units_to_buy(need.quantile(chance)))

    def at(self, qty: int) -> CurvePoint:
        """What buying a quantity today comes to, whether it is a good idea or not."""
        units, offers = np.array([qty]), self.question.offers
        now = float(offers.cost_of(units)[0]) * (1.0 + self.question.money_rate)
        total = now + float(self.later.cost_from(units)[0])
        spent = float(offers.paid_for(units)[0])
        return CurvePoint(qty, spent, total, self.question.need.chance_above(qty))


def weigh_supply(question: SupplyQuestion) -> SupplyAdvice:
    """The quantity of least mean cost to buy today, the least of equals.

    Quantities that pay only because leftovers bring about what they cost, or more, are
    left out (`no_resale`).

    Raises: BadInput: no day to buy on, a ladder with a hole, a share out of range.
    """
    refuse_unsound(question)
    later = LaterDays(question, look_ahead(question.walk, question.days))
    tied = 1.0 + question.money_rate
    quantities, every = _quantities(question)
    for finer in (True, False):
        totals = question.offers.cost_of(quantities) * tied + later.cost_from(quantities)
        if not finer or every == later.lot:
            break
        near = int(quantities[_first_least(totals)]) + np.arange(-every, every + 1, later.lot)
        quantities = np.union1d(quantities, near[near >= 0])
    for_use = count_for_use(question, later, quantities=quantities, totals=totals)
    best = _first_least(totals)
    resold = int(quantities[best]) if for_use < len(quantities) else None
    quantities, totals = quantities[:for_use], totals[:for_use]
    plain = int(question.offers.ladder.units_to_buy(question.need.mean))
    plain_now = float(question.offers.cost_of(np.array([plain]))[0])
    return SupplyAdvice(
        question=question,
        quantities=quantities,
        spent=question.offers.paid_for(quantities),
        totals=totals,
        place=best if resold is None else for_use - 1,
        plain_qty=plain,
        plain_cost=plain_now * tied + later.cost_of_waiting(plain),
        later=later,
        best_to_resell=resold,
    )


def _quantities(question: SupplyQuestion) -> tuple[Ints, int]:
    """Whole lots up to the greatest need, every so many, with each bend of today's prices.

    Returns: The quantities, ascending, and how far apart they are at most.
    """
    lot = question.offers.ladder.lots_of
    lots = math.ceil(question.need.most / lot)
    every = max(1, math.ceil(lots / QUANTITIES_AT_MOST))
    up_to = lot * np.append(np.arange(0, lots, every), lots)
    bends = np.ceil(question.offers.breaks() / lot - 1e-9) * lot
    tiers = question.offers.tiers
    greatest = max(lots * lot, 0 if tiers is None else int(tiers.breaks.max()) + lot)
    bends = bends[bends <= greatest]
    return np.unique(np.concatenate([up_to, bends, [0]]).astype(np.int64)), every * lot


def _first_least(totals: Floats) -> int:
    least = float(totals.min())
    return int(np.flatnonzero(totals <= least + 1e-9 * abs(least))[0])
