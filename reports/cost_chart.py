"""The law of the make cost against the buying price."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from advisor.figures import amount
from reports.findings import cost_finding
from reports.page_parts import Chart, Column, Figure, Table, axis, upright
from reports.pages_data import Answer, CostOdds

BARS = 56
SHOWN_CHANCE = 0.993
QUANTILE_WORDS = {
    "0.05": "1 evening in 20 costs at most",
    "0.25": "1 evening in 4 costs at most",
    "0.5": "every other evening costs at most",
    "0.8": "4 evenings in 5 cost at most",
    "0.9": "9 evenings in 10 cost at most",
    "0.95": "19 evenings in 20 cost at most",
    "0.99": "99 evenings in 100 cost at most",
}


def cost_chart(craft: Answer, cost: CostOdds) -> Chart:
    """Bars of what an evening costs, with the mean, the buying price and the bad night."""
    bars, beyond = coarse_bars(cost.costs, cost.chances)
    money = craft["money"]
    rows: list[tuple[object, ...]] = [tuple(bar) for bar in bars]
    if beyond > 0:
        rows.append((bars[-1][1], None, beyond))
    reading = (
        "Each bar is a range of costs; the higher, the more evenings end there. Striped bars "
        "cost more than buying. Luck and unsure prices are both in it."
    )
    if beyond > 0:
        reading += " A long thin tail runs on to the right of the picture."
    return Chart(
        name="cost",
        finding=cost_finding(craft),
        reading=reading,
        figure=_figure(craft, bars),
        tables=(
            quantile_table(craft),
            Table(
                f"Share of evenings by cost, in {money}",
                (Column("from", "number"), Column("to", "number"), Column("share", "share")),
                rows,
            ),
        ),
        height_px=380,
    )


def quantile_table(craft: Answer) -> Table:
    """The make cost as the answer gives it: mean, quantiles, worst twentieth."""
    make = craft["make"]
    rows: list[tuple[object, ...]] = [("on average", make["mean"])]
    for key, words in QUANTILE_WORDS.items():
        rows.append((words, make["quantiles"].get(key)))
    rows.append(("the worst 1 in 20, on average", make.get("shortfall_95")))
    rows.append(("standard deviation", make.get("sd")))
    return Table(
        f"What making costs, in {craft['money']}",
        (Column("how often"), Column("cost", "number")),
        rows,
    )


def coarse_bars(
    costs: Sequence[float], chances: Sequence[float]
) -> tuple[list[tuple[float, float, float]], float]:
    """The law in few bars, as (from, to, chance), and the chance beyond the last.

    A cell counts for the stretch halfway to its neighbours, so that bars whose
    width is no multiple of the lattice's do not come out ragged.
    """
    cells = [(at, chance) for at, chance in zip(costs, chances, strict=True) if chance > 1e-12]
    if len(cells) == 1:
        at, chance = cells[0]
        half = 0.01 * max(abs(at), 1.0)
        return [(at - half, at + half, chance)], 0.0
    stretches = _stretches(cells)
    total = sum(chance for _, chance in cells)
    low, high = stretches[0][0], _shown_end(stretches, total)
    width = (high - low) / min(BARS, max(len(cells), 8))
    sums = [0.0] * math.ceil((high - low) / width - 1e-9)
    beyond = 0.0
    for left, right, chance in stretches:
        beyond += _share_out(sums, (left - low) / width, (right - low) / width, chance=chance)
    bars = [(low + i * width, low + (i + 1) * width, mass) for i, mass in enumerate(sums)]
    return bars, beyond if beyond > 1e-9 else 0.0


def _stretches(cells: Sequence[tuple[float, float]]) -> list[tuple[float, float, float]]:
    middles = [(a + b) / 2 for (a, _), (b, _) in itertools.pairwise(cells)]
    first = 2 * cells[0][0] - middles[0]
    last = 2 * cells[-1][0] - middles[-1]
    edges = [first, *middles, last]
    return [(edges[i], edges[i + 1], chance) for i, (_, chance) in enumerate(cells)]


def _shown_end(stretches: Sequence[tuple[float, float, float]], total: float) -> float:
    reached = 0.0
    for _, right, chance in stretches:
        reached += chance
        if reached >= SHOWN_CHANCE * total:
            return right
    return stretches[-1][1]


def _share_out(sums: list[float], left: float, right: float, *, chance: float) -> float:
    """Add a stretch's chance to the bars it covers; what lies beyond them is returned."""
    span = right - left
    for bar in range(max(0, math.floor(left)), min(len(sums), math.ceil(right))):
        sums[bar] += chance * max(0.0, min(right, bar + 1) - max(left, bar)) / span
    return chance * max(0.0, right - max(left, len(sums))) / span


def _figure(craft: Answer, bars: Sequence[tuple[float, float, float]]) -> Figure:
    money, make = craft["money"], craft["make"]
    price = (craft.get("buy") or {}).get("level")
    marks = [
        (make["mean"], f"mean {amount(make['mean'])}", "@ink", "solid"),
        (make["quantiles"].get("0.95"), "bad night {}", "@ask", "dot"),
    ]
    if price is not None and craft.get("for") != "sale":
        marks.insert(1, (price, f"to buy {amount(price)}", "@bid", "dash"))
    shapes, labels = [], []
    for level, (at, text, colour, dash) in enumerate(marks):
        if at is not None:
            line, label = upright(
                at, text.format(amount(at)), colour=colour, dash=dash, level=level
            )
            shapes.append(line)
            labels.append(_kept_inside(label, at, bars))
    dearer = [price is not None and (left + right) / 2 > price for left, right, _ in bars]
    return {
        "data": [
            {
                "type": "bar",
                "x": [(left + right) / 2 for left, right, _ in bars],
                "y": [100 * chance for *_, chance in bars],
                "width": [(right - left) * 0.94 for left, right, _ in bars],
                "marker": {
                    "color": ["@bid-soft" if each else "@ask" for each in dearer],
                    "line": {
                        "color": ["@bid" if each else "@ask" for each in dearer],
                        "width": 0.5,
                    },
                    "pattern": {
                        "shape": ["/" if each else "" for each in dearer],
                        "fgcolor": "@bid",
                        "size": 5,
                        "solidity": 0.25,
                    },
                },
                "customdata": [[amount(left), amount(right)] for left, right, _ in bars],
                "hovertemplate": "%{customdata[0]} to %{customdata[1]}: %{y:.1f} %<extra></extra>",
            }
        ],
        "layout": {
            "xaxis": axis(f"what one piece costs to make ({money})", rangemode="tozero"),
            "yaxis": axis("share of evenings", ticksuffix=" %", rangemode="tozero"),
            "shapes": shapes,
            "annotations": labels,
            "margin": {"t": 64, "r": 16, "b": 48, "l": 48},
            "showlegend": False,
            "bargap": 0,
        },
    }


def _kept_inside(
    label: dict[str, object], at: float, bars: Sequence[tuple[float, float, float]]
) -> dict[str, object]:
    """Labels in the right half are written to the left of their line."""
    middle = (bars[0][0] + bars[-1][1]) / 2
    return {**label, "xanchor": "right"} if at > middle else label
