"""What the days after today are worth, for any stock that is held tonight.

The stocks are laid on a grid of whole lots, at most so many; on it the purchases of
the days to come are planned, and between its points costs are interpolated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.decide.stock.buying_now import sold_off, usual_day
from advisor.decide.stock.need import Floats, Ints
from advisor.decide.stock.price_looks import DayLook
from advisor.decide.stock.purchase_plan import BuyingDay, PurchasePlan, plan_purchases
from advisor.decide.stock.supply_question import SupplyQuestion

PACKS_AT_MOST, PACKS_WITH_TRIPS = 500, 150
"""Stocks of the grid, at most; fewer where ways to the market cost and all must be tried."""

LIKELY_SD = 2.33
"""Prices beyond this many standard deviations (1 in 100) are not spoken of."""


@dataclass(frozen=True, slots=True)
class ReservePrice:
    """What to do on a later day.

    Attributes:
        day: Days from now.
        price: Buy more at this unit price of the usual quantity, and below.
        units: How many, if the price is as expected.
    """

    day: int
    price: float
    units: int


@dataclass(frozen=True, eq=False)
class LaterDays:
    """The days after today, on a grid of stocks."""

    question: SupplyQuestion
    looks: list[DayLook]

    @property
    def lot(self) -> int:
        """Units of one lot."""
        return self.question.offers.ladder.lots_of

    @cached_property
    def pack(self) -> int:
        """Units between neighbouring stocks of the grid: some whole lots."""
        lots = math.ceil(max(self.question.need.most, 1) / self.lot)
        most = PACKS_WITH_TRIPS if self.question.trip_cost else PACKS_AT_MOST
        return self.lot * math.ceil(lots / most)

    @property
    def _packs(self) -> int:
        """The greatest stock of the grid: enough for every need, and a pack more."""
        return math.ceil(max(self.question.need.most, 1) / self.pack) + 1

    @cached_property
    def plan(self) -> PurchasePlan:
        """The plan for the days between today and the last."""
        stocks = self.pack * np.arange(self._packs + 1)
        ladder, rate = self.question.offers.ladder, self.question.money_rate
        cost = usual_day(stocks, usual_qty=ladder.usual_qty, depth=ladder.depth)
        days = [
            BuyingDay(
                prices=look.prices,
                odds=look.odds,
                cost=cost,
                order_cost=self.question.trip_cost / look.middle,
                learn=look.learn,
                growth=after.growth,
                keep=(rate * stocks).astype(np.float64) if rate else None,
            )
            for look, after in zip(self.looks[:-1], self.looks[1:], strict=True)
        ]
        return plan_purchases(days, self.ending(stocks))

    def cost_from(self, units: Ints) -> Floats:
        """Least mean money still to be paid when these units are held tonight, shape (units,)."""
        if len(self.looks) == 1:
            return self.looks[0].middle * self.ending(units)
        stocks = self.pack * np.arange(len(self.plan.before[0]))
        beyond = np.maximum(units - stocks[-1], 0)
        value = np.interp(units, stocks, self.plan.before[0])
        # whatever is beyond every need is sold at the end, as the last pack of the grid is
        slope = (self.plan.before[0][-1] - self.plan.before[0][-2]) / self.pack
        return self.looks[0].middle * np.asarray(value + slope * beyond)

    def cost_of_waiting(self, units: int) -> float:
        """The same when nothing is bought before the last day."""
        value = float(self.ending(np.array([units]))[0])
        for look, after in zip(self.looks[-2::-1], self.looks[:0:-1], strict=True):
            carry = float(look.odds @ look.prices**look.learn)
            value = carry * (self.question.money_rate * units + after.growth * value)
        return self.looks[0].middle * value

    def leftovers_bring(self, most: int) -> Floats:
        """Mean money that 0 .. `most` units bring, left over on the last day, shape (most + 1,)."""
        asked, last = self.question, self.looks[-1]
        ladder = asked.offers.ladder
        market = {"usual_qty": ladder.usual_qty, "depth": ladder.depth}
        brought = sold_off(np.arange(most + 1), **market)
        return np.asarray(last.middle * asked.leftover * last.mean_level * brought)

    def ending(self, stocks: Ints) -> Floats:
        """Mean cost on the last day by stock: what is missing is bought, the rest is sold.

        In units of the level expected for that day.
        """
        asked, last = self.question, self.looks[-1]
        ladder = asked.offers.ladder
        missing = np.arange(asked.need.most + 1)
        bought = np.ceil(missing / self.lot) * self.lot
        bring = asked.leftover * last.mean_level
        short = last.mean_price * usual_day(bought, usual_qty=ladder.usual_qty, depth=ladder.depth)
        short += np.where(missing > 0, asked.trip_cost / last.middle, 0.0)
        market = {"usual_qty": ladder.usual_qty, "depth": ladder.depth}
        short -= bring * sold_off(bought - missing, **market)
        left = -bring * sold_off(np.arange(int(np.max(stocks)) + 1), **market)
        return asked.need.mean_over(stocks, short=short, left=left)

    def reservation_prices(self, units: int) -> list[ReservePrice]:
        """One for each day until the day before the last, holding `units` tonight.

        On the way the purchases that are best at the expected prices are made.
        """
        prices, stock = [], min(round(units / self.pack), self._packs)
        for number, look in enumerate(self.looks[:-1]):
            if stock >= self._packs:
                break
            highest = math.exp(LIKELY_SD * look.sd)
            price = max(0.0, min(self.plan.reservation_price(number, stock), highest))
            bought = self.plan.units_to_buy(number, stock, price=1.0)
            stock += bought
            prices.append(ReservePrice(number + 1, price * look.middle, bought * self.pack))
        return prices
