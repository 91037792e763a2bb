"""The best way of a route as steps in the order one comes by, for a guide."""

from __future__ import annotations

import re
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.route import PIECE, Route
from advisor.routes.stages import BUY_IN, END, SELL_OUT, STEP, StageModel
from advisor.tasks.guide_units import ActionUnits
from reports.guide_data import GuideOutcome, GuideStep, Then

_BRACED = re.compile(r"\{\s*([^{}:]*?)\s*(?::[^{}]*)?\}")


@dataclass(frozen=True)
class _Place:
    """One stage of the best way and what is done there."""

    stage: int
    action: int


@dataclass
class BestWay:
    """Walks the best way of a route.

    Args:
        cost: The route's answer.
        route: As it is written.
        moneys: Keys of the names that are money.
        effects: For each written step of a route with a pool, (when, effect) in words.
    """

    cost: RouteCost
    route: Route
    moneys: AbstractSet[str]
    effects: Sequence[tuple[str, str]] = ()
    _numbers: dict[object, int] = field(default_factory=dict)

    def steps(self) -> list[GuideStep]:
        """Every step of the best way, numbered in the order one first comes by."""
        grouped: dict[object, list[_Place]] = {}
        for place in self._places():
            grouped.setdefault(self._group(place.action), []).append(place)
        self._numbers = {group: number for number, group in enumerate(grouped, start=1)}
        return [self._step(self._numbers[group], places) for group, places in grouped.items()]

    def unused(self) -> list[str]:
        """Names of the written steps that the best way leaves out; `steps` comes first."""
        taken = {group[1] for group in self._numbers if isinstance(group, tuple)}
        return [
            _plain(step.name) for number, step in enumerate(self.route.steps) if number not in taken
        ]

    def then(self, stage: int) -> Then:
        """What to do at a stage."""
        if stage == END:
            return Then("stop")
        action = int(self.cost.actions[stage])
        if action < 0:
            return Then("done" if self._model.done[stage] else "stop")
        if self._is_look(action):
            return Then("look")
        return self.action(action)

    def action(self, action: int) -> Then:
        """An action in words, with its number."""
        kind = int(self._model.action_kind[action])
        number = self._numbers.get(self._group(action))
        if kind == STEP:
            return Then("step", self._step_name(action), number)
        if kind in (BUY_IN, SELL_OUT):
            return Then("buy in" if kind == BUY_IN else "sell out", self._moved(action), number)
        return Then("stop")

    def act_at(self, stage: int) -> Then:
        """The best action at a stage, whatever it hangs on."""
        return self.action(int(self.cost.actions[stage]))

    def can_be_taken(self, stage: int, then: Then) -> bool:
        """Whether the step could be taken at a stage, be it the best there or not."""
        return (stage, then.name) in self._open_steps

    @cached_property
    def _open_steps(self) -> set[tuple[int, str]]:
        model = self._model
        return {
            (int(model.action_stage[action]), self._step_name(action))
            for action in np.flatnonzero(model.action_kind == STEP).tolist()
        }

    def visited(self) -> list[tuple[int, float]]:
        """Stages of the best way that are no end, with the mean number of visits."""
        names = self._model.stages
        return [
            (place.stage, self.cost.visits.get(names[place.stage]) or 0.0)
            for place in self._places()
        ]

    def is_drawn_piece(self, stage: int) -> bool:
        """Whether it is a piece of a pool whose next step hangs on what is on it."""
        action = int(self.cost.actions[stage])
        return self._is_piece(stage) and action >= 0 and not self._is_look(action)

    @property
    def _model(self) -> StageModel:
        return self.cost.model

    @cached_property
    def _units(self) -> ActionUnits:
        return ActionUnits(self.cost.model, self.moneys)

    @cached_property
    def _written_step(self) -> list[int]:
        """The written step of each written outcome."""
        return [n for n, step in enumerate(self.route.steps) for _ in step.outcomes]

    @cached_property
    def _plain_stages(self) -> set[str]:
        """Stages that a route with a pool names itself."""
        named = {name_key(self.route.start), name_key(self.route.finish)}
        for step in self.route.steps:
            named.add(name_key(step.start or ""))
            named |= {name_key(each.stage) for each in step.outcomes}
        return named

    def _is_piece(self, stage: int) -> bool:
        return bool(self.effects) and name_key(self._model.stages[stage]) not in self._plain_stages

    def _places(self) -> list[_Place]:
        """Stages of the best way with their actions, nearest the start first."""
        model = self._model
        waiting, seen, found = [int(model.start)], {int(model.start)}, []
        for stage in waiting:
            action = int(self.cost.actions[stage])
            if action < 0:
                continue
            found.append(_Place(stage, action))
            for row in self._units.rows(action):
                target = int(model.outcome_stage[row])
                if target != END and target not in seen and model.odds[row] > 0:
                    seen.add(target)
                    waiting.append(target)
        return [place for place in found if not self._is_look(place.action)]

    def _is_look(self, action: int) -> bool:
        """Whether it only looks at what a draw has given."""
        if not self.effects or int(self._model.action_kind[action]) != STEP:
            return False
        return self._step_number(action) is None

    def _step_number(self, action: int) -> int | None:
        written = self._model.outcome_written
        rows = self._units.rows(action)
        if written is not None:
            known = [int(written[row]) for row in rows if int(written[row]) >= 0]
            if known:
                return self._written_step[known[0]]
        key = name_key(self._step_name(action))
        return next((n for n, s in enumerate(self.route.steps) if name_key(s.name) == key), None)

    def _group(self, action: int) -> object:
        kind = int(self._model.action_kind[action])
        if kind == STEP:
            return ("step", self._step_number(action))
        if kind == SELL_OUT:
            return (kind, -1 - int(self._model.action_stage[action]))
        return (kind, -1 - int(self._model.outcome_stage[self._units.first_row[action]]), "market")

    def _step_name(self, action: int) -> str:
        return str(self._model.steps[int(self._model.action_step[action])])

    def _moved(self, action: int) -> str:
        model, row = self._model, self._units.first_row[action]
        kind = int(model.action_kind[action])
        items = (model.uses if kind == BUY_IN else model.gives)[[row], :].indices
        return str(model.items[int(items[0])]) if len(items) else ""

    def _step(self, number: int, places: list[_Place]) -> GuideStep:
        model = self._model
        first = places[0]
        kind = int(model.action_kind[first.action])
        names = [model.stages[place.stage] for place in places]
        times = sum(self.cost.visits.get(name) or 0.0 for name in names)
        if kind != STEP:
            cost = float(self.cost.outcome_costs[self._units.first_row[first.action]])
            return GuideStep(
                number,
                "buy in" if kind == BUY_IN else "sell out",
                self._moved(first.action),
                names,
                uses=(),
                minutes=[0.0] * len(places),
                outcomes=self._market_outcome(places),
                times=times,
                price=abs(cost),
            )
        written = self._step_number(first.action)
        drawn = bool(self.effects) and any(self._is_piece(place.stage) for place in places)
        shown = places[:1] if drawn else places
        step = GuideStep(
            number,
            "step",
            self._name_of(shown),
            [] if drawn else [model.stages[place.stage] for place in shown],
            uses=self._units.common([place.action for place in shown]),
            minutes=[self._units.minutes(place.action) for place in shown],
            outcomes=self._outcomes(written, shown),
            times=times,
        )
        if not self.effects or written is None:
            return step
        when, effect = self.effects[written]
        return replace(step, when=when if drawn else None, effect=effect or None)

    def _name_of(self, places: Sequence[_Place]) -> str:
        names = list(dict.fromkeys(self._step_name(place.action) for place in places))
        return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"

    def _market_outcome(self, places: Sequence[_Place]) -> list[GuideOutcome]:
        target = int(self._model.outcome_stage[self._units.first_row[places[0].action]])
        reached = "the end" if target == END else self._model.stages[target]
        then = self.then(target)
        return [GuideOutcome(reached, [1.0] * len(places), then=[then] * len(places))]

    def _outcomes(self, written: int | None, places: Sequence[_Place]) -> list[GuideOutcome]:
        if written is None:
            return []
        first = self._written_step.index(written)
        outcomes = self.route.steps[written].outcomes
        found = []
        for at, outcome in enumerate(outcomes):
            rows = [self._rows_of(place.action, first + at, len(outcomes)) for place in places]
            odds = [float(sum(self._model.odds[row] for row in own)) for own in rows]
            if max(odds) <= 0:
                continue
            found.append(
                GuideOutcome(
                    self._reached(outcome.stage, places, rows),
                    odds,
                    uses=self._units.beyond([place.action for place in places], rows),
                    gives=self._units.back(rows),
                    then=[self._then_of(own) for own in rows],
                )
            )
        return found

    def _rows_of(self, action: int, written: int, count: int) -> list[int]:
        """Rows of an action that a written outcome has become."""
        marks = self._model.outcome_written
        rows = list(self._units.rows(action))
        if marks is None:
            return rows if count == 1 else []
        return [row for row in rows if int(marks[row]) == written]

    def _reached(self, stage: str, places: Sequence[_Place], rows: Sequence[Sequence[int]]) -> str:
        if self.effects and name_key(stage) == PIECE:
            return "a piece"
        targets = {int(self._model.outcome_stage[row]) for own in rows for row in own}
        if self.effects and any(t != END and self._is_piece(t) for t in targets):
            return "a piece"
        if len(targets) == 1 and END not in targets:
            return str(self._model.stages[targets.pop()])
        return _plain(stage)

    def _then_of(self, rows: Sequence[int]) -> Then | None:
        targets = dict.fromkeys(int(self._model.outcome_stage[row]) for row in rows)
        if not targets:
            return None
        thens = {self.then(target) for target in targets}
        return thens.pop() if len(thens) == 1 else Then("look")


def _plain(name: str) -> str:
    """A name with its varied parts spoken: "edge {n+1:0..}" is "edge n+1".

    >>> _plain("edge {n-1:0..}")
    'edge n-1'
    """
    return " ".join(_BRACED.sub(r"\1", name).split())
