"""Whether a route's stages and steps fit together, said with names and lines."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from advisor.names import did_you_mean
from advisor.routes.route import Outcome, Route
from advisor.routes.vary import Rungs, fill_braces, split_braces

if TYPE_CHECKING:
    from advisor.routes.build import RouteNames, WrittenStep

MOST_STAGES = 5_000_000
MOST_ACTIONS = 20_000_000
MOST_NAMES_COMPARED = 5_000


def refuse_too_many_stages(route: Route) -> None:
    """Refuse a `vary` that makes more than five million stages, before making any.

    Raises:
        RouteFault: with the count.
    """
    actions = 0
    for step in route.steps:
        rungs = Rungs(step.vary)
        inside = {
            part.name
            for part in split_braces(step.start or "", rungs, step.table)
            if not isinstance(part, str)
        }
        stages = math.prod(len(step.vary[name]) for name in inside)
        actions += rungs.count
        if stages > MOST_STAGES or actions > MOST_ACTIONS:
            count = f"{stages:,} stages" if stages > MOST_STAGES else f"{actions:,} steps"
            raise step.table.fault(
                f"`vary` makes {count}", "vary", right=f"at most {MOST_STAGES:,} stages are solved"
            )


def refuse_unknown_stages(route: Route, names: RouteNames) -> None:
    """Refuse stages that are named once and mean nothing.

    Raises:
        RouteFault: a target that no step leaves and the market does not know; a market
            stage that no step knows; a start that no step leaves; a finish that steps
            leave or that none leads to.
    """
    count = names.stages.settled_count
    left = np.zeros(count, dtype=bool)
    reached = np.zeros(count, dtype=bool)
    for written in names.written:
        left[names.stages.numbers(written.start)] = True
        for target in written.targets:
            reached[names.stages.numbers(target)] = True
    if count > MOST_STAGES:
        raise route.fault(
            f"the route has {count:,} stages", right=f"at most {MOST_STAGES:,} are solved"
        )
    _check_market(route, names, left | reached)
    known = left.copy()
    known[[names.finish, *names.market]] = True
    for written in names.written:
        for outcome, target in zip(written.step.outcomes, written.targets, strict=True):
            _check_target(written, outcome, names.stages.numbers(target), known, names)
    _check_finish(route, names, left, reached)


def _check_target(
    written: WrittenStep,
    outcome: Outcome,
    targets: np.ndarray,
    known: np.ndarray,
    names: RouteNames,
) -> None:
    rows = np.flatnonzero(~known[targets])
    if not len(rows):
        return
    step, row = written.step, int(rows[0])
    stage = fill_braces(outcome.stage, written.rungs, step.table, row=row)
    raise step.table.fault_at(
        outcome.line,
        f"leads to {stage!r}, which no step leaves",
        step=fill_braces(step.name, written.rungs, step.table, row=row),
        right=_near(stage, names, known)
        or "write a step from it, name it in [market], or make it the `finish`",
    )


def _near(stage: str, names: RouteNames, wanted: np.ndarray) -> str | None:
    """`did you mean` among the stages wanted; a million names are not compared."""
    numbers = np.flatnonzero(wanted)[:MOST_NAMES_COMPARED]
    texts = names.stages.texts()
    return did_you_mean(stage, (texts[number] for number in numbers.tolist()))


def _check_finish(route: Route, names: RouteNames, left: np.ndarray, reached: np.ndarray) -> None:
    key = "finish" if route.lines.lines.get(("route", "finish")) else "makes"
    line = route.lines.line_of(("route", key))
    if left[names.finish]:
        step = next(
            each.step for each in names.written
            if (names.stages.numbers(each.start) == names.finish).any()
        )  # fmt: skip
        raise step.table.fault(
            f"leaves {route.finish!r}, where the piece is made",
            "from",
            right="no step may leave the finish",
        )
    if not reached[names.finish] and names.finish not in names.market:
        raise route.fault(
            f"no step leads to {route.finish!r}, where the piece is made",
            line=line,
            right=_near(route.finish, names, reached)
            or 'name the last stage: finish = "..." in [route]',
        )
    if not left[names.start] and names.start != names.finish:
        raise route.fault(
            f"no step leaves the start {route.start!r}",
            line=route.lines.line_of(("route", "start")),
            right=_near(route.start, names, left) or "name a stage that a step leaves",
        )


def _check_market(route: Route, names: RouteNames, known: np.ndarray) -> None:
    for stage, market in zip(names.market, route.market, strict=True):
        if not known[stage]:
            raise route.fault(
                f"[market] names the stage {market.stage!r}, which no step knows",
                line=market.line,
                right=_near(market.stage, names, known) or "name a stage of the steps",
            )
    repeated = _first_repeated(names.market)
    if repeated is not None:
        raise route.fault(
            f"[market] names the stage {route.market[repeated].stage!r} twice",
            line=route.market[repeated].line,
            right="keep one of them",
        )


def _first_repeated(numbers: Iterable[int]) -> int | None:
    seen: set[int] = set()
    for position, number in enumerate(numbers):
        if number in seen:
            return position
        seen.add(number)
    return None


def refuse_repeated_steps(route: Route, names: RouteNames) -> None:
    """Refuse two steps of one name at one stage.

    Raises:
        RouteFault: naming both lines.
    """
    stages = np.concatenate([names.stages.numbers(each.start) for each in names.written])
    steps = np.concatenate([names.steps.numbers(each.name) for each in names.written])
    code = stages.astype(np.int64) * (int(steps.max()) + 1) + steps
    order = np.argsort(code, kind="stable")
    same = np.flatnonzero(code[order][1:] == code[order][:-1])
    if not len(same):
        return
    first, second = (int(each) for each in (order[same[0]], order[same[0] + 1]))
    step = _written_step(names, second).step
    raise step.table.fault(
        f"a step of this name at this stage is already written in line "
        f"{_written_step(names, first).step.line}",
        "name",
        right="give it another name",
    )


def _written_step(names: RouteNames, number: int) -> WrittenStep:
    """The written step of a step counted over all rungs."""
    for written in names.written:
        if number < written.rungs.count:
            return written
        number -= written.rungs.count
    raise IndexError(number)
