"""Stages in layers: where each stands in the picture, and which ways lead back.

Source: the layered drawing of Sugiyama, Tagawa & Toda (1981), Methods for Visual
Understanding of Hierarchical System Structures, IEEE Trans. SMC 11(2): break the
circles, layer by longest path, order each layer by barycentres.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

SWEEPS = 12

Pair = tuple[str, str]
Spot = tuple[str, str, int]
"""What stands in a layer: ("stage", name, 0), or ("via", "from>to", layer) of a long way."""


@dataclass(frozen=True)
class Layers:
    """The stages layer by layer.

    Attributes:
        rows: Each layer's spots, left to right; a forward way over several layers
            has a spot in each layer that it passes.
        row_of: The layer of each stage.
        setbacks: The ways that lead back or stay, as (from, to).
    """

    rows: Sequence[Sequence[Spot]]
    row_of: Mapping[str, int]
    setbacks: frozenset[Pair]


def layer_stages(
    stages: Sequence[str], ways: Sequence[Pair], *, cost_to_go: Mapping[str, float | None]
) -> Layers:
    """Put the stages into layers so that as many ways as possible lead down.

    Args:
        stages: Names, the start first.
        ways: (from, to) between these stages, duplicates allowed.
        cost_to_go: By stage; of two ways on, the one to the dearer stage is followed
            first, since it is the shorter step forward.
    """
    unique = list(dict.fromkeys(ways))
    setbacks = find_setbacks(stages, unique, cost_to_go=cost_to_go)
    forward = [way for way in unique if way not in setbacks]
    row_of = near_what_follows(longest_paths(stages, forward), forward, start=stages[0])
    rows = _rows_with_vias(stages, forward, row_of)
    return Layers(_least_crossings(rows, forward, row_of), row_of, setbacks)


def find_setbacks(
    stages: Sequence[str], ways: Sequence[Pair], *, cost_to_go: Mapping[str, float | None]
) -> frozenset[Pair]:
    """The ways back to the start, and those that close a circle on a walk in depth."""
    onward: dict[str, list[str]] = {stage: [] for stage in stages}
    for origin, target in ways:
        onward[origin].append(target)
    for origin, targets in onward.items():
        targets.sort(key=lambda stage: -(cost_to_go.get(stage) or 0.0))
        onward[origin] = targets
    setbacks: set[Pair] = set()
    finished: set[str] = set()
    for root in stages:
        if root not in finished:
            _walk(root, onward, start=stages[0], finished=finished, setbacks=setbacks)
    return frozenset(setbacks)


def _walk(
    root: str,
    onward: Mapping[str, list[str]],
    *,
    start: str,
    finished: set[str],
    setbacks: set[Pair],
) -> None:
    path, on_path = [(root, iter(onward[root]))], {root}
    while path:
        stage, targets = path[-1]
        target = next(targets, None)
        if target is None:
            path.pop()
            on_path.discard(stage)
            finished.add(stage)
        elif target in on_path or target == start:
            setbacks.add((stage, target))
        elif target not in finished:
            path.append((target, iter(onward[target])))
            on_path.add(target)


def longest_paths(stages: Sequence[str], forward: Sequence[Pair]) -> dict[str, int]:
    """The layer of each stage: one below the lowest that leads to it.

    >>> longest_paths(["a", "b", "c"], [("a", "b"), ("b", "c"), ("a", "c")])
    {'a': 0, 'b': 1, 'c': 2}
    """
    row_of = dict.fromkeys(stages, 0)
    before: dict[str, int] = dict.fromkeys(stages, 0)
    for _, target in forward:
        before[target] += 1
    ready = [stage for stage in stages if not before[stage]]
    while ready:
        stage = ready.pop()
        for origin, target in forward:
            if origin == stage:
                row_of[target] = max(row_of[target], row_of[stage] + 1)
                before[target] -= 1
                if not before[target]:
                    ready.append(target)
    return row_of


def near_what_follows(
    row_of: Mapping[str, int], forward: Sequence[Pair], *, start: str
) -> dict[str, int]:
    """Stages that nothing leads to stand just above what they lead to, not above the start.

    >>> ways = [("a", "b"), ("b", "c"), ("x", "c")]
    >>> near_what_follows({"a": 0, "b": 1, "c": 2, "x": 0}, ways, start="a")
    {'a': 0, 'b': 1, 'c': 2, 'x': 1}
    """
    reached = {target for _, target in forward}
    moved = dict(row_of)
    for stage in row_of:
        following = [row_of[target] for origin, target in forward if origin == stage]
        if stage not in reached and stage != start and following:
            moved[stage] = min(following) - 1
    return moved


def via_spots(way: Pair, row_of: Mapping[str, int]) -> list[Spot]:
    """Where a way passes the layers between its ends."""
    origin, target = way
    return [("via", f"{origin}>{target}", row) for row in range(row_of[origin] + 1, row_of[target])]


def _rows_with_vias(
    stages: Sequence[str], forward: Sequence[Pair], row_of: Mapping[str, int]
) -> list[list[Spot]]:
    rows: list[list[Spot]] = [[] for _ in range(max(row_of.values(), default=0) + 1)]
    for stage in stages:
        rows[row_of[stage]].append(("stage", stage, 0))
    for way in forward:
        for spot in via_spots(way, row_of):
            rows[spot[2]].append(spot)
    return rows


def links(forward: Sequence[Pair], row_of: Mapping[str, int]) -> list[tuple[Spot, Spot]]:
    """The ways cut into pieces from one layer to the next."""
    pieces = []
    for way in forward:
        chain = [("stage", way[0], 0), *via_spots(way, row_of), ("stage", way[1], 0)]
        pieces += list(itertools.pairwise(chain))
    return pieces


def _least_crossings(
    rows: list[list[Spot]], forward: Sequence[Pair], row_of: Mapping[str, int]
) -> list[list[Spot]]:
    pieces = links(forward, row_of)
    best, fewest = rows, crossings(rows, pieces)
    for sweep in range(SWEEPS):
        if not fewest:
            break
        rows = _swept(rows, pieces, down=sweep % 2 == 0)
        count = crossings(rows, pieces)
        if count < fewest:
            best, fewest = rows, count
    return best


def _swept(
    rows: list[list[Spot]], pieces: Sequence[tuple[Spot, Spot]], *, down: bool
) -> list[list[Spot]]:
    """Each layer ordered by the mean place of what it hangs on in the layer before."""
    rows = [list(row) for row in rows]
    order = range(1, len(rows)) if down else range(len(rows) - 2, -1, -1)
    for index in order:
        beside = rows[index - 1] if down else rows[index + 1]
        place = {spot: at for at, spot in enumerate(beside)}
        hangs_on: dict[Spot, list[int]] = {}
        for upper, lower in pieces:
            spot, other = (lower, upper) if down else (upper, lower)
            if other in place:
                hangs_on.setdefault(spot, []).append(place[other])
        own = {spot: float(at) for at, spot in enumerate(rows[index])}
        middle = {
            spot: sum(hangs_on[spot]) / len(hangs_on[spot]) if spot in hangs_on else own[spot]
            for spot in rows[index]
        }
        rows[index].sort(key=lambda spot, middle=middle: middle[spot])  # type: ignore[misc]
    return rows


def crossings(rows: Sequence[Sequence[Spot]], pieces: Sequence[tuple[Spot, Spot]]) -> int:
    """How many pairs of ways cross each other between neighbouring layers."""
    place = {spot: (index, at) for index, row in enumerate(rows) for at, spot in enumerate(row)}
    by_row: dict[int, list[tuple[int, int]]] = {}
    for upper, lower in pieces:
        by_row.setdefault(place[upper][0], []).append((place[upper][1], place[lower][1]))
    return sum(
        (a - c) * (b - d) < 0
        for ends in by_row.values()
        for i, (a, b) in enumerate(ends)
        for c, d in ends[:i]
    )
