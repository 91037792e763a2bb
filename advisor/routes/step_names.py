"""A step and its outcomes by the names a user types, whichever rung they stand on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key
from advisor.routes.learned import find_steps
from advisor.routes.route import Route, Step
from advisor.routes.vary import Rungs, fill_braces

NAMES_COMPARED = 2000
NAMES_SHOWN = 6


@dataclass(frozen=True)
class NamedStep:
    """A step as it is called at the table.

    Attributes:
        name: The step's name as the route has it.
        stage: Where it is taken; None where that is not one stage.
        outcomes: What it may come to, in the order of the file, each once.
        places: In how many places of the route it stands; tries of a step that stands
            in several cannot be told apart.
    """

    name: str
    stage: str | None
    outcomes: tuple[str, ...]
    places: int

    def outcome(self, typed: str) -> str:
        """The outcome as the route has it.

        Raises: BadInput: the step has no such outcome.
        """
        for each in self.outcomes:
            if name_key(each) == name_key(typed):
                return each
        right = did_you_mean(typed, self.outcomes) or _known(self.outcomes)
        raise BadInput(f"{typed!r} is no outcome of it", right=right, step=self.name)


def find_step(route: Route, typed: str) -> NamedStep:
    """The step of a route by its name as typed.

    Raises: BadInput: the route has no such step.
    """
    key = name_key(typed)
    places = find_steps(route, [key]).get(key, []) if "{" not in key and "}" not in key else []
    if not places:
        names = list(_step_names(route))
        right = did_you_mean(typed, names) or _known(names)
        raise BadInput(f"route {route.name!r} has no step {typed.strip()!r}", right=right)
    rows = [(route.steps[number], row) for number, row in places]
    outcomes = {
        name_key(name): name
        for step, row in rows
        for name in (_fill(step, each.stage, row) for each in step.outcomes)
    }
    stages = {_fill(step, step.start, row) for step, row in rows if step.start is not None}
    first, row = rows[0]
    return NamedStep(
        name=_fill(first, first.name, row),
        stage=stages.pop() if len(stages) == 1 and first.start is not None else None,
        outcomes=tuple(outcomes.values()),
        places=len(places),
    )


def _fill(step: Step, text: str, row: int) -> str:
    return " ".join(fill_braces(text, Rungs(step.vary), step.table, row=row).split())


def _step_names(route: Route) -> Iterator[str]:
    left = NAMES_COMPARED
    for step in route.steps:
        count = min(left, Rungs(step.vary).count if "{" in step.name else 1)
        yield from (_fill(step, step.name, row) for row in range(count))
        left -= count


def _known(names: list[str] | tuple[str, ...]) -> str:
    more = ", ..." if len(names) > NAMES_SHOWN else ""
    return "known are " + ", ".join(names[:NAMES_SHOWN]) + more
