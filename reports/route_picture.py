"""A route as a picture: stages in layers from top to bottom, setbacks drawn back on the left.

Nothing is placed by hand: rows come from the layers, places in a row from what a
stage hangs on, and every setback gets a channel below its row and a lane on the left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.figures import percent
from reports.layering import Layers, Spot, layer_stages, links, via_spots
from reports.pages_data import PictureEdge, RouteDrawing
from reports.picture_boxes import GAP, Box, Tab, make_boxes, place_across
from reports.route_fold import FoldedRoute, fold_route

ROW_SPACE, CHANNEL, LANE, GUTTER, MARGIN, CORNER = 46.0, 17.0, 15.0, 46.0, 8.0, 9.0
LEFT_ENTRY = 20.0
LETTER = 6.6


@dataclass(frozen=True)
class Line:
    """A way: an SVG path, what kind it is, and if it is part of the best way."""

    path: str
    kind: str
    best: bool


@dataclass(frozen=True)
class Label:
    """Words beside a way."""

    x: float
    y: float
    text: str
    anchor: str
    best: bool


@dataclass(frozen=True)
class Picture:
    """Everything to draw; the less important lines first.

    Attributes:
        hidden: Stages left out because there are too many to read.
    """

    width: float
    height: float
    boxes: Sequence[Box]
    lines: Sequence[Line]
    labels: Sequence[Label]
    hidden: int


@dataclass(frozen=True)
class _Ways:
    """Where every way starts and what it passes."""

    forward: Sequence[tuple[Tab, PictureEdge]]
    setbacks: Sequence[tuple[Tab, PictureEdge]]


@dataclass(frozen=True)
class _Arrival:
    """Where a way comes in from above, one of `count` beside each other."""

    x: float
    place: int
    count: int

    def label_left(self, *, from_x: float) -> bool:
        """The odds stand on the free side: outwards, or away from where the way comes from."""
        return from_x > self.x + 1 if self.count == 1 else self.place == 0

    @property
    def raised(self) -> int:
        """How many lines higher the odds stand, so that neighbours' odds do not meet."""
        return 0 if self.place in (0, self.count - 1) else self.place


def draw_route(route: RouteDrawing) -> Picture | None:
    """The picture of a route; None where it has no stages."""
    if not route.stages:
        return None
    folded = fold_route(route.stages, route.edges)
    boxes = make_boxes(folded.stages, folded.edges)
    layers = _layers(folded, boxes)
    ways = _sorted_ways(boxes, layers)
    middle = place_across(layers, boxes, links(_forward_pairs(ways), layers.row_of))
    entries = _entries(layers, ways)
    tops = _place_down(layers, boxes, ways, entries=entries)
    lanes = _lanes(layers, ways)
    _move_right(boxes, middle, lanes)
    _place_tabs(boxes, layers)
    lines, labels = _forward_lines(ways, boxes, layers, middle=middle, tops=tops)
    back_lines, back_labels = _setback_lines(
        ways, boxes, layers, lanes=lanes, tops=tops, entries=entries
    )
    right = max(
        *(box.x + box.width for box in boxes.values()),
        *(x + MARGIN for x in middle.values()),
        *(each.x + LETTER * len(each.text) for each in labels if each.anchor == "start"),
    )
    return Picture(
        width=round(right + MARGIN),
        height=round(tops[-1]),
        boxes=list(boxes.values()),
        lines=sorted([*back_lines, *lines], key=lambda line: line.best),
        labels=[*labels, *back_labels],
        hidden=folded.hidden,
    )


def _layers(folded: FoldedRoute, boxes: Mapping[str, Box]) -> Layers:
    drawn = [edge for box in boxes.values() for tab in box.tabs for edge in tab.edges]
    pairs = [(edge.origin, edge.target) for edge in drawn if edge.target is not None]
    return layer_stages(
        [stage.name for stage in folded.stages],
        pairs,
        cost_to_go={stage.name: stage.cost_to_go for stage in folded.stages},
    )


def _sorted_ways(boxes: Mapping[str, Box], layers: Layers) -> _Ways:
    every = [
        (tab, edge)
        for box in boxes.values()
        for tab in box.tabs
        for edge in tab.edges
        if edge.target is not None
    ]
    back = [(edge.origin, edge.target) in layers.setbacks for _, edge in every]
    return _Ways(
        [way for way, is_back in zip(every, back, strict=True) if not is_back],
        [way for way, is_back in zip(every, back, strict=True) if is_back],
    )


def _forward_pairs(ways: _Ways) -> list[tuple[str, str]]:
    return list(dict.fromkeys((edge.origin, str(edge.target)) for _, edge in ways.forward))


def _entries(layers: Layers, ways: _Ways) -> dict[str, str]:
    """How setbacks come into each of their targets: from the left, else from above."""
    entries = {}
    for _, edge in ways.setbacks:
        target = str(edge.target)
        row = [spot for spot in layers.rows[layers.row_of[target]] if spot[0] == "stage"]
        entries[target] = "left" if row[0][1] == target else "above"
    return entries


def _place_down(
    layers: Layers, boxes: Mapping[str, Box], ways: _Ways, *, entries: Mapping[str, str]
) -> list[float]:
    """Set every box's y; returns the top of each row, then the foot of the picture."""
    below = [0] * (len(layers.rows) + 1)
    for _, edge in ways.setbacks:
        below[layers.row_of[edge.origin] + 1] += 1
    for target, entry in entries.items():
        if entry == "above":
            below[layers.row_of[target]] += 1
    tops = [MARGIN + CHANNEL * below[0]]
    for index, row in enumerate(layers.rows):
        tall = max((boxes[name].height for kind, name, _ in row if kind == "stage"), default=0.0)
        for kind, name, _ in row:
            if kind == "stage":
                boxes[name].y = tops[index]
        last = index == len(layers.rows) - 1
        space = MARGIN if last else ROW_SPACE
        tops.append(tops[index] + tall + CHANNEL * below[index + 1] + space)
    return tops


def _lanes(layers: Layers, ways: _Ways) -> dict[str, int]:
    """For each target of setbacks the lane it comes in by, 0 nearest; none overlap in a lane."""
    reach: dict[str, int] = {}
    for _, edge in ways.setbacks:
        target, row = str(edge.target), layers.row_of[edge.origin]
        reach[target] = max(reach.get(target, row), row)
    spans = {target: (layers.row_of[target], low) for target, low in reach.items()}
    lanes: dict[str, int] = {}
    for target, (top, low) in sorted(spans.items(), key=lambda each: each[1][1] - each[1][0]):
        taken = {
            lane
            for other, lane in lanes.items()
            if spans[other][0] <= low and top <= spans[other][1]
        }
        lanes[target] = next(lane for lane in range(len(spans)) if lane not in taken)
    return lanes


def _move_right(
    boxes: Mapping[str, Box], middle: dict[Spot, float], lanes: Mapping[str, int]
) -> None:
    """Make room for the lanes on the left, and give each box its x."""
    room = MARGIN if not lanes else MARGIN + GUTTER + LANE * max(lanes.values())
    left = min(middle["stage", name, 0] - box.width / 2 for name, box in boxes.items())
    left = (
        min(left, *(x - GAP / 2 for spot, x in middle.items() if spot[0] == "via"))
        if any(spot[0] == "via" for spot in middle)
        else left
    )
    for spot in middle:
        middle[spot] += room - left
    for name, box in boxes.items():
        box.x = middle["stage", name, 0] - box.width / 2


def _place_tabs(boxes: Mapping[str, Box], layers: Layers) -> None:
    """Tabs at the foot of their box; those that only lead back stand left, others by target."""

    def aim(tab: Tab) -> float:
        ahead = [
            boxes[edge.target].x + boxes[edge.target].width / 2
            for edge in tab.edges
            if edge.target is not None and (edge.origin, edge.target) not in layers.setbacks
        ]
        return sum(ahead) / len(ahead) if ahead else float("-inf")

    for box in boxes.values():
        box.tabs.sort(key=aim)
        spare = box.width - sum(tab.width for tab in box.tabs)
        gap = spare / (len(box.tabs) + 1)
        x = box.x + gap
        for tab in box.tabs:
            tab.x, tab.y = x, box.y + box.height - tab.height - 6
            x += tab.width + gap


def _ports(tab: Tab, boxes: Mapping[str, Box], setbacks: frozenset[tuple[str, str]]) -> list[float]:
    """Where each of a tab's ways leaves it, in the order of its edges: setbacks on the left."""

    def aim(edge: PictureEdge) -> tuple[bool, float]:
        ahead = (edge.origin, edge.target) not in setbacks
        return ahead, boxes[edge.target].x + boxes[edge.target].width / 2 if edge.target else 0.0

    order = sorted(range(len(tab.edges)), key=lambda at: aim(tab.edges[at]))
    step = tab.width / (len(order) + 1)
    ports = [0.0] * len(order)
    for place, at in enumerate(order):
        ports[at] = tab.x + step * (place + 1)
    return ports


def _port(
    tab: Tab, edge: PictureEdge, boxes: Mapping[str, Box], setbacks: frozenset[tuple[str, str]]
) -> float:
    at = next(i for i, each in enumerate(tab.edges) if each is edge)
    return _ports(tab, boxes, setbacks)[at]


def _forward_lines(
    ways: _Ways,
    boxes: Mapping[str, Box],
    layers: Layers,
    *,
    middle: Mapping[Spot, float],
    tops: Sequence[float],
) -> tuple[list[Line], list[Label]]:
    lines, labels = [], []
    arrivals = _arrivals(ways, boxes, layers, middle=middle)
    for index, (tab, edge) in enumerate(ways.forward):
        x, y = _port(tab, edge, boxes, layers.setbacks), boxes[edge.origin].y
        path = [f"M{x:.1f} {y + boxes[edge.origin].height:.1f}"]
        row = layers.row_of[edge.origin]
        y = _row_foot(layers, boxes, row)
        path.append(f"V{y:.1f}")
        for spot in via_spots((edge.origin, str(edge.target)), layers.row_of):
            path.append(_bend(x, y, to_x=middle[spot], to_y=tops[spot[2]]))
            x, y = middle[spot], _row_foot(layers, boxes, spot[2])
            path.append(f"V{y:.1f}")
        end = boxes[str(edge.target)].y
        path.append(_bend(x, y, to_x=arrivals[index].x, to_y=end - 1))
        lines.append(Line(" ".join(path), _line_kind(edge), edge.best))
        words = "by hidden stages" if edge.kind == "folded" else percent(edge.odds)
        if edge.odds < 1 or edge.kind == "folded":
            arrival = arrivals[index]
            beside, anchor = (-7, "end") if arrival.label_left(from_x=x) else (7, "start")
            height = end - 12 - 13 * arrival.raised
            labels.append(Label(arrival.x + beside, height, words, anchor, edge.best))
    return lines, labels


def _arrivals(
    ways: _Ways, boxes: Mapping[str, Box], layers: Layers, *, middle: Mapping[Spot, float]
) -> list[_Arrival]:
    """Where on its target's upper edge each forward way arrives."""

    def comes_from(at: int) -> float:
        tab, edge = ways.forward[at]
        vias = via_spots((edge.origin, str(edge.target)), layers.row_of)
        return middle[vias[-1]] if vias else _port(tab, edge, boxes, layers.setbacks)

    by_target: dict[str, list[int]] = {}
    for at, (_, edge) in enumerate(ways.forward):
        by_target.setdefault(str(edge.target), []).append(at)
    places: dict[int, _Arrival] = {}
    for target, arriving in by_target.items():
        box = boxes[target]
        arriving.sort(key=comes_from)
        for place, at in enumerate(arriving):
            x = box.x + box.width * (place + 1) / (len(arriving) + 1)
            places[at] = _Arrival(x, place, len(arriving))
    return [places[at] for at in range(len(ways.forward))]


def _row_foot(layers: Layers, boxes: Mapping[str, Box], row: int) -> float:
    return max(
        (
            boxes[name].y + boxes[name].height
            for kind, name, _ in layers.rows[row]
            if kind == "stage"
        ),
        default=0.0,
    )


def _bend(x: float, y: float, *, to_x: float, to_y: float) -> str:
    half = (y + to_y) / 2
    return f"C{x:.1f} {half:.1f} {to_x:.1f} {half:.1f} {to_x:.1f} {to_y:.1f}"


def _setback_lines(
    ways: _Ways,
    boxes: Mapping[str, Box],
    layers: Layers,
    *,
    lanes: Mapping[str, int],
    tops: Sequence[float],
    entries: Mapping[str, str],
) -> tuple[list[Line], list[Label]]:
    lines, labels = [], []
    used: dict[int, int] = {}
    above = _channels_above(layers, entries, tops)
    lane_0 = min(box.x for box in boxes.values()) - GUTTER
    leaving = [(_port(tab, edge, boxes, layers.setbacks), edge) for tab, edge in ways.setbacks]
    for x, edge in sorted(leaving, key=lambda way: way[0]):
        target, row = boxes[str(edge.target)], layers.row_of[edge.origin]
        origin = boxes[edge.origin]
        used[row] = used.get(row, 0) + 1
        channel = _row_foot(layers, boxes, row) + CHANNEL * used[row]
        lane = lane_0 - LANE * lanes[str(edge.target)]
        points = [(x, origin.y + origin.height), (x, channel), (lane, channel)]
        if entries[str(edge.target)] == "left":
            points += [(lane, target.y + LEFT_ENTRY), (target.x - 1, target.y + LEFT_ENTRY)]
        else:
            high, into = above[str(edge.target)], target.x + 14
            points += [(lane, high), (into, high), (into, target.y - 1)]
        lines.append(Line(rounded_path(points), f"{_line_kind(edge)} back", edge.best))
        words = percent(edge.odds) if edge.odds < 1 else ""
        if words:
            labels.append(Label(x - 8, channel - 4, words, "end", edge.best))
    return lines, labels


def _channels_above(
    layers: Layers, entries: Mapping[str, str], tops: Sequence[float]
) -> dict[str, float]:
    """For targets that setbacks reach from above: the height at which they come along."""
    heights, count = {}, dict.fromkeys(range(len(layers.rows)), 0)
    for target, entry in entries.items():
        if entry == "above":
            row = layers.row_of[target]
            count[row] += 1
            heights[target] = tops[row] - CHANNEL * count[row] - 6
    return heights


def _line_kind(edge: PictureEdge) -> str:
    return {"step": "step", "folded": "folded"}.get(edge.kind, "market")


def rounded_path(points: Sequence[tuple[float, float]]) -> str:
    """An SVG path along upright and level stretches, its corners rounded.

    >>> rounded_path([(0, 0), (0, 30), (40, 30)])
    'M0.0 0.0 L0.0 21.0 Q0.0 30.0 9.0 30.0 L40.0 30.0'
    """
    parts = [f"M{points[0][0]:.1f} {points[0][1]:.1f}"]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        into, out = _towards(corner, before), _towards(corner, after)
        parts.append(f"L{into[0]:.1f} {into[1]:.1f}")
        parts.append(f"Q{corner[0]:.1f} {corner[1]:.1f} {out[0]:.1f} {out[1]:.1f}")
    parts.append(f"L{points[-1][0]:.1f} {points[-1][1]:.1f}")
    return " ".join(parts)


def _towards(corner: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    length = abs(end[0] - corner[0]) + abs(end[1] - corner[1])
    share = min(CORNER, length / 2) / length if length else 0.0
    return corner[0] + share * (end[0] - corner[0]), corner[1] + share * (end[1] - corner[1])
