"""Which stages of a long route a picture shows, and what stands for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reports.pages_data import PictureEdge, PictureStage

READABLE_STAGES = 30
MAIN_STAGES = 24
DONE_SHOWN = 3


@dataclass(frozen=True)
class FoldedRoute:
    """What to draw of a route.

    Attributes:
        stages: The stages to show, the start first, then in reading order.
        edges: The ways between them; one of kind "folded" passes hidden stages.
        hidden: How many stages are left out.
    """

    stages: Sequence[PictureStage]
    edges: Sequence[PictureEdge]
    hidden: int


def fold_route(stages: Sequence[PictureStage], edges: Sequence[PictureEdge]) -> FoldedRoute:
    """The whole route up to thirty stages; of a longer one the main stages of the best way."""
    ordered = sorted(stages, key=lambda stage: not stage.start)
    if len(ordered) <= READABLE_STAGES:
        names = {stage.name for stage in ordered}
        return FoldedRoute(ordered, [each for each in edges if _within(each, names)], 0)
    names = _main_stages(ordered, edges)
    kept = [each for each in edges if _within(each, names)]
    shown = [stage for stage in ordered if stage.name in names]
    return FoldedRoute(shown, [*kept, *_folded_ways(names, edges)], len(ordered) - len(shown))


def _within(edge: PictureEdge, names: set[str]) -> bool:
    return edge.origin in names and (edge.target is None or edge.target in names)


def _main_stages(stages: Sequence[PictureStage], edges: Sequence[PictureEdge]) -> set[str]:
    """Start, some done ones, and what the best way comes by most often."""
    reached = _reached_by_best(stages, edges)
    by_name = {stage.name: stage for stage in stages}
    done = [name for name in reached if by_name[name].done][:DONE_SHOWN]
    names = {stage.name for stage in stages if stage.start} | set(done)
    by_visits = sorted(reached, key=lambda name: -(by_name[name].visits or 0.0))
    for name in by_visits:
        if len(names) >= MAIN_STAGES:
            break
        if not by_name[name].done:
            names.add(name)
    return names


def _reached_by_best(stages: Sequence[PictureStage], edges: Sequence[PictureEdge]) -> list[str]:
    onward: dict[str, list[str]] = {}
    for edge in edges:
        if edge.best and edge.target is not None:
            onward.setdefault(edge.origin, []).append(edge.target)
    reached = [stage.name for stage in stages if stage.start]
    seen = set(reached)
    for name in reached:
        for target in onward.get(name, ()):
            if target not in seen:
                seen.add(target)
                reached.append(target)
    return reached


def _folded_ways(names: set[str], edges: Sequence[PictureEdge]) -> list[PictureEdge]:
    """One dotted way for each pair of shown stages that the best way joins unseen."""
    best = [edge for edge in edges if edge.best and edge.target is not None]
    onward: dict[str, list[str]] = {}
    for edge in best:
        onward.setdefault(edge.origin, []).append(str(edge.target))
    folded = {}
    for edge in best:
        if edge.origin in names and edge.target not in names:
            for target in _shown_beyond(str(edge.target), onward, names):
                folded[edge.origin, target] = replace(
                    edge, target=target, kind="folded", label=edge.label
                )
    return list(folded.values())


def _shown_beyond(hidden: str, onward: dict[str, list[str]], names: set[str]) -> list[str]:
    waiting, seen, found = [hidden], {hidden}, []
    while waiting:
        for target in onward.get(waiting.pop(), ()):
            if target in seen:
                continue
            seen.add(target)
            if target in names:
                found.append(target)
            else:
                waiting.append(target)
    return found
