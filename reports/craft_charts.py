"""What the cost is made of, where the answer flips, and how the routes compare."""

from __future__ import annotations

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
from reports.page_parts import Chart, Column, Table, axis, plot_text, upright
from reports.pages_data import Answer, CostPart

WIDEST_CHANGE = 1.2
PARTS_DRAWN = 14


def parts_chart(parts: Sequence[CostPart], money: str) -> Chart:
    """Bars of the mean cost by item; what comes back points the other way."""
    drawn = sorted(parts, key=lambda part: -abs(part.mean_cost))[:PARTS_DRAWN]
    names = [plot_text(_part_name(part)) for part in drawn]
    back = [part.mean_cost < 0 for part in drawn]
    reading = "Mean units times the price of one. All bars together are the mean cost."
    if any(back):
        reading += " Striped bars come back and are taken off."
    if len(drawn) < len(parts):
        reading += f" The {len(parts) - len(drawn)} smallest are in the table only."
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
                    "y": names,
                    "text": [_part_label(part) for part in drawn],
                    "textposition": "auto",
                    "cliponaxis": False,
                    "marker": {
                        "color": ["@deal-soft" if each else "@ask" for each in back],
                        "pattern": {"shape": ["/" if each else "" for each in back]},
                    },
                    "hovertemplate": "%{y}: %{text}<extra></extra>",
                }
            ],
            "layout": {
                "xaxis": axis(f"mean cost ({money})"),
                "yaxis": axis(autorange="reversed", ticklabelstandoff=6),
                "margin": {"t": 8, "r": 56, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_parts_table(parts, money),),
        height_px=90 + 34 * len(drawn),
    )


def _part_name(part: CostPart) -> str:
    return part.item if part.kind == "used" else f"{part.item} ({part.kind})"


def _part_label(part: CostPart) -> str:
    return amount(part.mean_cost, digits=3) + (
        "" if part.share is None else f" ({percent(part.share)})"
    )


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
    names = [plot_text(flip_name(each)) for each in flips]
    changes = [float(each["change"]) for each in flips]
    shown = [max(-1.0, min(WIDEST_CHANGE, change)) for change in changes]
    far = [change != each for change, each in zip(changes, shown, strict=True)]
    words = [
        f"{signed_percent(each)}: {flip_value(flip, 'flips_at')}"
        for each, flip in zip(changes, flips, strict=True)
    ]
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
            "data": [_stems(names, shown), _marks(names, shown, far=far, words=words)],
            "layout": {
                "xaxis": axis(
                    "change from today",
                    tickformat="+.0%",
                    range=_padded(shown),
                    zeroline=True,
                    zerolinewidth=2,
                    zerolinecolor="@ink",
                ),
                "yaxis": axis(autorange="reversed", ticklabelstandoff=6),
                "margin": {"t": 8, "r": 24, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_flips_table(flips, craft["money"]),),
        height_px=90 + 36 * len(flips),
    )


def _stems(names: Sequence[str], shown: Sequence[float]) -> dict[str, object]:
    xs: list[float | None] = []
    ys: list[str | None] = []
    for name, change in zip(names, shown, strict=True):
        xs += [0.0, change, None]
        ys += [name, name, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "x": xs,
        "y": ys,
        "line": {"color": "@ask-soft", "width": 6},
        "hoverinfo": "skip",
    }


def _marks(
    names: Sequence[str], shown: Sequence[float], *, far: Sequence[bool], words: Sequence[str]
) -> dict[str, object]:
    right = ["triangle-right" if each > 0 else "triangle-left" for each in shown]
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": list(shown),
        "y": list(names),
        "text": list(words),
        "textposition": ["middle right" if each > 0 else "middle left" for each in shown],
        "cliponaxis": False,
        "marker": {
            "color": "@ask",
            "size": 12,
            "symbol": [arrow if away else "circle" for arrow, away in zip(right, far, strict=True)],
        },
        "hovertemplate": "%{y}: %{text}<extra></extra>",
    }


def _padded(shown: Sequence[float]) -> list[float]:
    """The range of the axis, with room for the words beside the marks."""
    low, high = min(0.0, *shown), max(0.0, *shown)
    room = 0.55 * max(high - low, 0.1)
    return [low - (room if low < 0 else 0.05), high + (room if high > 0 else 0.05)]


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
    """Each route's mean cost with its standard deviation; None where there is none to compare."""
    routes = craft["routes"]
    if not routes:
        return None
    money, price = craft["money"], (craft.get("buy") or {}).get("level")
    shapes, labels = [], []
    if price is not None and craft.get("for") != "sale":
        line, label = upright(price, f"to buy {amount(price)}", colour="@bid", dash="dash", level=0)
        middle = (min(each["mean"] for each in routes) + max(each["mean"] for each in routes)) / 2
        shapes.append(line)
        labels.append({**label, "xanchor": "right" if price > middle else "left"})
    return Chart(
        name="routes",
        finding=routes_finding(craft),
        reading="The mark is the mean cost; the line reaches one standard deviation to each side.",
        figure={
            "data": [
                {
                    "type": "scatter",
                    "mode": "markers+text",
                    "x": [each["mean"] for each in routes],
                    "y": [plot_text(each["route"]) for each in routes],
                    "text": [amount(each["mean"]) for each in routes],
                    "textposition": "top center",
                    "error_x": {
                        "type": "data",
                        "array": [each.get("sd") or 0.0 for each in routes],
                        "color": "@ask",
                        "thickness": 2,
                        "width": 6,
                    },
                    "marker": {"color": "@ask", "size": 11},
                    "hovertemplate": "%{y}: %{text}<extra></extra>",
                    "cliponaxis": False,
                }
            ],
            "layout": {
                "xaxis": axis(f"mean cost ({money})"),
                "yaxis": axis(autorange="reversed", ticklabelstandoff=6, type="category"),
                "shapes": shapes,
                "annotations": labels,
                "margin": {"t": 32, "r": 24, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(_routes_table(craft),),
        height_px=120 + 52 * len(routes),
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
