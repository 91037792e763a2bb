"""When to buy how much: backward induction over days on which one price is seen each.

On each day a price is seen, some units are bought, then some are needed, and the
rest is kept. With v the least mean cost from a day on by stock x, and a the same
after buying:

    a(y) = mean over needs n of  keep((y-n)+) + growth * v_next((y-n)+) + short((n-y)+)
    v(x) = mean over prices p of  min over y >= x of
           p * cost(y-x) + [y > x] * order_cost + p^learn * a(y)

All money of a day is in units of that day's expected level; `growth` and
`p^learn` carry it from day to day. A price that tells nothing of later ones has
learn 0; a level that is a random walk and seen through noise has the gain of
its filter (see `price_looks`). Where units are needed one by one and cost is
proportional, this is optimal stopping with a reservation price for each unit.

Source: Bertsekas, Dynamic Programming and Optimal Control, vol. 1, 3rd ed.
    (Athena Scientific 2005), sections 4.2 (inventory control) and 4.4 (asset
    selling, purchasing with a deadline).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.decide.stock.need import Floats

CELLS_AT_ONCE = 100_000


def _surely_none() -> Floats:
    return np.ones(1)


@dataclass(frozen=True, eq=False)
class BuyingDay:
    """One day.

    Attributes:
        prices: Prices that may be seen, in units of the expected level, shape (prices,).
        odds: Their chances, shape (prices,), summing to 1.
        cost: cost[q]: money for q units at a price of 1, shape (at least the stocks,);
            infinite where that many cannot be bought.
        order_cost: Money for buying at all, whatever the price.
        learn: Power of the price that later money goes with.
        growth: Factor from this day's money to the next day's.
        keep: keep[x]: money for keeping x units until the next day; None for nothing.
        need: need[n]: chance that n units are needed on this day, after buying.
        short: short[s]: money for needing s units more than are held; None: not allowed.
    """

    prices: Floats
    odds: Floats
    cost: Floats
    order_cost: float = 0.0
    learn: float = 0.0
    growth: float = 1.0
    keep: Floats | None = None
    need: Floats = field(default_factory=_surely_none)
    short: Floats | None = None

    def carry(self, prices: Floats) -> Floats:
        """What later money is multiplied by once a price is seen."""
        return np.ones(len(prices)) if self.learn == 0 else np.asarray(prices**self.learn)


@dataclass(frozen=True, eq=False)
class PurchasePlan:
    """What to do on each day, by stock.

    Attributes:
        days: The days, first one first.
        before: before[d][x]: least mean cost from day d on with stock x, its price not
            seen yet; one more than days, the last is how it ends.
        after: after[d][y]: the same once stock is y, that day's need still to come.
    """

    days: tuple[BuyingDay, ...]
    before: tuple[Floats, ...]
    after: tuple[Floats, ...]

    def units_to_buy(self, day: int, stock: int, *, price: float) -> int:
        """The best purchase on a day at a price, the least of equals."""
        return int(np.argmin(self._totals(day, stock, price)))

    def reservation_price(self, day: int, stock: int) -> float:
        """Buying something is best at this price and below, nothing above; may be infinite.

        The largest solution of p * cost(q) + order_cost = p^learn * gain(q) over q,
        found from above: each round lowers p, and none passes the solution.
        """
        here, after = self.days[day], self.after[day]
        gain, cost = after[stock] - after[stock + 1 :], here.cost[1 : len(after) - stock]
        possible = np.isfinite(cost)
        worth, fixed = gain[possible] / cost[possible], here.order_cost / cost[possible]
        if here.learn == 0:
            return float(np.max(worth - fixed))
        worth = np.maximum(worth, 0.0)
        if here.learn >= 1:
            return np.inf if np.any(worth >= 1.0) else 0.0
        with np.errstate(over="ignore"):
            price = worth ** (1.0 / (1.0 - here.learn))
            for _ in range(200 if here.order_cost > 0 else 0):
                price = np.maximum(price**here.learn * worth - fixed, 0.0)
        return float(price.max())

    def _totals(self, day: int, stock: int, price: float) -> Floats:
        here, after = self.days[day], self.after[day][stock:]
        totals = price * here.cost[: len(after)] + here.carry(np.array([price])) * after
        totals[1:] += here.order_cost
        return np.asarray(totals)


def plan_purchases(days: Sequence[BuyingDay], ending: Floats) -> PurchasePlan:
    """The best purchases on each day, by backward induction.

    Args:
        days: First one first; none: only the ending is left.
        ending: Money at the end by stock, shape (stocks,), in units of the level expected
            after the last day; negative for what leftovers bring.
    """
    before, after = [np.asarray(ending, dtype=float)], []
    for day in reversed(days):
        after.append(_value_after(day, before[-1]))
        before.append(_value_before(day, after[-1]))
    return PurchasePlan(tuple(days), tuple(reversed(before)), tuple(reversed(after)))


def _value_after(day: BuyingDay, later: Floats) -> Floats:
    rest = day.growth * later if day.keep is None else day.keep[: len(later)] + day.growth * later
    if len(day.need) == 1:
        return rest
    stocks = np.arange(len(later))
    total = np.zeros(len(later))
    for units in np.flatnonzero(day.need):
        missing = np.maximum(units - stocks, 0)
        short = np.where(missing > 0, np.inf, 0.0) if day.short is None else day.short[missing]
        total += day.need[units] * (rest[np.maximum(stocks - units, 0)] + short)
    return total


def _value_before(day: BuyingDay, after: Floats) -> Floats:
    """Mean over the prices of the best purchase, for every stock at once."""
    cost = day.cost[: len(after)]
    bends_right = day.order_cost == 0 and _is_convex(cost) and _is_convex(after)
    if bends_right and np.all(day.prices >= 0):
        return _buy_while_worth_it(day, after)
    return _try_every_purchase(day, after)


def _is_convex(values: Floats) -> bool:
    if not np.all(np.isfinite(values)):
        return False
    steps = np.diff(values)
    return bool(np.all(np.diff(steps) >= -1e-9 * np.max(np.abs(steps), initial=0.0)))


def _buy_while_worth_it(day: BuyingDay, after: Floats) -> Floats:
    """One unit more as long as it is worth its price: right where each is dearer and worth less.

    How many that is, is found by halving for every price and stock at once.
    """
    size = len(after)
    stock, price, carry = np.arange(size), day.prices[:, None], day.carry(day.prices)[:, None]
    unit_cost = np.append(np.diff(day.cost[:size]), np.inf)
    gain = np.append(after[:-1] - after[1:], 0.0)
    low = np.zeros((len(day.prices), size), dtype=np.int64)
    high = np.broadcast_to(size - 1 - stock, low.shape)
    for _ in range(size.bit_length()):
        middle = (low + high + 1) // 2
        last = np.maximum(middle - 1, 0)
        worth_it = (price * unit_cost[last] < carry * gain[stock + last]) & (middle > low)
        low, high = np.where(worth_it, middle, low), np.where(worth_it, high, last)
        high = np.maximum(high, low)
    value: Floats = day.odds @ (price * day.cost[low] + carry * after[stock + low])
    return value


def _try_every_purchase(day: BuyingDay, after: Floats) -> Floats:
    size = len(after)
    bought = np.arange(size)[None, :] - np.arange(size)[:, None]
    possible = (bought >= 0) & np.isfinite(day.cost[np.maximum(bought, 0)])
    cost = np.where(possible, day.cost[np.maximum(bought, 0)], 0.0)
    fixed = np.where(possible, np.where(bought > 0, day.order_cost, 0.0), np.inf)
    value, carry = np.zeros(size), day.carry(day.prices)
    together = max(1, CELLS_AT_ONCE // size**2)
    for begin in range(0, len(day.prices), together):
        some = slice(begin, begin + together)
        totals = day.prices[some, None, None] * cost + fixed
        totals += carry[some, None, None] * after
        value += day.odds[some] @ totals.min(axis=2)
    return value
