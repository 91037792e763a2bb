"""What a page is put together from: tables, charts and the cells in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

LONGEST_LABEL = 24

Figure = Mapping[str, Any]
"""`data` and `layout` as plotly.js takes them; a colour "@ask" is the style sheet's --ask."""


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes:
        heading: What stands above it, with the unit.
        kind: How its cells are read: "text", "number", "share", "time", "item" or "piece".
    """

    heading: str
    kind: str = "text"


@dataclass(frozen=True)
class Table:
    """A table; a cell that is None says that there is no such number."""

    caption: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[object]]


@dataclass(frozen=True)
class Fact:
    """One number that stands large at the head of a page.

    Attributes:
        label: What it is.
        key: Where it stands in the JSON answer, with dots.
        value: The number, or None.
        kind: "number" or "share".
        give_or_take: Its standard deviation, or None.
    """

    label: str
    key: str
    value: float | None
    kind: str = "number"
    give_or_take: float | None = None


@dataclass(frozen=True)
class Chart:
    """A chart, what it shows in one sentence, and all its numbers.

    Attributes:
        name: Unique on its page, fit for an id.
        finding: The sentence that is its title.
        reading: How to read it, a caption.
        figure: What to draw.
        tables: Every number that is drawn.
        height_px: Height on screen.
        legend: What the marks stand for, as (CSS class of the mark, words).
    """

    name: str
    finding: str
    reading: str
    figure: Figure
    tables: Sequence[Table]
    height_px: int = 320
    legend: Sequence[tuple[str, str]] = ()


def plot_text(text: str) -> str:
    """A user's words as plotly.js shows them literally: its texts know a few HTML tags.

    >>> plot_text('<a href="x">free</a> & more')
    '&lt;a href="x"&gt;free&lt;/a&gt; &amp; more'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def row_label(name: str, value: str) -> str:
    """What stands beside one row of a chart: its name, and its number on a line below."""
    short = name if len(name) <= LONGEST_LABEL else f"{name[: LONGEST_LABEL - 1].rstrip()}…"
    return f"{plot_text(short)}<br>{plot_text(value)}"


def axis(title: str | None = None, **more: object) -> dict[str, object]:
    """An axis in the house style: quiet lines, no zooming, room made for its labels."""
    drawn: dict[str, object] = {
        "gridcolor": "@line",
        "linecolor": "@line",
        "zerolinecolor": "@line",
        "fixedrange": True,
        "automargin": True,
        **more,
    }
    if title:
        drawn["title"] = {"text": plot_text(title), "standoff": 10}
    return drawn


def rows_axis(labels: Sequence[str]) -> dict[str, object]:
    """The y axis of a chart with one row a label, from top to bottom; the rows are 0, 1, 2..."""
    return axis(
        tickvals=list(range(len(labels))),
        ticktext=list(labels),
        range=[len(labels) - 0.5, -0.5],
        ticklabelstandoff=6,
        zeroline=False,
    )


def upright(
    at: float, text: str, *, colour: str, dash: str, level: int
) -> tuple[dict[str, object], dict[str, object]]:
    """An upright line over the whole plot and its label above the plot.

    Args:
        at: Where on the x axis.
        text: The label.
        colour, dash: As plotly.js takes them.
        level: Which line of text above the plot, 0 lowest, so that labels never meet.
    """
    line = {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": at,
        "x1": at,
        "y0": 0,
        "y1": 1,
        "line": {"color": colour, "width": 2, "dash": dash},
    }
    label = {
        "x": at,
        "xref": "x",
        "y": 1,
        "yref": "paper",
        "yanchor": "bottom",
        "xanchor": "left",
        "yshift": 2 + 16 * level,
        "showarrow": False,
        "text": plot_text(text),
        "font": {"color": colour},
    }
    return line, label
