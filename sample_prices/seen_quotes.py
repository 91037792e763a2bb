"""Quotes as somebody walking the market would have noted them, scattered about the truth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from fractions import Fraction

import numpy as np

from sample_prices.town import GAPS, GOODS, NOTES, TRADERS, Good, Season, spread_of
from sample_prices.true_levels import Levels


@dataclass(frozen=True)
class Seen:
    """One row to be written: local time, exact price text, and the fault planted in it, if any."""

    at: datetime
    item: str
    price: str
    money: str
    side: str
    qty: int
    trader: str
    source: str
    note: str = ""
    fault: str | None = None


@dataclass(frozen=True)
class Market:
    """One season's truth and the dice its quotes are thrown with."""

    season: Season
    levels: Levels
    random: np.random.RandomState

    def moment(self, day: int) -> datetime:
        """A minute of that day when the market is open (local time)."""
        minute = int(self.random.triangular(8 * 60, 20 * 60, 23 * 60))
        date = self.season.first_day + timedelta(days=day)
        return datetime.combine(date, time(minute // 60, minute % 60))

    def pick(self, names: tuple[str, ...]) -> str:
        """One of the names, each as likely as any other."""
        return names[int(self.random.randint(len(names)))]

    def stray(self, good: Good) -> float:
        """How far one quote is off, as a factor: mostly little, now and then much."""
        size = spread_of(good).stray * self.random.standard_t(5) * 0.8
        return float(np.exp(np.clip(size, -0.25, 0.25)))


def see_season(market: Market, sources: tuple[tuple[str, float], ...]) -> list[Seen]:
    """All honest quotes of a season, oldest first.

    Args:
        sources: Where quotes are noted, each with its share.
    """
    rows: list[Seen] = []
    places = tuple(name for name, _ in sources)
    shares = [share for _, share in sources]
    for day in range(market.season.days_seen):
        for good in GOODS:
            if nobody_looked(market.season, good, day):
                continue
            for _ in range(int(market.random.poisson(good.seen_per_day))):
                place = places[int(market.random.choice(len(places), p=shares))]
                rows += _see_once(market, good, day, place=place)
    return sorted(rows, key=lambda row: (row.at, row.item, row.source))


def nobody_looked(season: Season, good: Good, day: int) -> bool:
    """Whether this good went unseen on that day."""
    return any(
        name == season.name and item in (None, good.name) and first <= day <= last
        for name, item, first, last in GAPS
    )


def _see_once(market: Market, good: Good, day: int, *, place: str) -> list[Seen]:
    throw = market.random.random_sample()
    if throw < 0.16 and good.usual_qty > 1:
        return see_ladder(market, good, day, place=place)
    side = "ask" if throw < 0.58 else ("deal" if throw < 0.82 else "bid")
    level = market.levels[good.name][day] * side_factor(good, side) * market.stray(good)
    qty = whole_lots(good, good.usual_qty * market.random.uniform(0.3, 1.6))
    return [write_down(market, good, day, value=level, side=side, qty=qty, place=place)]


def side_factor(good: Good, side: str) -> float:
    """Where this side stands beside the level."""
    spread = spread_of(good)
    return {"ask": spread.ask, "deal": spread.sale, "bid": spread.bid}[side]


def see_ladder(market: Market, good: Good, day: int, *, place: str) -> list[Seen]:
    """The asks standing at one moment, cheapest first.

    The rungs are scaled so that `usual_qty` units, bought from the cheapest
    upwards, cost the day's ask level on average (times one stray factor).
    """
    rungs = int(market.random.randint(3, 7))
    rises = np.cumsum(market.random.exponential(0.025, rungs)) + 1.0
    wanted = good.usual_qty * market.random.uniform(0.2, 0.9, rungs)
    qtys = np.array([whole_lots(good, units) for units in wanted])
    bought = np.clip(good.usual_qty - (np.cumsum(qtys) - qtys), 0, qtys)
    unit = float(rises @ bought) / float(bought.sum())
    top = market.levels[good.name][day] * side_factor(good, "ask") * market.stray(good)
    money = choose_money(market, good)
    at = market.moment(day)
    traders = market.random.permutation(len(TRADERS))[:rungs]
    return [
        Seen(
            at,
            good.name,
            price_text(top * rise / unit / rate(market, money, day)),
            money,
            "ask",
            int(qty),
            TRADERS[int(trader)],
            place,
        )
        for rise, qty, trader in zip(rises, qtys, traders, strict=True)
    ]


def write_down(
    market: Market, good: Good, day: int, *, value: float, side: str, qty: int, place: str
) -> Seen:
    """One quote of `value` shell a unit, in the money it is usually named in."""
    money = choose_money(market, good)
    amount = value / rate(market, money, day)
    lots = market.random.random_sample() < 0.05 and 0.5 < amount < 12 and good.usual_qty >= 6
    note = market.pick(NOTES) if market.random.random_sample() < 0.06 else ""
    return Seen(
        market.moment(day),
        good.name,
        lot_text(amount) if lots else price_text(amount),
        money,
        side,
        qty,
        market.pick(TRADERS),
        place,
        note,
    )


def whole_lots(good: Good, units: float) -> int:
    """About so many units, at least one, in the lots the good is sold in."""
    return max(1, int(units / good.lots_of)) * good.lots_of


def choose_money(market: Market, good: Good) -> str:
    """Shell for small goods, crown for most dear ones."""
    return "crown" if market.random.random_sample() < good.in_crowns else "shell"


def rate(market: Market, money: str, day: int) -> float:
    """Shell for one of this money on that day."""
    return float(market.levels["crown"][day]) if money == "crown" else 1.0


def price_text(amount: float) -> str:
    """A price as people round it: the dearer, the coarser."""
    steps = ((2, "0.01"), (20, "0.05"), (100, "0.5"))
    unit = Fraction(next((step for limit, step in steps if amount < limit), "1"))
    text = f"{float(max(1, round(Fraction(amount) / unit)) * unit):.2f}"
    return text.rstrip("0").rstrip(".")


def lot_text(amount: float) -> str:
    """A price for several units at once: "7/3" is seven for three."""
    units = next(n for n in (3, 6, 12, 24) if n * amount >= 10)
    return f"{round(units * amount)}/{units}"
