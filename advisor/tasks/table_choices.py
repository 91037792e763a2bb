"""What may come next at the table: one key for every outcome and for what the market offers."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from advisor.book.attempts import Action
from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key
from advisor.routes.drawn import DrawnOutcomes, Way
from advisor.routes.from_stage import CostFromStage
from advisor.routes.route import PIECE, Route
from advisor.routes.stages import BUY_IN, END, SELL_OUT, STEP, StageModel

PUT_AWAY: Action = "stop"
MOVED: Action = "moved"
STAGES_COMPARED = 5000
NEAREST = 5
KEYS_OF_ONE_DIGIT = 9
SELL_KEYS = "s"
BUY_KEYS = "bcdefghij"


@dataclass(frozen=True)
class TableChoice:
    """One thing that may come next.

    Attributes:
        key: What to type for it.
        action: "step", "buy in", "sell out", "stop", or "moved".
        step: The step's name.
        outcome: What it came to, as the route file has it; None for what the file does
            not name, such as what a draw gives.
        reached: The stage then; None where the evening ends.
        odds: How likely, if the step is taken; None for what is no matter of luck.
        cost: What it costs, negative where it brings something.
        to_go: Mean cost from there on; None where it is not known.
        is_best: Whether it belongs to the best action.
    """

    key: str
    action: Action
    step: str | None
    outcome: str | None
    reached: str | None
    odds: float | None = None
    cost: float | None = None
    to_go: float | None = None
    is_best: bool = False

    def is_named(self, key: str) -> bool:
        """Whether these words mean it: "marked frame", "etch: marked frame", "sell out",
        "buy in: marked frame".
        """
        if self.action == "sell out":
            return key == "sell out"
        names = [f"{self.step or self.action}: {self.reached}"]
        if self.action != "buy in":
            names.append(self.reached or "")
        return key in [name_key(name) for name in names if name]


def choices_at(
    ahead: CostFromStage, stage: int, *, written: Sequence[str] | None
) -> tuple[TableChoice, ...]:
    """All that may come at a stage: the best action's outcomes first, then other steps, the market.

    Args:
        written: As `written_outcomes` has it.
    """
    model, best = ahead.model, int(ahead.cost.actions[stage])
    actions = np.flatnonzero(model.action_stage == stage).tolist()
    steps = [each for each in actions if model.action_kind[each] == STEP]
    steps.sort(key=lambda action: action != best)
    found: list[TableChoice] = []
    drawn = DrawnOutcomes(model)
    for action in steps:
        came = [
            _step_choice(ahead, way, written=written, is_best=action == best)
            for way in drawn.ways(action)
        ]
        found += _in_reading_order(_merged(came))
    found = [replace(each, key=str(number)) for number, each in enumerate(found, start=1)]
    for kind, letters in ((SELL_OUT, SELL_KEYS), (BUY_IN, BUY_KEYS)):
        own = [each for each in actions if model.action_kind[each] == kind]
        for place, action in enumerate(own):
            key = letters[place] if place < len(letters) else f"{letters[0]}{place + 1}"
            row = _rows(model, action)[0]
            found.append(_market_choice(ahead, row, key, kind, is_best=action == best))
    return tuple(found)


def _rows(model: StageModel, action: int) -> range:
    first, last = np.searchsorted(model.outcome_action, [action, action + 1]).tolist()
    return range(first, last)


def _merged(came: Sequence[TableChoice]) -> list[TableChoice]:
    """Outcomes that come to the same at the same cost, as one."""
    found: dict[tuple[str | None, str | None, float | None], TableChoice] = {}
    for each in came:
        own = (each.outcome, each.reached, each.cost)
        odds = (found[own].odds or 0.0) if own in found else 0.0
        found[own] = replace(each, odds=odds + (each.odds or 0.0))
    return list(found.values())


def _in_reading_order(came: list[TableChoice]) -> list[TableChoice]:
    """As in the file; of many, the best first, and of like ones the likeliest."""
    if len(came) <= KEYS_OF_ONE_DIGIT:
        return came
    return sorted(
        came,
        key=lambda each: (round(each.to_go or 0.0, 9), -(each.odds or 0.0), each.reached or ""),
    )


def _step_choice(
    ahead: CostFromStage, way: Way, *, written: Sequence[str] | None, is_best: bool
) -> TableChoice:
    model, rows = ahead.model, list(way)
    target = int(model.outcome_stage[way[-1]])
    reached = None if target == END else model.stages[target]
    return TableChoice(
        key="",
        action="step",
        step=model.steps[int(model.action_step[model.outcome_action[way[0]]])],
        outcome=outcome_name(model, way[0], reached, written),
        reached=reached,
        odds=float(model.odds[rows].prod()),
        cost=float(ahead.cost.outcome_costs[rows].sum()),
        to_go=0.0 if target == END else ahead.mean(target),
        is_best=is_best,
    )


def written_outcomes(route: Route) -> tuple[str, ...] | None:
    """What each written outcome of a route with a pool is called; None for other routes,
    whose outcomes are called as the stage they lead to.
    """
    if route.pool is None:
        return None
    return tuple(outcome.stage for step in route.steps for outcome in step.outcomes)


def outcome_name(
    model: StageModel, row: int, reached: str | None, written: Sequence[str] | None
) -> str | None:
    """What the outcome of a row is called in the route's file; None for what it does not name.

    Args:
        reached: The stage it leads to in the end.
        written: As `written_outcomes` has it.
    """
    number = -1 if model.outcome_written is None else int(model.outcome_written[row])
    if written is None:
        return reached
    if number < 0:
        return None
    return PIECE if name_key(written[number]) == PIECE else reached


def _market_choice(
    ahead: CostFromStage, row: int, key: str, kind: int, *, is_best: bool
) -> TableChoice:
    model = ahead.model
    target = int(model.outcome_stage[row])
    return TableChoice(
        key=key,
        action="sell out" if kind == SELL_OUT else "buy in",
        step=None,
        outcome=None,
        reached=None if target == END else model.stages[target],
        cost=float(ahead.cost.outcome_costs[row]),
        to_go=0.0 if target == END else ahead.mean(target),
        is_best=is_best,
    )


def nearest_stages(model: StageModel, stage: str) -> list[str]:
    """The stages whose names are most like this one; some stages where none is like it."""
    names = list(islice(model.stages, STAGES_COMPARED))
    by_key = {name_key(name): name for name in names}
    near = difflib.get_close_matches(name_key(stage), list(by_key), n=NEAREST, cutoff=0.3)
    return [by_key[key] for key in near] or names[:NEAREST]


def find_choice(choices: Sequence[TableChoice], typed: str) -> TableChoice:
    """The choice that a key, or the name of what came, means.

    Raises: BadInput: none; what would be right.
    """
    key = name_key(typed)
    for each in choices:
        if each.key == key:
            return each
    named = [each for each in choices if each.is_named(key)]
    if len({(each.action, each.step, each.reached) for each in named}) == 1:
        return named[0]
    if named:
        keys = " or ".join(each.key for each in named)
        raise BadInput(f"{typed!r} could be meant in several ways", right=f"give the key: {keys}")
    names = [each.reached for each in choices if each.reached is not None]
    keys = ", ".join([each.key for each in choices][:12])
    right = did_you_mean(typed, names) or f"keys are {keys}{', ' if keys else ''}u, x, p, q"
    raise BadInput(f"{typed!r} is no key here", right=right)
