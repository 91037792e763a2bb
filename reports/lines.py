"""Traces and layouts that charts of lines share."""

from __future__ import annotations

from collections.abc import Sequence

from reports.page_parts import Figure, axis

COLOURS = {"solid": "@ask", "dash": "@bid", "dot": "@deal"}
"""Lines are told apart by their dash as well as by their colour."""

Numbers = Sequence[float] | Sequence[int] | Sequence[str]


def line(
    x: Numbers, y: Sequence[float | None], *, dash: str, hover: str, shape: str = "linear"
) -> dict[str, object]:
    """A line; where y is None it breaks off.

    Args:
        dash: "solid", "dash" or "dot"; its colour goes with it.
        hover: What is said of a point, as plotly.js writes it: "%{y:.4~g} shell".
        shape: "linear", or "hv" for steps.
    """
    return {
        "type": "scatter",
        "mode": "lines",
        "x": list(x),
        "y": list(y),
        "line": {"color": COLOURS[dash], "width": 2.5, "dash": dash, "shape": shape},
        "hovertemplate": f"{hover}<extra></extra>",
    }


def dots(
    x: Numbers, y: Sequence[float], *, colour: str, hover: str, size: int = 9
) -> dict[str, object]:
    """Marks without a line."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": list(x),
        "y": list(y),
        "cliponaxis": False,
        "marker": {"color": colour, "size": size},
        "hovertemplate": f"{hover}<extra></extra>",
    }


def band(
    x: Numbers, low: Sequence[float], high: Sequence[float], *, colour: str
) -> list[dict[str, object]]:
    """A filled stretch between two lines."""
    edge = {"color": "@clear", "width": 0, "shape": "hv"}
    shared = {"type": "scatter", "mode": "lines", "x": list(x), "line": edge, "hoverinfo": "skip"}
    return [
        {**shared, "y": list(low)},
        {**shared, "y": list(high), "fill": "tonexty", "fillcolor": colour},
    ]


def lines_figure(
    data: Sequence[dict[str, object]],
    *,
    x: dict[str, object],
    y: dict[str, object],
    marks: Sequence[tuple[dict[str, object], dict[str, object]]] = (),
) -> Figure:
    """A figure of lines.

    Args:
        x, y: Its axes, as `axis` has them.
        marks: Upright lines with their labels, as `upright` has them.
    """
    return {
        "data": list(data),
        "layout": {
            # room is fixed: left to itself plotly.js may try margins in turn without end
            "xaxis": {**x, "automargin": False},
            "yaxis": {**y, "automargin": False},
            "shapes": [each for each, _ in marks],
            "annotations": [each for _, each in marks],
            "margin": {"t": 14 + 17 * len(marks) if marks else 10, "r": 20, "b": 48, "l": 66},
            "showlegend": False,
            "hovermode": "closest",
        },
    }


def money_axis(title: str, values: Sequence[float]) -> dict[str, object]:
    """An axis that holds these values with a little room, so that flat lines are seen as flat."""
    low, high = min(values), max(values)
    room = 0.1 * (high - low) or 0.1 * abs(high) or 1.0
    bottom = max(0.0, low - room) if low >= 0 else low - room
    return axis(title, range=[bottom, high + room])


def days_axis(last: int) -> dict[str, object]:
    """An axis of days from today on."""
    step = max(1, -(-last // 8))
    ticks = list(range(0, last + 1, step))
    words = ["today" if day == 0 else str(day) for day in ticks]
    return axis("days from today", tickvals=ticks, ticktext=words, range=[-0.15, last + 0.15])


def count_axis(title: str, most: float) -> dict[str, object]:
    """An axis of whole numbers from 0 on."""
    whole = {"dtick": 1} if most <= 10 else {}
    return axis(title, range=[0, 1.02 * most or 1], **whole)
