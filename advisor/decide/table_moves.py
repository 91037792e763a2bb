"""What was logged, as moves between the stages of a route: where pieces began, where they stand.

Every attempt takes a piece from one stage to another. So at each stage

    pieces that came + pieces begun there = pieces that went on + pieces that stand there

and a log tells, whatever its order, how many pieces were begun and where they are now.
A log is rarely whole. A certain step that was not logged, but without which a logged one
could not have been taken, counts as taken (one takes a frame, then etches it). Whatever is
still missing was begun in the middle.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

import numpy as np

from advisor.names import name_key
from advisor.routes.drawn import DrawnOutcomes, Way
from advisor.routes.stages import ACTION_WORDS, END, STEP, StageModel


class Tried(Protocol):
    """One logged attempt, or several that came to the same; names as in the route file.

    Attributes:
        action: "step", "buy in", "sell out", "stop" or "moved".
        reached: The stage that was on the table then; None where nobody said.
        session: The followed piece; None for attempts logged by hand.
    """

    @property
    def action(self) -> str: ...  # noqa: D102
    @property
    def step(self) -> str | None: ...  # noqa: D102
    @property
    def stage(self) -> str | None: ...  # noqa: D102
    @property
    def outcome(self) -> str | None: ...  # noqa: D102
    @property
    def reached(self) -> str | None: ...  # noqa: D102
    @property
    def tries(self) -> int: ...  # noqa: D102
    @property
    def session(self) -> int | None: ...  # noqa: D102


@dataclass
class TableMoves:
    """Moves of a log on the stages of a model.

    Attributes:
        outcomes: How often each outcome of the model came to pass.
        begun: Pieces begun, by stage.
        standing: Pieces that are now at a stage, by stage; finished ones at a done stage,
            those of an evening that ended at END.
        unplaced: What could not be placed, in words, with how many attempts that is.
    """

    outcomes: Counter[int] = field(default_factory=Counter)
    begun: Counter[int] = field(default_factory=Counter)
    standing: Counter[int] = field(default_factory=Counter)
    unplaced: Counter[str] = field(default_factory=Counter)

    def spent(self, outcome_costs: np.ndarray) -> float:
        """What all moves cost together."""
        return float(sum(count * outcome_costs[row] for row, count in self.outcomes.items()))


def trace_moves(
    model: StageModel, log: Iterable[Tried], *, sessions: Mapping[int, str]
) -> TableMoves:
    """Place a log on a model.

    Args:
        log: In the order of time.
        sessions: The stage at which each followed piece began.
    """
    places = OutcomePlaces(model)
    moves = TableMoves()
    for start in sessions.values():
        number = places.stages.get(name_key(start))
        if number is not None:
            moves.begun[number] += 1
    last = None
    for tried in log:
        way = _place(places, tried, moves)
        if way is not None and tried.session is None:
            last = int(model.outcome_stage[way[-1]])
    if last == model.start:
        moves.begun[model.start] += 1
    _add_certain_steps(places, moves)
    _balance(model, moves)
    return moves


def _place(places: OutcomePlaces, tried: Tried, moves: TableMoves) -> Way | None:
    if tried.action == "moved":
        number = places.stages.get(name_key(tried.reached or ""))
        if number is not None:
            moves.begun[number] += 1
        return None
    way = places.find(tried)
    if way is None and (tried.action == "stop" or places.is_sale_of_piece(tried)):
        return None
    if way is None:
        what = tried.action if tried.step is None else f"step {tried.step!r}"
        moves.unplaced[f"{what} that came to {tried.reached or tried.outcome!r}"] += tried.tries
        return None
    for row in way:
        moves.outcomes[row] += tried.tries
    return way


class OutcomePlaces:
    """Finds the outcome of a model that an attempt came to."""

    def __init__(self, model: StageModel) -> None:
        self.model = model
        self.first_row = np.searchsorted(
            model.outcome_action, np.arange(len(model.action_stage) + 1)
        )
        self._found: dict[tuple[str | None, ...], Way | None] = {}

    @cached_property
    def stages(self) -> dict[str, int]:
        """Numbers of the stages by key."""
        return {name_key(name): number for number, name in enumerate(self.model.stages)}

    @cached_property
    def _drawn(self) -> DrawnOutcomes:
        return DrawnOutcomes(self.model)

    @cached_property
    def _steps(self) -> dict[str, int]:
        return {name_key(name): number for number, name in enumerate(self.model.steps)}

    @cached_property
    def _actions_of_step(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = defaultdict(list)
        for action, step in enumerate(self.model.action_step.tolist()):
            found[step].append(action)
        return found

    def find(self, tried: Tried) -> Way | None:
        """The rows it came to; None where the model has none, or more than one way that fit."""
        asked = (tried.action, tried.step, tried.stage, tried.outcome, tried.reached)
        if asked not in self._found:
            self._found[asked] = self._find(tried)
        return self._found[asked]

    def is_sale_of_piece(self, tried: Tried) -> bool:
        """Whether a finished piece was sold, which is no part of making it."""
        stage = self.stages.get(name_key(tried.stage or ""))
        return tried.action == "sell out" and stage is not None and bool(self.model.done[stage])

    def _find(self, tried: Tried) -> Way | None:
        stage = None if tried.stage is None else self.stages.get(name_key(tried.stage), -1)
        reached = tried.reached or tried.outcome
        targets = {END} if reached is None else {self.stages.get(name_key(reached))}
        if tried.action == "sell out":
            targets = {END, self.model.start}  # made for sale, or to keep
        actions = [
            action
            for action in self._actions(tried)
            if stage is None or self.model.action_stage[action] == stage
        ]
        ways: list[Way] = [
            (row,)
            for action in actions
            for row in range(self.first_row[action], self.first_row[action + 1])
            if int(self.model.outcome_stage[row]) in targets
        ] or self._drawn_ways(actions, targets)
        return ways[0] if len(ways) == 1 or (ways and stage is not None) else None

    def _drawn_ways(self, actions: Iterable[int], targets: Collection[int | None]) -> list[Way]:
        ways = (way for action in actions for way in self._drawn.ways(action))
        return [way for way in ways if int(self.model.outcome_stage[way[-1]]) in targets]

    def ways_of(self, step: str) -> list[Way]:
        """Every way a step may come out, wherever it is taken; none where there is no such step."""
        number = self._steps.get(name_key(step))
        actions = [] if number is None else self._actions_of_step[number]
        return [way for action in actions for way in self._drawn.ways(action)]

    def origin(self, way: Way) -> int:
        """The stage at which a way begins."""
        return int(self.model.action_stage[self.model.outcome_action[way[0]]])

    def _actions(self, tried: Tried) -> Iterable[int]:
        if tried.step is not None:
            number = self._steps.get(name_key(tried.step))
            return [] if number is None else self._actions_of_step[number]
        kind = ACTION_WORDS.index(tried.action)
        return np.flatnonzero(self.model.action_kind == kind).tolist()


def _add_certain_steps(places: OutcomePlaces, moves: TableMoves) -> None:
    """Count certain steps that must have been taken."""
    model = places.model
    sizes = np.diff(places.first_row)
    leading: dict[int, list[int]] = defaultdict(list)
    for action in np.flatnonzero((model.action_kind == STEP) & (sizes == 1)).tolist():
        row = int(places.first_row[action])
        leading[int(model.outcome_stage[row])].append(row)
    waiting = [int(model.action_stage[model.outcome_action[row]]) for row in moves.outcomes]
    lacking = _lacking(model, moves)
    rounds = 0
    while waiting and rounds <= len(model.stages):
        stage = waiting.pop()
        rows = leading.get(stage, [])
        if lacking[stage] <= 0 or len(rows) != 1 or stage == model.start:
            continue
        rounds += 1
        before = int(model.action_stage[model.outcome_action[rows[0]]])
        moves.outcomes[rows[0]] += lacking[stage]
        lacking[before] += lacking[stage]
        lacking[stage] = 0
        waiting.append(before)


def _lacking(model: StageModel, moves: TableMoves) -> Counter[int]:
    """By stage: pieces that went on without having come; below 0: pieces that stand there."""
    lacking: Counter[int] = Counter()
    for row, count in moves.outcomes.items():
        lacking[int(model.action_stage[model.outcome_action[row]])] += count
        lacking[int(model.outcome_stage[row])] -= count
    lacking.subtract(moves.begun)
    return lacking


def _balance(model: StageModel, moves: TableMoves) -> None:
    """Find where pieces were begun and where they stand."""
    for stage, count in _lacking(model, moves).items():
        if count > 0:
            moves.begun[stage] += count
        elif count < 0:
            moves.standing[stage] -= count
