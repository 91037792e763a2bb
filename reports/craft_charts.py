"""What the cost is made of, where the answer flips, and how the routes compare."""

from __future__ import annotations

import math
from collections.abc import Sequence

from advisor.figures import amount, percent
from reports.findings import (
    break_even_finding,
    flip_name,
    flip_value,
    parts_finding,
    routes_finding,
    signed_percent,
)
from reports.page_parts import Chart, Column, Table, axis, row_label, rows_axis, upright
from reports.pages_data import Answer, CostPart

WIDEST_CHANGE = 1.2
TICK_STEPS = (0.01, 0.02, 0.05, 0.1, 0.25, 0.5)
PARTS_DRAWN = 14


def parts_chart(parts: Sequence[CostPart], money: str) -> Chart:
    """Bars of the mean cost by item; what comes back points the other way."""
    drawn = sorted(parts, key=lambda part: -abs(part.mean_cost))[:PARTS_DRAWN]
    names = [row_label(part.item, _part_label(part)) for part in drawn]
    back = [part.mean_cost < 0 for part in drawn]
    left = len(parts) - len(drawn)
    rest = f", and the {left} smallest that are in the table only," if left else ""
    reading = f"Mean units times the price of one. All bars together{rest} are the mean cost."
    if any(back):
        reading += " Striped bars come back and are taken off."
    return Chart(
        name="parts",
        finding=parts_finding(parts, money),
        reading=reading,
        figure={
            "data": [
                {
                    "type": "bar",
                    "orientation": "h",
                    "x": [part.mean_cost for part in drawn],
                    "y": list(range(len(drawn))),
                    "hovertext": names,
                    "marker": {
                        "color": ["@deal-soft" if each else "@ask" for each in back],
                        "pattern": {"shape": ["/" if each else "" for each in back]},
                    },
                    "hovertemplate": "%{hovertext}<extra></extra>",
                },
            ],
            "layout": {
                "xaxis": axis(f"mean cost ({money})"),
                "yaxis": rows_axis(names),
                "margin": {"t": 8, "r": 16, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_parts_table(parts, money),),
        height_px=80 + 42 * len(drawn),
    )


def _part_label(part: CostPart) -> str:
    """The number of one bar; two parts of one item must not get the same label and row."""
    said = amount(part.mean_cost, digits=3)
    if part.share is not None:
        sign = "-" if part.share <= -0.0005 else ""
        said += f" ({sign}{percent(abs(part.share))})"
    return f"{said}, {part.kind}" if part.kind == "comes back" else said


def _parts_table(parts: Sequence[CostPart], money: str) -> Table:
    return Table(
        "What the mean cost is made of",
        (
            Column("item", "item"),
            Column(""),
            Column("mean units", "number"),
            Column(f"price of one ({money})", "number"),
            Column(f"mean cost ({money})", "number"),
            Column("share", "share"),
        ),
        [
            (part.item, part.kind, part.mean_units, part.unit_price, part.mean_cost, part.share)
            for part in parts
        ],
    )


def break_even_chart(craft: Answer) -> Chart | None:
    """How far each price or odds has to move, alone, until the answer flips; None if none does."""
    flips = [each for each in craft.get("break_even", ()) if each.get("change") is not None]
    if not flips:
        return None
    flips.sort(key=lambda each: abs(each["change"]))
    changes = [float(each["change"]) for each in flips]
    shown = [max(-1.0, min(WIDEST_CHANGE, change)) for change in changes]
    far = [change != each for change, each in zip(changes, shown, strict=True)]
    names = [row_label(flip_name(each), _flip_words(each)) for each in flips]
    reading = (
        "The line in the middle is today. Each mark is where this one price or these odds, moved "
        "alone, would make buying and making even; the nearer, the shakier the answer."
    )
    if any(far):
        reading += " An arrow stands for a mark beyond the edge."
    return Chart(
        name="break-even",
        finding=break_even_finding(craft),
        reading=reading,
        figure={
            "data": [_stems(shown), _marks(names, shown, far=far)],
            "layout": {
                "xaxis": axis(
                    "change from today",
                    **_change_ticks(shown),
                    zeroline=True,
                    zerolinewidth=2,
                    zerolinecolor="@ink",
                ),
                "yaxis": rows_axis(names),
                "margin": {"t": 8, "r": 24, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_flips_table(flips, craft["money"]),),
        height_px=80 + 42 * len(flips),
    )


def _stems(shown: Sequence[float]) -> dict[str, object]:
    xs: list[float | None] = []
    ys: list[int | None] = []
    for row, change in enumerate(shown):
        xs += [0.0, change, None]
        ys += [row, row, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "x": xs,
        "y": ys,
        "line": {"color": "@ask-soft", "width": 6},
        "hoverinfo": "skip",
    }


def _marks(
    names: Sequence[str], shown: Sequence[float], *, far: Sequence[bool]
) -> dict[str, object]:
    arrows = ["triangle-right" if each > 0 else "triangle-left" for each in shown]
    return {
        "type": "scatter",
        "mode": "markers",
        "x": list(shown),
        "y": list(range(len(shown))),
        "hovertext": list(names),
        "cliponaxis": False,
        "marker": {
            "color": "@ask",
            "size": 12,
            "symbol": [
                arrow if away else "circle" for arrow, away in zip(arrows, far, strict=True)
            ],
        },
        "hovertemplate": "%{hovertext}<extra></extra>",
    }


def _flip_words(flip: Answer) -> str:
    return f"even at {flip_value(flip, 'flips_at')} ({signed_percent(flip['change'])})"


def _change_ticks(shown: Sequence[float]) -> dict[str, object]:
    """The range of the axis and a handful of round marks on it, today in the middle."""
    low, high = min(0.0, *shown), max(0.0, *shown)
    room = 0.08 * max(high - low, 0.02)
    step = next((each for each in TICK_STEPS if (high - low) / each <= 5), TICK_STEPS[-1])
    ticks = [
        step * at for at in range(math.ceil((low - room) / step), 1 + int((high + room) / step))
    ]
    words = ["today" if not each else signed_percent(each) for each in ticks]
    return {"range": [low - room, high + room], "tickvals": ticks, "ticktext": words}


def _flips_table(flips: Sequence[Answer], money: str) -> Table:
    rows = [
        (
            flip_name(each),
            flip_value(each, "now"),
            flip_value(each, "flips_at"),
            signed_percent(each["change"]),
        )
        for each in flips
    ]
    headings = ("what moves", f"now ({money}, or odds)", "even at", "change")
    return Table("Where the answer flips", tuple(Column(each) for each in headings), rows)


def routes_chart(craft: Answer) -> Chart | None:
    """Each route's mean cost with its standard deviation; None where there are not two."""
    routes = craft["routes"]
    if len(routes) < 2:
        return None
    money, price = craft["money"], (craft.get("buy") or {}).get("level")
    names = [row_label(each["route"], amount(each["mean"])) for each in routes]
    shapes, labels = [], []
    if price is not None and craft.get("for") != "sale":
        line, label = upright(price, f"to buy {amount(price)}", colour="@bid", dash="dash", level=0)
        middle = (min(each["mean"] for each in routes) + max(each["mean"] for each in routes)) / 2
        shapes.append(line)
        labels.append({**label, "xanchor": "right" if price > middle else "left"})
    return Chart(
        name="routes",
        finding=routes_finding(craft),
        reading=(
            "The mark is the mean cost; the line reaches one standard deviation to each side, "
            "luck included: so much do evenings differ."
        ),
        figure={
            "data": [
                {
                    "type": "scatter",
                    "mode": "markers",
                    "x": [each["mean"] for each in routes],
                    "y": list(range(len(routes))),
                    "hovertext": names,
                    "error_x": {
                        "type": "data",
                        "array": [each.get("sd") or 0.0 for each in routes],
                        "color": "@ask",
                        "thickness": 2,
                        "width": 6,
                    },
                    "marker": {"color": "@ask", "size": 11},
                    "hovertemplate": "%{hovertext}<extra></extra>",
                    "cliponaxis": False,
                }
            ],
            "layout": {
                "xaxis": axis(f"mean cost ({money})"),
                "yaxis": rows_axis(names),
                "shapes": shapes,
                "annotations": labels,
                "margin": {"t": 32, "r": 24, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_routes_table(craft),),
        height_px=110 + 46 * len(routes),
    )


def _routes_table(craft: Answer) -> Table:
    money = craft["money"]
    return Table(
        "The routes, cheapest first",
        (
            Column("route"),
            Column(f"mean cost ({money})", "number"),
            Column(f"standard deviation ({money})", "number"),
            Column("chance that it is cheapest", "share"),
        ),
        [
            (each["route"], each["mean"], each.get("sd"), each.get("chance_cheapest"))
            for each in craft["routes"]
        ],
    )
