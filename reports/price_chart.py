"""An item's quotes, its level with its band, the seasons before, and what is ahead."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from advisor.figures import amount
from reports.findings import price_finding
from reports.page_parts import Chart, Figure, axis, plot_text
from reports.pages_data import Answer, EarlierSeason, ItemPage, LevelDot, QuoteDot
from reports.price_tables import price_tables

SIDES = {"ask": "circle", "bid": "diamond", "deal": "square"}
SIDE_WORDS = {"ask": "asked", "bid": "wanted", "deal": "dealt"}
DRAWN_ALL = 500
CELLS_WIDE, CELLS_HIGH = 160, 50
"""Quotes that fall into one cell of the plot, about the size of a mark, share one."""


def price_chart(item: ItemPage, *, money: str, as_of: str) -> Chart:
    """Quotes as marks, the level as a line in its band, the forecast as a fan."""
    low, high = _value_range(item)
    return Chart(
        name="price",
        finding=price_finding(item.prices, money),
        reading=_reading(item),
        figure=_figure(item, money=money, as_of=as_of, value_range=(low, high)),
        tables=price_tables(item, money),
        height_px=400,
        legend=_legend(item),
    )


def _reading(item: ItemPage) -> str:
    said = "Marks are quotes; the point with an upright bar is the ask level now in its 95 % band."
    if item.levels:
        said += " The line is the level as it was."
    if item.prices.get("forecast"):
        said += (
            " The fan ahead holds 9 of 10 futures, its darker part the stretch from 25 % to 80 %."
        )
    if any(quote.screened for quote in item.quotes):
        said += (
            " Crosses were screened out and do not count; "
            "one at the upper or lower edge lies beyond it."
        )
    return said


def _legend(item: ItemPage) -> list[tuple[str, str]]:
    counted = {quote.side for quote in item.quotes if quote.screened is None}
    legend = [(side, SIDE_WORDS[side]) for side in SIDES if side in counted]
    if any(quote.screened for quote in item.quotes):
        legend.append(("screened", "screened out"))
    if item.levels:
        legend.append(("level", "ask level"))
    if item.prices.get("forecast"):
        legend.append(("ahead", "forecast"))
    legend += [("earlier", f"{season.season}, same day") for season in item.earlier]
    return legend


def _figure(item: ItemPage, *, money: str, as_of: str, value_range: tuple[float, float]) -> Figure:
    low, high = value_range
    data = [
        *(_earlier_trace(each) for each in item.earlier),
        *_level_band(item.levels),
        *_fan_traces(item.prices, as_of),
        *_quote_traces(item.quotes, value_range=value_range),
        *_level_line(item.levels),
        *_level_now(item.prices, as_of),
    ]
    return {
        "data": data,
        "layout": {
            "xaxis": axis(type="date", tickformat="%-d %b"),
            "yaxis": axis(f"price of one ({money})", range=[low, high]),
            "margin": {"t": 8, "r": 16, "b": 32, "l": 48},
            "showlegend": False,
            "hovermode": "closest",
        },
    }


def _value_range(item: ItemPage) -> tuple[float, float]:
    """What the plot must hold: all that counts; what was screened may lie beyond."""
    values = [quote.value for quote in item.quotes if quote.screened is None]
    for dot in item.levels:
        values += [dot.low_95, dot.high_95]
    for each in item.prices.get("forecast") or ():
        values += [each["quantiles"][key] for key in ("0.05", "0.95") if each["quantiles"].get(key)]
    if item.prices.get("ask"):
        values += [item.prices["ask"]["low_95"], item.prices["ask"]["high_95"]]
    for season in item.earlier:
        values += season.values
    if not values:
        values = [quote.value for quote in item.quotes] or [0.0, 1.0]
    low, high = min(values), max(values)
    room = 0.08 * (high - low) or 0.1 * abs(high) or 1.0
    return max(0.0, low - room) if low >= 0 else low - room, high + room


def _earlier_trace(season: EarlierSeason) -> dict[str, object]:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": plot_text(season.season),
        "x": list(season.at),
        "y": list(season.values),
        "line": {"color": "@muted", "width": 1.2, "dash": "dot"},
        "hovertemplate": "%{y:.4~g}",
    }


def _level_band(levels: Sequence[LevelDot]) -> Iterable[dict[str, object]]:
    if not levels:
        return
    yield from _band(
        [dot.at for dot in levels],
        [dot.low_95 for dot in levels],
        [dot.high_95 for dot in levels],
        colour="@ask-soft",
    )


def _level_line(levels: Sequence[LevelDot]) -> Iterable[dict[str, object]]:
    if not levels:
        return
    yield {
        "type": "scatter",
        "mode": "lines",
        "name": "ask level",
        "x": [dot.at for dot in levels],
        "y": [dot.level for dot in levels],
        "line": {"color": "@ask", "width": 2.5},
        "hovertemplate": "level %{y:.4~g}<extra></extra>",
    }


def _band(
    at: Sequence[str], low: Sequence[float], high: Sequence[float], *, colour: str
) -> Iterable[dict[str, object]]:
    edge = {"color": "@clear", "width": 0}
    shared = {"type": "scatter", "mode": "lines", "x": list(at), "line": edge, "hoverinfo": "skip"}
    yield {**shared, "y": list(low)}
    yield {
        **shared,
        "y": list(high),
        "fill": "tonexty",
        "fillcolor": colour,
    }


def _fan_traces(prices: Answer, as_of: str) -> Iterable[dict[str, object]]:
    """The forecast of the ask level, from today's level on."""
    ask, ahead = prices.get("ask"), prices.get("forecast") or ()
    if not ask or not ahead:
        return
    at = [as_of, *(_days_after(as_of, each["days"]) for each in ahead)]

    def line(key: str, now: float) -> list[float | None]:
        return [now, *(each["quantiles"].get(key) for each in ahead)]

    for low, high, colour in (("0.05", "0.95", "@ahead-soft"), ("0.25", "0.8", "@ahead-mid")):
        lows, highs = line(low, ask["level"]), line(high, ask["level"])
        if None not in lows and None not in highs:
            yield from _band(at, lows, highs, colour=colour)  # type: ignore[arg-type]
    yield {
        "type": "scatter",
        "mode": "lines",
        "name": "as likely above as below",
        "x": at,
        "y": line("0.5", ask["level"]),
        "line": {"color": "@ahead", "width": 2, "dash": "dash"},
        "hovertemplate": "as likely above %{y:.4~g} as below<extra></extra>",
    }


def _days_after(at: str, days: float) -> str:
    return (datetime.fromisoformat(at) + timedelta(days=days)).isoformat()


def _level_now(prices: Answer, as_of: str) -> Iterable[dict[str, object]]:
    ask = prices.get("ask")
    if ask:
        yield {
            "type": "scatter",
            "mode": "markers",
            "name": "level now",
            "x": [as_of],
            "y": [ask["level"]],
            "error_y": {
                "type": "data",
                "symmetric": False,
                "array": [ask["high_95"] - ask["level"]],
                "arrayminus": [ask["level"] - ask["low_95"]],
                "color": "@ink",
                "thickness": 1.5,
                "width": 5,
            },
            "marker": {"color": "@ink", "size": 8},
            "hovertemplate": "level now %{y:.4~g}<extra></extra>",
        }


def _quote_traces(
    quotes: Sequence[QuoteDot], *, value_range: tuple[float, float]
) -> Iterable[dict[str, object]]:
    size = 7 if len(quotes) <= DRAWN_ALL else 4
    for side, symbol in SIDES.items():
        counted = [quote for quote in quotes if quote.side == side and quote.screened is None]
        if counted:
            marker = {"color": f"@{side}", "symbol": symbol, "size": size, "opacity": 0.75}
            yield _marks(counted, SIDE_WORDS[side], marker=marker, value_range=value_range)
    out = [quote for quote in quotes if quote.screened is not None]
    if out:
        marker = {"color": "@ink", "symbol": "x-thin", "size": size + 2}
        line = {"color": "@ink", "width": 1.6}
        yield _marks(out, "screened out", marker={**marker, "line": line}, value_range=value_range)


def _marks(
    quotes: Sequence[QuoteDot],
    name: str,
    *,
    marker: dict[str, object],
    value_range: tuple[float, float],
) -> dict[str, object]:
    low, high = value_range
    inset = 0.015 * (high - low)
    seen = _one_a_cell(quotes, value_range=value_range)
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": [quote.at for quote in seen],
        "y": [min(max(quote.value, low + inset), high - inset) for quote in seen],
        "marker": marker,
        "text": [_hover(quote) for quote in seen],
        "hovertemplate": "%{text}<extra></extra>",
    }


def _one_a_cell(quotes: Sequence[QuoteDot], *, value_range: tuple[float, float]) -> list[QuoteDot]:
    """The quotes to draw: where several would cover each other, the newest."""
    if len(quotes) <= DRAWN_ALL:
        return list(quotes)
    low, high = value_range
    times = [datetime.fromisoformat(quote.at).timestamp() for quote in quotes]
    first, span = min(times), max(max(times) - min(times), 1.0)
    by_cell = {
        (
            int(CELLS_WIDE * (time - first) / span),
            int(CELLS_HIGH * (quote.value - low) / (high - low)),
        ): quote
        for time, quote in zip(times, quotes, strict=True)
    }
    return list(by_cell.values())


def _hover(quote: QuoteDot) -> str:
    words = [f"{amount(quote.value)} {SIDE_WORDS[quote.side]}", quote.at[:10]]
    if quote.qty is not None:
        words.append(f"{quote.qty} units")
    if quote.trader:
        words.append(quote.trader)
    if quote.screened:
        words.append(f"screened out: {quote.screened}")
    return "<br>".join(plot_text(word) for word in words)
