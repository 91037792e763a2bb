"""A route as a picture: stages in layers from top to bottom, setbacks drawn back on the left."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from advisor.figures import percent
from reports.layering import via_spots
from reports.pages_data import PictureEdge, RouteDrawing
from reports.picture_boxes import Box
from reports.picture_plan import CHANNEL, GUTTER, LANE, MARGIN, Plan, plan_picture
from reports.route_fold import fold_route

CORNER, LEFT_ENTRY, LETTER, ODDS_LINE = 9.0, 20.0, 6.6, 13.0

Point = tuple[float, float]


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
class Arrival:
    """Where a way comes in from above, one of `count` beside each other."""

    x: float
    place: int
    count: int

    def label_left(self, *, from_x: float) -> bool:
        """The odds stand on the free side: outwards, or away from where the way comes from."""
        return from_x > self.x + 1 if self.count == 1 else self.place == 0

    @property
    def raised(self) -> float:
        """How much higher the odds stand, so that neighbours' odds do not meet."""
        return 0.0 if self.place in (0, self.count - 1) else ODDS_LINE * self.place


def draw_route(route: RouteDrawing) -> Picture | None:
    """The picture of a route; None where it has no stages."""
    if not route.stages:
        return None
    folded = fold_route(route.stages, route.edges)
    plan = plan_picture(folded)
    lines, labels = _forward(plan)
    back_lines, back_labels = _setbacks(plan)
    labels += back_labels
    right = max(
        *(box.x + box.width for box in plan.boxes.values()),
        *(x + MARGIN for x in plan.middle.values()),
        *(each.x + LETTER * len(each.text) for each in labels if each.anchor == "start"),
    )
    return Picture(
        width=round(right + MARGIN),
        height=round(plan.tops[-1]),
        boxes=list(plan.boxes.values()),
        lines=sorted([*back_lines, *lines], key=lambda line: line.best),
        labels=labels,
        hidden=folded.hidden,
    )


def _forward(plan: Plan) -> tuple[list[Line], list[Label]]:
    lines, labels = [], []
    for way, arrival in zip(plan.forward, _arrivals(plan), strict=True):
        edge = way[1]
        end = plan.boxes[str(edge.target)].y
        path, last_x = _path_down(plan, plan.port(way), edge, to=(arrival.x, end - 1))
        lines.append(Line(path, _line_kind(edge), edge.best))
        words = "by hidden stages" if edge.kind == "folded" else percent(edge.odds)
        if edge.odds < 1 or edge.kind == "folded":
            beside, anchor = (-7, "end") if arrival.label_left(from_x=last_x) else (7, "start")
            y = end - 12 - arrival.raised
            labels.append(Label(arrival.x + beside, y, words, anchor, edge.best))
    return lines, labels


def _path_down(plan: Plan, x: float, edge: PictureEdge, *, to: Point) -> tuple[str, float]:
    """The path from an action's foot past the rows between, and the x it last comes from."""
    box, foot = plan.boxes[edge.origin], plan.row_foot(plan.layers.row_of[edge.origin])
    path = [f"M{x:.1f} {box.y + box.height:.1f} V{foot:.1f}"]
    for spot in via_spots((edge.origin, str(edge.target)), plan.layers.row_of):
        path.append(_bend((x, foot), (plan.middle[spot], plan.tops[spot[2]])))
        x, foot = plan.middle[spot], plan.row_foot(spot[2])
        path.append(f"V{foot:.1f}")
    return " ".join([*path, _bend((x, foot), to)]), x


def _bend(start: Point, end: Point) -> str:
    half = (start[1] + end[1]) / 2
    return f"C{start[0]:.1f} {half:.1f} {end[0]:.1f} {half:.1f} {end[0]:.1f} {end[1]:.1f}"


def _arrivals(plan: Plan) -> list[Arrival]:
    """Where on its target's upper edge each forward way arrives, in the order they come from."""

    def comes_from(at: int) -> float:
        edge = plan.forward[at][1]
        vias = via_spots((edge.origin, str(edge.target)), plan.layers.row_of)
        return plan.middle[vias[-1]] if vias else plan.port(plan.forward[at])

    by_target: dict[str, list[int]] = {}
    for at, (_, edge) in enumerate(plan.forward):
        by_target.setdefault(str(edge.target), []).append(at)
    arrivals: dict[int, Arrival] = {}
    for target, arriving in by_target.items():
        box, count = plan.boxes[target], len(arriving)
        for place, at in enumerate(sorted(arriving, key=comes_from)):
            arrivals[at] = Arrival(box.x + box.width * (place + 1) / (count + 1), place, count)
    return [arrivals[at] for at in range(len(plan.forward))]


def _setbacks(plan: Plan) -> tuple[list[Line], list[Label]]:
    """Ways back: down into a channel of their own, left to a lane, up, and in."""
    lines, labels = [], []
    used: dict[int, int] = {}
    above = _channels_above(plan)
    nearest = min(box.x for box in plan.boxes.values()) - GUTTER
    for way in sorted(plan.setbacks, key=plan.port):
        edge, x = way[1], plan.port(way)
        target, row = str(edge.target), plan.layers.row_of[edge.origin]
        origin = plan.boxes[edge.origin]
        used[row] = used.get(row, 0) + 1
        channel = plan.row_foot(row) + CHANNEL * used[row]
        lane = nearest - LANE * plan.lanes[target]
        points = [(x, origin.y + origin.height), (x, channel), (lane, channel)]
        points += _way_in(plan, target, lane, above=above)
        lines.append(Line(rounded_path(points), f"{_line_kind(edge)} back", edge.best))
        if edge.odds < 1:
            labels.append(Label(x - 8, channel - 4, percent(edge.odds), "end", edge.best))
    return lines, labels


def _way_in(plan: Plan, target: str, lane: float, *, above: dict[str, float]) -> list[Point]:
    box = plan.boxes[target]
    if plan.entries[target] == "left":
        return [(lane, box.y + LEFT_ENTRY), (box.x - 1, box.y + LEFT_ENTRY)]
    high, into = above[target], box.x + 14
    return [(lane, high), (into, high), (into, box.y - 1)]


def _channels_above(plan: Plan) -> dict[str, float]:
    """For targets that setbacks reach from above: the height at which they come along."""
    heights: dict[str, float] = {}
    count: dict[int, int] = {}
    for target, entry in plan.entries.items():
        if entry == "above":
            row = plan.layers.row_of[target]
            count[row] = count.get(row, 0) + 1
            heights[target] = plan.tops[row] - CHANNEL * count[row] - 6
    return heights


def _line_kind(edge: PictureEdge) -> str:
    return edge.kind if edge.kind in ("step", "folded") else "market"


def rounded_path(points: Sequence[Point]) -> str:
    """An SVG path along upright and level stretches, its corners rounded.

    >>> rounded_path([(0, 0), (0, 30), (40, 30)])
    'M0.0 0.0 L0.0 21.0 Q0.0 30.0 9.0 30.0 L40.0 30.0'
    """
    parts = [f"M{points[0][0]:.1f} {points[0][1]:.1f}"]
    for (before, corner), (_, after) in itertools.pairwise(itertools.pairwise(points)):
        into, out = _towards(corner, before), _towards(corner, after)
        parts.append(f"L{into[0]:.1f} {into[1]:.1f}")
        parts.append(f"Q{corner[0]:.1f} {corner[1]:.1f} {out[0]:.1f} {out[1]:.1f}")
    parts.append(f"L{points[-1][0]:.1f} {points[-1][1]:.1f}")
    return " ".join(parts)


def _towards(corner: Point, end: Point) -> Point:
    length = abs(end[0] - corner[0]) + abs(end[1] - corner[1])
    share = min(CORNER, length / 2) / length if length else 0.0
    return corner[0] + share * (end[0] - corner[0]), corner[1] + share * (end[1] - corner[1])
