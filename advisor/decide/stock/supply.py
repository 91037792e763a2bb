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
from functools import cached_property

import numpy as np

from advisor.decide.stock.buying_now import Lot, OffersNow, refuse_holes, usual_day
from advisor.decide.stock.need import Floats, Ints, NeedLaw
from advisor.decide.stock.price_looks import DayLook, PriceWalk, look_ahead
from advisor.decide.stock.purchase_plan import BuyingDay, PurchasePlan, plan_purchases
from advisor.errors import BadInput

PACKS_AT_MOST = 100
"""Stocks that the days to come are planned on; between them costs are interpolated."""

QUANTITIES_AT_MOST = 2000
"""Quantities tried today; more than that and only every so many lots is tried."""

LIKELY_SD = 2.33
"""Prices beyond this many standard deviations (1 in 100) are not spoken of."""


@dataclass(frozen=True, eq=False)
class SupplyQuestion:
    """What there is to know of one item, money in the workspace money.

    Attributes:
        item: Its name, for refusals.
        need: Units still needed, what is on hand taken off.
        offers: What can be bought today.
        walk: The law of the asking price from today on.
        days: Days from now to the last one, >= 1.
        leftover: What a unit left over brings on the last day, net, as a share of the
            asking price then, in [0, 1].
        trip_cost: Money for going to the market once more, on a later day.
        money_rate: Cost of money tied up for a day, as a share.
    """

    item: str
    need: NeedLaw
    offers: OffersNow
    walk: PriceWalk
    days: int = 1
    leftover: float = 0.0
    trip_cost: float = 0.0
    money_rate: float = 0.0


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What buying some quantity today comes to."""

    qty: int
    spent_now: float
    expected_cost: float
    chance_short: float


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
class SupplyAdvice:
    """The answer for one item.

    Attributes:
        question: What was asked.
        quantities: Quantities tried today, ascending, shape (n,).
        spent: What they cost today.
        totals: What each comes to in the end, on average: today, later, less leftovers.
        place: Which of them is advised.
        plain_qty, plain_cost: The plain habit: the mean need rounded up bought now, the
            rest when it runs out.
        later: The days to come.
    """

    question: SupplyQuestion
    quantities: Ints
    spent: Floats
    totals: Floats
    place: int
    plain_qty: int
    plain_cost: float
    later: LaterDays

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

    def at(self, qty: int) -> CurvePoint:
        """What buying a quantity today comes to, whether it is a good idea or not."""
        units = np.array([qty])
        spent = float(self.question.offers.cost_of(units)[0])
        total = spent * (1.0 + self.question.money_rate) + float(self.later.cost_from(units)[0])
        return CurvePoint(qty, spent, total, self.question.need.chance_above(qty))


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
        return self.lot * math.ceil(lots / PACKS_AT_MOST)

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
        short -= bring * (bought - missing)
        left = -bring * np.arange(int(np.max(stocks)) + 1, dtype=np.float64)
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


def weigh_supply(question: SupplyQuestion) -> SupplyAdvice:
    """The quantity of least mean cost to buy today, the least of equals.

    Raises: BadInput: no day to buy on, a ladder with a hole, a share out of range.
    """
    _refuse_unsound(question)
    later = LaterDays(question, look_ahead(question.walk, question.days))
    tied = 1.0 + question.money_rate
    quantities, every = _quantities(question)
    for finer in (True, False):
        spent = question.offers.cost_of(quantities)
        totals = spent * tied + later.cost_from(quantities)
        if not finer or every == later.lot:
            break
        near = int(quantities[_first_least(totals)]) + np.arange(-every, every + 1, later.lot)
        quantities = np.union1d(quantities, near[near >= 0])
    plain = int(question.offers.ladder.units_to_buy(question.need.mean))
    plain_spent = float(question.offers.cost_of(np.array([plain]))[0])
    return SupplyAdvice(
        question=question,
        quantities=quantities,
        spent=spent,
        totals=totals,
        place=_first_least(totals),
        plain_qty=plain,
        plain_cost=plain_spent * tied + later.cost_of_waiting(plain),
        later=later,
    )


def _refuse_unsound(question: SupplyQuestion) -> None:
    if question.days < 1:
        raise BadInput(f"{question.days} days to buy in", right="at least 1", item=question.item)
    if not 0 <= question.leftover <= 1:
        raise BadInput(
            f"leftovers that bring {question.leftover:g} of the asking price",
            right="a share from 0 to 1",
            item=question.item,
        )
    refuse_holes(question.offers.ladder, question.item)


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
