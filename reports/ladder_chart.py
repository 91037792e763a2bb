"""The asks standing now: what the next unit costs after so many."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

from advisor.figures import amount
from reports.page_parts import Chart, Column, Table, axis
from reports.pages_data import LadderStep


def ladder_chart(ladder: Sequence[LadderStep], *, item: str, money: str) -> Chart | None:
    """Price of the next unit over units bought; None where there are not two prices to show."""
    if len({step.value for step in ladder}) < 2:
        return None
    units = [0, *accumulate(step.qty for step in ladder)]
    prices = [step.value for step in ladder]
    return Chart(
        name="ladder",
        finding=_finding(ladder, units[-1], money),
        reading=(
            "Follow the line from the left: so many units can be had, and the next one costs that."
        ),
        figure={
            "data": [
                {
                    "type": "scatter",
                    "mode": "lines",
                    "x": units,
                    "y": [*prices, prices[-1]],
                    "line": {"shape": "hv", "color": "@ask", "width": 2.5},
                    "hovertemplate": "after %{x} units: %{y:.4~g}<extra></extra>",
                }
            ],
            "layout": {
                "xaxis": axis("units bought", rangemode="tozero"),
                "yaxis": axis(f"price of the next ({money})", range=_range(prices)),
                "margin": {"t": 8, "r": 16, "b": 48, "l": 48},
                "showlegend": False,
            },
        },
        tables=(ladder_table(ladder, item=item, money=money),),
        height_px=280,
    )


def _finding(ladder: Sequence[LadderStep], units: int, money: str) -> str:
    low, high = amount(ladder[0].value), amount(ladder[-1].value)
    about = "about " if any(step.guessed for step in ladder) else ""
    return f"{about}{units} units stand for sale, from {low} to {high} {money}"


def _range(prices: Sequence[float]) -> list[float]:
    low, high = min(prices), max(prices)
    room = 0.15 * (high - low) or 0.1 * high or 1.0
    return [max(0.0, low - room), high + room]


def ladder_table(ladder: Sequence[LadderStep], *, item: str, money: str) -> Table:
    """The asks one by one, with the units so far; which units nobody quoted, where some are so."""
    columns = [
        Column(f"price of one ({money})", "number"),
        Column("units", "number"),
        Column("units so far", "number"),
        Column("trader"),
    ]
    rows: list[tuple[object, ...]] = [
        (step.value, step.qty, so_far, step.trader)
        for step, so_far in zip(ladder, accumulate(step.qty for step in ladder), strict=True)
    ]
    if any(step.guessed for step in ladder):
        columns.append(Column("units were"))
        rows = [
            (*row, "guessed" if step.guessed else "quoted")
            for row, step in zip(rows, ladder, strict=True)
        ]
    return Table(f"Asks for {item}, cheapest first", columns, rows)
