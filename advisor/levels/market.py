"""Price now and price ahead of every item, from quotes alone.

    quotes -> valued (rates) -> looks (screened, ladders read) -> tracks
           -> filter with learned noise -> levels, forecasts

What an item's levels depend on: its own quotes up to `as_of_us`, the quotes
of every money, the quotes of the items of its family (an item without one
stands alone), the settings, and `as_of_us` itself. Nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.levels.assembling import Assembly
from advisor.levels.item_levels import ItemLevels, SideLooks
from advisor.levels.rates import Rates, read_rates
from advisor.levels.remembering import LevelMemory, follow_families
from advisor.levels.series import ASK, MarketSettings, QuoteSeries
from advisor.levels.shared_movement import SharedMovement, find_shared_movement
from advisor.levels.valuing import value_quotes

FORECAST_DAYS = (1, 3, 7, 14)


class ItemsByName(Mapping[str, ItemLevels]):
    """The levels of each item, put together when first asked for."""

    def __init__(self, assembly: Assembly) -> None:
        self._assembly = assembly
        self._ready: dict[str, ItemLevels] = {}

    def __getitem__(self, item: str) -> ItemLevels:
        if item not in self._ready:
            self._ready[item] = self._assembly.item_levels(item)
        return self._ready[item]

    def __iter__(self) -> Iterator[str]:
        return iter(self._assembly.names)

    def __len__(self) -> int:
        return len(self._assembly.names)

    def looks(self, item: str, side: int = ASK) -> SideLooks | None:
        """What the filter saw of one side of an item, for pictures and second opinions."""
        return self._assembly.looks(item, side)

    def __contains__(self, item: object) -> bool:
        return item in self._assembly.known


@dataclass(frozen=True, eq=False)
class Market:
    """Every item's prices at one moment, valued in one money.

    Attributes:
        money, as_of_us: What everything is valued in, and when.
        items: `ItemLevels` by name, of every item asked for.
        rates: Every money in the workspace money, at any moment.
        unreachable: Items with quotes in a money that no chain of rates leads from.
        cautions: What the user should know, in sentences.
        shared: What moves many prices together.
    """

    money: str
    as_of_us: int
    items: ItemsByName
    rates: Rates
    unreachable: tuple[str, ...]
    cautions: tuple[str, ...]
    shared: SharedMovement


def level_market(
    series: Mapping[str, QuoteSeries],
    *,
    settings: MarketSettings,
    as_of_us: int,
    items: Sequence[str] | None = None,
    days: Sequence[int] = FORECAST_DAYS,
    memory: LevelMemory | None = None,
) -> Market:
    """The levels of the items as known at a moment; later quotes are never looked at.

    Args:
        series: Quotes by item. Give every item of the families asked for, and every
            money, even where `items` names fewer: they lend spread and rates.
        settings: Money, fee, seasons, families, overruled quotes.
        as_of_us: The moment of the answer.
        items: Names to answer for, known to `series` or moneys; None: all.
        days: Days ahead of the forecasts.
        memory: What was followed before; None: everything is followed anew.
    Returns: The market; an item is put together only when it is looked at.
    """
    rates = read_rates(series, settings.money, as_of_us=as_of_us, left_out=settings.left_out)
    names = sorted(set(series) | set(rates.moneys))
    quotes = value_quotes(series, sorted(set(series) - {settings.money}), rates=rates)
    parts = follow_families(quotes, settings=settings, rates=rates, memory=memory)
    wanted = names if items is None else list(dict.fromkeys(items))
    assembly = Assembly(parts, settings=settings, rates=rates, days=tuple(days), names=wanted)
    unreachable = quotes.unreachable()
    return Market(
        money=settings.money,
        as_of_us=as_of_us,
        items=ItemsByName(assembly),
        rates=rates,
        unreachable=unreachable,
        cautions=_write_cautions(rates, unreachable),
        shared=find_shared_movement(quotes, rates=rates),
    )


def _write_cautions(rates: Rates, unreachable: Sequence[str]) -> tuple[str, ...]:
    lines = []
    if unreachable:
        lines.append(
            f"no rate leads to {rates.money} from the money of some quotes of "
            f"{', '.join(unreachable)}; they are left out until a rate is quoted"
        )
    for circle in rates.circles():
        road = ", then ".join((*circle.moneys[1:], circle.moneys[0]))
        lines.append(
            f"the rates do not close: from {circle.moneys[0]} to {road} wins "
            f"{100 * circle.gain:.0f} %; one of the rates is out of date or wrong"
        )
    return tuple(lines)


def prices_json(market: Market, items: Sequence[str] | None = None) -> dict[str, object]:
    """The prices of items as the JSON contract has them: nothing NaN, null where unknown."""
    names = list(market.items) if items is None else list(items)
    return {
        "money": market.money,
        "as_of": _write_time(market.as_of_us),
        "items": [_item_json(market.items[name]) for name in names],
    }


def _item_json(levels: ItemLevels) -> dict[str, object]:
    def level_json(side: str) -> dict[str, float] | None:
        level = getattr(levels, side)
        if level is None:
            return None
        return {key: getattr(level, key) for key in ("level", "sd", "low_95", "high_95")}

    def forecast_json(name: str) -> list[dict[str, object]]:
        rows = getattr(levels, name)
        return [{"days": days, "quantiles": dict(quantiles)} for days, quantiles in rows]

    return {
        "item": levels.item,
        "family": levels.family,
        "ask": level_json("ask"),
        "bid": level_json("bid"),
        "sale": level_json("sale"),
        "quotes": levels.quotes,
        "screened": levels.screened_quotes,
        "newest": None if levels.newest_us is None else _write_time(levels.newest_us),
        "trend_per_day": levels.trend_per_day,
        "day_of_season": levels.day_of_season,
        "forecast": forecast_json("forecast"),
        "sale_forecast": forecast_json("sale_forecast"),
    }


def _write_time(at_us: int) -> str:
    """RFC 3339, UTC, without a fraction that is zero."""
    seconds, fraction = divmod(int(at_us), 1_000_000)
    text = str(np.datetime64(seconds, "s"))
    return f"{text}.{fraction:06d}Z" if fraction else f"{text}Z"
