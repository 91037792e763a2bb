"""An item's prices as tables: levels, forecasts, earlier seasons, every quote."""

from __future__ import annotations

from collections.abc import Sequence

from reports.cells import minute
from reports.page_parts import Column, Table
from reports.pages_data import Answer, EarlierSeason, ItemPage, LevelDot, QuoteDot

QUOTES_LISTED = 2000
"""A page lists the newest quotes, so many of them; the chart has all."""

QUANTILES = ("0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99")


def price_tables(item: ItemPage, money: str) -> tuple[Table, ...]:
    """Every number that the price chart draws, but the quotes."""
    tables = [levels_table(item.prices, money, caption="The levels that the forecast starts from")]
    for key, name in (("forecast", "ask"), ("sale_forecast", "sale")):
        ahead = item.prices.get(key) or ()
        if ahead:
            tables.append(_forecast_table(ahead, f"Forecast of the {name} level, in {money}"))
    if item.levels:
        tables.append(_levels_by_day(item.levels, money))
    tables += [_earlier_table(each, money) for each in item.earlier]
    return tuple(tables)


def levels_table(prices: Answer, money: str, *, caption: str = "Levels now") -> Table:
    """The three levels of an item."""
    headings = ("level", "standard deviation", "low 95 %", "high 95 %")
    rows: list[tuple[object, ...]] = []
    for side in ("ask", "bid", "sale"):
        level = prices.get(side) or {}
        rows.append((side, *(level.get(key) for key in ("level", "sd", "low_95", "high_95"))))
    columns = (Column("side"), *(Column(each, "number") for each in headings))
    return Table(f"{caption}, in {money}; bid and sale with the fee taken off", columns, rows)


def _forecast_table(ahead: Sequence[Answer], caption: str) -> Table:
    columns = (
        Column("days ahead", "number"),
        *(Column(f"{100 * float(key):g} % below", "number") for key in QUANTILES),
    )
    rows = [(each["days"], *(each["quantiles"].get(key) for key in QUANTILES)) for each in ahead]
    return Table(caption, columns, rows)


def _levels_by_day(levels: Sequence[LevelDot], money: str) -> Table:
    columns = (
        Column("day", "day"),
        *(Column(each, "number") for each in ("level", "low 95 %", "high 95 %")),
    )
    rows = [(dot.at, dot.level, dot.low_95, dot.high_95) for dot in reversed(levels)]
    return Table(f"The ask level day by day, newest first, in {money}", columns, rows)


def _earlier_table(season: EarlierSeason, money: str) -> Table:
    rows = list(zip(season.at, season.values, strict=True))
    columns = (Column("same day of this season", "day"), Column("ask level", "number"))
    return Table(f"{season.season}, in {money}", columns, rows)


def quotes_table(quotes: Sequence[QuoteDot], money: str) -> Table:
    """The quotes, newest first, with the reason where they do not count."""
    columns = (
        Column("seen (UTC)"),
        Column("side"),
        Column(f"price of one ({money})", "number"),
        Column("units", "number"),
        Column("trader"),
        Column("screened out because"),
    )
    rows = [
        (minute(each.at), each.side, each.value, each.qty, each.trader, each.screened)
        for each in quotes[: -QUOTES_LISTED - 1 : -1]
    ]
    return Table("Quotes, newest first", columns, rows)
