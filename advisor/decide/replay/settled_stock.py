"""What supplies would have cost, bought as advised, by the plain habit, and in hindsight.

The need is random and shows on the last day: then what is missing is bought at that
day's offers, in whole lots, and what is over is sold at its cheapest ask less the fee.
Costs are means over the need. As advised: so many at once; on the first later day whose
price of the usual quantity is at or below its reserve price, what the mean need still
lacks. The plain habit: the mean need at once. Hindsight knows the need and every price:
the cheapest units of all days, and more than needed where they sell for more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.replay.day_advice import StockSaid
from advisor.decide.replay.standing import AS_MANY_AS_WANTED, Floats, Standing


@dataclass(frozen=True, slots=True)
class StockSettled:
    """What one item cost, leftovers taken off."""

    paid: float
    paid_plain: float
    paid_hindsight: float


def settle_stock(
    said: StockSaid, days: Sequence[Standing | None], *, kept: float
) -> StockSettled | None:
    """Settle the supply of one item.

    Args:
        days: What stood on the day itself and the `said.days` after it.
        kept: The part of a price that is left after the fee.
    Returns: None where nothing stood on the first or the last day.
    """
    first, last = days[0], days[-1]
    if first is None or last is None:
        return None
    brings = kept * said.leftover * last.cheapest
    needs = np.array(said.needs)

    def ending(stock: int) -> float:
        missing = np.ceil(np.maximum(needs - stock, 0) / said.lots_of) * said.lots_of
        over = np.maximum(stock + missing - needs, 0)
        return float(np.mean(last.cost_of(missing) - brings * over))

    spent, stock = _follow(said, days)
    return StockSettled(
        paid=spent + ending(stock),
        paid_plain=float(first.cost_of(said.plain_qty)) + ending(said.plain_qty),
        paid_hindsight=_in_hindsight(said, days, needs, brings=brings),
    )


def _follow(said: StockSaid, days: Sequence[Standing | None]) -> tuple[float, int]:
    """What is spent before the last day, and the stock then."""
    first = days[0]
    spent = 0.0 if first is None else float(first.cost_of(said.buy_now))
    stock, enough = said.buy_now, math.ceil(np.mean(said.needs) / said.lots_of) * said.lots_of
    for day, price in said.reserve:
        seen = days[day] if day < len(days) - 1 else None
        if stock < enough and seen is not None and seen.unit_price(said.usual_qty) <= price:
            spent += float(seen.cost_of(enough - stock))
            stock = enough
    return spent, stock


def _in_hindsight(
    said: StockSaid, days: Sequence[Standing | None], needs: Floats, *, brings: float
) -> float:
    offers = sorted(
        (price, min(units, AS_MANY_AS_WANTED))
        for seen in days
        if seen is not None
        for place, (price, units) in enumerate(_with_more(seen))
    )
    stops = np.cumsum([0.0, *(units for _, units in offers)])
    paid = np.cumsum([0.0, *(price * units for price, units in offers)])
    most = max(int(needs.max()), said.buy_now, said.plain_qty) + said.lots_of
    bought = np.arange(0, most + said.lots_of, said.lots_of, dtype=float)
    net = np.interp(bought, stops, paid) - brings * bought
    best_from = np.minimum.accumulate(net[::-1])[::-1]
    at_least = np.ceil(needs / said.lots_of).astype(int)
    return float(np.mean(best_from[at_least] + brings * needs))


def _with_more(seen: Standing) -> list[tuple[float, float]]:
    """The offers of a day, and as many as one wants at the price of the dearest."""
    return [*seen.asks, (seen.asks[-1][0], AS_MANY_AS_WANTED)]
