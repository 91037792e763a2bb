"""What really stood in the market: the asks last seen together, day by day, from the book."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from advisor.decide.replay.standing import MarketDay, Standing
from advisor.levels.ladders import LONGEST_LOOK_US, TOGETHER_US
from advisor.levels.series import ASK, BID, DEAL

if TYPE_CHECKING:
    from advisor.levels.item_levels import ItemLevels
    from advisor.levels.series import QuoteSeries
    from advisor.tasks.pricing import Pricing

KEPT_DAYS = 7
"""Asks that nobody looked at again count for so many days more."""

Offers = tuple[tuple[float, float], ...]
"""(unit price in the workspace money, units) of asks seen together, cheapest first."""


def read_market_days(
    pricing: Pricing, ends_us: Sequence[int], *, own: Collection[int] = ()
) -> list[MarketDay]:
    """What stood on each day, in the light of all that is known at the pricing's moment.

    Quotes that are not believed are left out, and so are one's own. Moneys stand at
    their rate at the end of the day.

    Args:
        ends_us: The last moment of each day, ascending.
        own: Codes of traders that are oneself.
    """
    days: list[dict[str, Standing]] = [{} for _ in ends_us]
    for item, series in pricing.series.items():
        levels = pricing.levels(item)
        if levels is not None and pricing.market.rates.now(item) is None:
            for day, standing in _standing_days(series, levels, ends_us, own):
                days[day][item] = standing
    for money in pricing.market.rates.moneys:
        logs, spread = pricing.market.rates.log_rate(money, np.array(ends_us))
        for day, (log_rate, var) in enumerate(zip(logs, spread, strict=True)):
            if np.isfinite(var):
                days[day][money] = Standing(((float(np.exp(log_rate)), np.inf),))
    return list(days)


def last_offers(
    series: QuoteSeries, values: Mapping[int, float], *, own: Collection[int] = ()
) -> Offers:
    """The asks last seen together, every one of them believed; empty where there are none."""
    rows = np.flatnonzero((series.side == ASK) & ~np.isin(series.trader, list(own)))
    return _offers(series, _last_look(series, rows), values)


def _standing_days(
    series: QuoteSeries, levels: ItemLevels, ends_us: Sequence[int], own: Collection[int]
) -> Iterator[tuple[int, Standing]]:
    believed = ~np.isin(series.ids, list(levels.screened)) & ~np.isin(series.trader, list(own))
    day_of = np.searchsorted(np.array(ends_us), series.at_us)
    asks = np.flatnonzero(believed & (series.side == ASK))
    seen: tuple[int, Offers] | None = None
    before = _before(series, asks, levels, ends_us)
    for day in range(len(ends_us)):
        today = asks[(day_of[asks] == day) & (series.at_us[asks] > _start_us(ends_us, day))]
        offers = _offers(series, _last_look(series, today), levels.values)
        if offers:
            seen = (day, offers)
        elif seen is None and before is not None and day - before[0] <= KEPT_DAYS:
            seen = before
        if seen is None or day - seen[0] > KEPT_DAYS:
            continue
        bids, deals = (
            _values_on(series, believed & (series.side == side) & (day_of == day), levels)
            for side in (BID, DEAL)
        )
        yield (
            day,
            Standing(seen[1], max(bids, default=None), max(deals, default=None), bool(offers)),
        )


def _start_us(ends_us: Sequence[int], day: int) -> int:
    """The last moment before a day; before the first day, a day's length before its end."""
    return ends_us[day - 1] if day else ends_us[0] - 86_400_000_000


def _before(
    series: QuoteSeries, asks: np.ndarray, levels: ItemLevels, ends_us: Sequence[int]
) -> tuple[int, Offers] | None:
    """The asks last seen before the first day, and the number (negative) of their day."""
    start = _start_us(ends_us, 0)
    earlier = asks[: bisect_left(series.at_us[asks].tolist(), start + 1)]
    look = _last_look(series, earlier)
    offers = _offers(series, look, levels.values)
    if not offers:
        return None
    days_ago = (start - int(series.at_us[look[-1]])) // 86_400_000_000
    return -1 - days_ago, offers


def _last_look(series: QuoteSeries, rows: np.ndarray) -> np.ndarray:
    """Of these rows, ascending in time, the last ones that were seen together."""
    first = len(rows) - 1
    while (
        first > 0
        and series.at_us[rows[first]] - series.at_us[rows[first - 1]] <= TOGETHER_US
        and series.at_us[rows[-1]] - series.at_us[rows[first - 1]] <= LONGEST_LOOK_US
    ):
        first -= 1
    return rows[max(first, 0) :]


def _offers(series: QuoteSeries, rows: np.ndarray, values: Mapping[int, float]) -> Offers:
    found = []
    for row in rows.tolist():
        value, units = values.get(int(series.ids[row])), float(series.qty[row])
        if value is not None and value > 0:
            found.append((value, np.inf if np.isnan(units) else units))
    return tuple(sorted(found))


def _values_on(series: QuoteSeries, chosen: np.ndarray, levels: ItemLevels) -> list[float]:
    ids = series.ids[chosen].tolist()
    return [levels.values[each] for each in ids if each in levels.values]
