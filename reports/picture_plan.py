"""Where everything of a route's picture stands: rows, places, channels and lanes.

Nothing is placed by hand: rows come from the layers, places in a row from what a
stage hangs on, and every setback gets a channel below its row and a lane on the left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reports.layering import Layers, Spot, layer_stages, links
from reports.pages_data import PictureEdge
from reports.picture_boxes import GAP, Box, Tab, make_boxes, place_across
from reports.route_fold import FoldedRoute

ROW_SPACE, CHANNEL, LANE, GUTTER, MARGIN = 46.0, 17.0, 15.0, 46.0, 8.0

Way = tuple[Tab, PictureEdge]
"""A way and the action that it starts from."""


@dataclass(frozen=True)
class Plan:
    """A picture's plan, in pixels.

    Attributes:
        boxes: By stage, with their places set.
        layers: Which stage stands in which row.
        forward, setbacks: The ways down, and those back.
        middle: The middle of every spot on the x axis.
        tops: The top of each row, then the foot of the picture.
        lanes: For each target of setbacks its lane, 0 nearest.
        entries: How setbacks come into each of their targets: from the "left", else from "above".
    """

    boxes: Mapping[str, Box]
    layers: Layers
    forward: Sequence[Way]
    setbacks: Sequence[Way]
    middle: Mapping[Spot, float]
    tops: Sequence[float]
    lanes: Mapping[str, int]
    entries: Mapping[str, str]

    def row_foot(self, row: int) -> float:
        """The lower edge of the tallest box of a row."""
        return max(box.y + box.height for box in _row_boxes(self.boxes, self.layers, row))

    def port(self, way: Way) -> float:
        """Where a way leaves its action: setbacks on the left, the others by their target."""
        tab, edge = way
        order = sorted(range(len(tab.edges)), key=lambda at: self._aim(tab.edges[at]))
        place = next(place for place, at in enumerate(order) if tab.edges[at] is edge)
        return tab.x + tab.width * (place + 1) / (len(order) + 1)

    def _aim(self, edge: PictureEdge) -> tuple[bool, float]:
        if edge.target is None:
            return False, 0.0
        return (edge.origin, edge.target) not in self.layers.setbacks, _centre(
            self.boxes[edge.target]
        )


def plan_picture(folded: FoldedRoute) -> Plan:
    """Place every stage and reserve room for every way."""
    boxes = make_boxes(folded.stages, folded.edges)
    ways = [(tab, edge) for box in boxes.values() for tab in box.tabs for edge in tab.edges]
    ways = [way for way in ways if way[1].target is not None]
    layers = layer_stages(
        [stage.name for stage in folded.stages],
        [_pair(way) for way in ways],
        cost_to_go={stage.name: stage.cost_to_go for stage in folded.stages},
    )
    forward = [way for way in ways if _pair(way) not in layers.setbacks]
    setbacks = [way for way in ways if _pair(way) in layers.setbacks]
    entries = _entries(layers, setbacks)
    lanes = _lanes(layers, setbacks)
    pieces = links(list(dict.fromkeys(map(_pair, forward))), layers.row_of)
    middle = _moved_right(boxes, place_across(layers, boxes, pieces), lanes)
    tops = _place_down(boxes, layers, setbacks, entries=entries)
    _place_tabs(boxes, layers)
    return Plan(boxes, layers, forward, setbacks, middle, tops, lanes, entries)


def _pair(way: Way) -> tuple[str, str]:
    return way[1].origin, str(way[1].target)


def _centre(box: Box) -> float:
    return box.x + box.width / 2


def _row_boxes(boxes: Mapping[str, Box], layers: Layers, row: int) -> list[Box]:
    return [boxes[name] for kind, name, _ in layers.rows[row] if kind == "stage"]


def _entries(layers: Layers, setbacks: Sequence[Way]) -> dict[str, str]:
    entries = {}
    for _, target in map(_pair, setbacks):
        row = layers.rows[layers.row_of[target]]
        leftmost = next(name for kind, name, _ in row if kind == "stage")
        entries[target] = "left" if leftmost == target else "above"
    return entries


def _lanes(layers: Layers, setbacks: Sequence[Way]) -> dict[str, int]:
    """One lane for each target; in one lane none overlap, and the shortest are nearest."""
    lowest: dict[str, int] = {}
    for origin, target in map(_pair, setbacks):
        row = layers.row_of[origin]
        lowest[target] = max(lowest.get(target, row), row)
    spans = {target: (layers.row_of[target], low) for target, low in lowest.items()}
    lanes: dict[str, int] = {}
    for target, (top, low) in sorted(spans.items(), key=lambda each: each[1][1] - each[1][0]):
        taken = {
            lane
            for other, lane in lanes.items()
            if spans[other][0] <= low and top <= spans[other][1]
        }
        lanes[target] = next(lane for lane in range(len(spans)) if lane not in taken)
    return lanes


def _moved_right(
    boxes: Mapping[str, Box], middle: Mapping[Spot, float], lanes: Mapping[str, int]
) -> dict[Spot, float]:
    """Make room for the lanes on the left, and give each box its x."""
    room = MARGIN if not lanes else MARGIN + GUTTER + LANE * max(lanes.values())
    left = min(
        x - (boxes[name].width if kind == "stage" else GAP) / 2
        for (kind, name, _), x in middle.items()
    )
    moved = {spot: x + room - left for spot, x in middle.items()}
    for name, box in boxes.items():
        box.x = moved["stage", name, 0] - box.width / 2
    return moved


def _place_down(
    boxes: Mapping[str, Box],
    layers: Layers,
    setbacks: Sequence[Way],
    *,
    entries: Mapping[str, str],
) -> list[float]:
    """Give each box its y; the top of each row, then the foot of the picture."""
    channels = [0] * (len(layers.rows) + 1)
    for origin, _ in map(_pair, setbacks):
        channels[layers.row_of[origin] + 1] += 1
    for target, entry in entries.items():
        channels[layers.row_of[target]] += entry == "above"
    tops = [MARGIN + CHANNEL * channels[0]]
    for row in range(len(layers.rows)):
        standing = _row_boxes(boxes, layers, row)
        for box in standing:
            box.y = tops[row]
        space = MARGIN if row == len(layers.rows) - 1 else ROW_SPACE
        tall = max(box.height for box in standing)
        tops.append(tops[row] + tall + CHANNEL * channels[row + 1] + space)
    return tops


def _place_tabs(boxes: Mapping[str, Box], layers: Layers) -> None:
    """Actions at the foot of their box: those that only lead back left, others by target."""

    def aim(tab: Tab) -> float:
        ahead = [
            _centre(boxes[edge.target])
            for edge in tab.edges
            if edge.target is not None and (edge.origin, edge.target) not in layers.setbacks
        ]
        return sum(ahead) / len(ahead) if ahead else float("-inf")

    for box in boxes.values():
        box.tabs.sort(key=aim)
        gap = (box.width - sum(tab.width for tab in box.tabs)) / (len(box.tabs) + 1)
        x = box.x + gap
        for tab in box.tabs:
            tab.x, tab.y = x, box.y + box.height - tab.height - 6
            x += tab.width + gap
