"""The boxes of a route's picture: how large each must be, and where in its row it stands."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from advisor.figures import amount
from reports.layering import Layers, Spot
from reports.pages_data import PictureEdge, PictureStage

LEAST_WIDTH, GAP, VIA_WIDTH = 124.0, 26.0, 18.0
NAME_LINE, SMALL_LINE, TAB_LINE, PADDING = 19.0, 16.0, 23.0, 9.0
NAME_LETTER, SMALL_LETTER = 7.6, 6.3
LONGEST_NAME, LONGEST_TAB = 30, 24
ALIGNMENTS = 8


@dataclass
class Tab:
    """One action at the foot of a stage's box; its ways leave from here."""

    text: str
    kind: str
    best: bool
    edges: list[PictureEdge] = field(default_factory=list)
    x: float = 0.0
    y: float = 0.0
    width: float = 0.0
    height: float = TAB_LINE - 4


@dataclass
class Box:
    """One stage: its name, what is still to pay from here, the market, its actions."""

    stage: PictureStage
    title: str
    notes: list[str]
    tabs: list[Tab]
    width: float
    height: float
    x: float = 0.0
    y: float = 0.0


def make_boxes(stages: Sequence[PictureStage], edges: Sequence[PictureEdge]) -> dict[str, Box]:
    """A box for each stage, sized by its words, with its actions as tabs."""
    return {
        stage.name: _box(stage, _tabs(stage.name, edges), _notes(stage, edges)) for stage in stages
    }


def _tabs(name: str, edges: Sequence[PictureEdge]) -> list[Tab]:
    tabs: dict[tuple[str, str], Tab] = {}
    for edge in edges:
        if edge.origin != name or (edge.kind in ("buy in", "sell out", "stop") and not edge.best):
            continue
        kind = "step" if edge.kind == "folded" else edge.kind
        tab = tabs.setdefault(
            (kind, edge.label), Tab(_cut(_tab_text(edge), LONGEST_TAB), kind, edge.best)
        )
        tab.edges.append(edge)
    for tab in tabs.values():
        tab.width = SMALL_LETTER * len(tab.text) + 16
    return list(tabs.values())


def _tab_text(edge: PictureEdge) -> str:
    if edge.kind in ("step", "folded"):
        return edge.label
    return edge.kind if edge.price is None else f"{edge.kind} {amount(edge.price, digits=3)}"


def _notes(stage: PictureStage, edges: Sequence[PictureEdge]) -> list[str]:
    """Small lines under the name: cost to go, and what the market offers here."""
    words = ["made"] if stage.done else ["start"] if stage.start else []
    if stage.cost_to_go is not None and not stage.done:
        words.append(f"{amount(stage.cost_to_go, digits=3)} to go")
    notes = [" · ".join(words)] if words else []
    offers: dict[str, float] = {}
    for edge in edges:
        if edge.price is None:
            continue
        if edge.kind == "buy in" and edge.target == stage.name:
            offers["buys in at"] = edge.price
        elif edge.kind == "sell out" and edge.origin == stage.name and not edge.best:
            offers["sells for"] = edge.price
    notes += [f"{word} {amount(price, digits=3)}" for word, price in offers.items()]
    return notes


def _box(stage: PictureStage, tabs: list[Tab], notes: list[str]) -> Box:
    title = _cut(stage.name, LONGEST_NAME)
    tabs_width = sum(tab.width for tab in tabs) + 8 * (len(tabs) - 1)
    width = max(
        LEAST_WIDTH,
        NAME_LETTER * len(title) + 2 * PADDING,
        tabs_width + 2 * PADDING,
        *(SMALL_LETTER * len(note) + 2 * PADDING for note in notes),
    )
    height = 2 * PADDING + NAME_LINE + SMALL_LINE * len(notes) + (TAB_LINE if tabs else 0)
    return Box(stage, title, notes, tabs, width, height)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def place_across(
    layers: Layers, boxes: Mapping[str, Box], pieces: Iterable[tuple[Spot, Spot]]
) -> dict[Spot, float]:
    """The middle of every spot on the x axis: near what it hangs on, and none on another."""
    widths = {
        spot: boxes[spot[1]].width if spot[0] == "stage" else VIA_WIDTH
        for row in layers.rows
        for spot in row
    }
    joined: dict[Spot, list[Spot]] = {spot: [] for spot in widths}
    for upper, lower in pieces:
        joined[upper].append(lower)
        joined[lower].append(upper)
    middle = dict.fromkeys(widths, 0.0)
    for turn in range(ALIGNMENTS):
        for row in layers.rows if turn % 2 == 0 else reversed(layers.rows):
            wanted = [_mean([middle[each] for each in joined[spot]]) for spot in row]
            middle.update(zip(row, spread_out(wanted, [widths[s] for s in row]), strict=True))
    return middle


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def spread_out(wanted: Sequence[float], widths: Sequence[float]) -> list[float]:
    """Places in this order, a gap between any two, as near to the wanted as can be.

    Source: least squares under an order, by pooling adjacent violators (Barlow et al.
        1972, Statistical Inference under Order Restrictions).

    >>> spread_out([0.0, 0.0], [10.0, 10.0])
    [-18.0, 18.0]
    """
    offsets = [0.0]
    for left, right in itertools.pairwise(widths):
        offsets.append(offsets[-1] + (left + right) / 2 + GAP)
    pools: list[list[float]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        pools.append([want - offset, 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            value, count = pools.pop()
            before = pools[-1]
            total = before[1] + count
            before[0] = (before[0] * before[1] + value * count) / total
            before[1] = total
    flat = [value for value, count in pools for _ in range(int(count))]
    return [value + offset for value, offset in zip(flat, offsets, strict=True)]
