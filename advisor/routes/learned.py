"""Which steps' odds are known from tries only, and the odds to choose by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.names import name_key
from advisor.routes.name_numbers import NameNumbers
from advisor.routes.odds import UNSTATED
from advisor.routes.posterior import OddsPosterior, learn_posterior
from advisor.routes.route import Route, Step
from advisor.routes.stages import StageModel
from advisor.routes.step_odds import stated_odds
from advisor.routes.vary import Rungs, fill_braces

Tries = Mapping[tuple[str, str], int]
"""How often each (step, outcome) was logged."""

DEFAULT_TRUST = 50.0


@dataclass(frozen=True)
class UnsureStep:
    """A step whose odds are not known for sure.

    Attributes:
        step: Its name.
        only_this_name: Whether only the rung of this name is meant, not every rung
            of the written step.
        outcomes: For each outcome (or group of outcomes that were not told apart),
            the numbers of the written outcomes in it.
        posterior: Of these, in the same order.
        odds: The odds of these in the stage model.
    """

    step: str
    only_this_name: bool
    outcomes: tuple[tuple[int, ...], ...]
    posterior: OddsPosterior
    odds: tuple[float, ...]

    def find_outcomes(self, model: StageModel) -> np.ndarray:
        """Position in `outcomes` of each outcome of the model, shape (k,); -1: another step's."""
        found = np.full(len(model.odds), -1)
        if model.outcome_written is None:
            return found
        for position, written in enumerate(self.outcomes):
            found[np.isin(model.outcome_written, written)] = position
        if self.only_this_name:
            key = name_key(self.step)
            steps = [number for number, name in enumerate(model.steps) if name_key(name) == key]
            found[~np.isin(model.action_step[model.outcome_action], steps)] = -1
        return found


@dataclass(frozen=True)
class LearnedOdds:
    """The odds of every written step, tries taken in.

    Attributes:
        odds: For each written step, shape (outcomes, rungs): the odds to choose by.
        unsure: Steps whose odds are not known for sure.
        cautions: Tries that could not be used, in words.
    """

    odds: tuple[np.ndarray, ...]
    unsure: tuple[UnsureStep, ...]
    cautions: tuple[str, ...]


@dataclass
class _Tries:
    """Logged tries by written step and rung."""

    rows: dict[int, dict[int, dict[str, int]]] = field(default_factory=dict)
    cautions: list[str] = field(default_factory=list)


def learn_odds(
    route: Route, *, trust: float = DEFAULT_TRUST, tries: Tries | None = None
) -> LearnedOdds:
    """Take the tries of the file and of the log into the odds of a route.

    Odds that nobody has tried are taken as stated, exactly.

    Args:
        route: The route.
        trust: How many tries stated odds count as.
        tries: Logged tries; those of steps and outcomes the route has not are told.

    Raises:
        RouteFault: odds that do not sum to 1.
    """
    logged = _match_tries(route, tries or {})
    odds, unsure = [], []
    first_written = 0
    for number, step in enumerate(route.steps):
        own, found = _learn_step(step, logged.rows.get(number, {}), first_written, trust, logged)
        odds.append(own)
        unsure += found
        first_written += len(step.outcomes)
    return LearnedOdds(tuple(odds), tuple(unsure), tuple(logged.cautions))


def _learn_step(
    step: Step,
    logged: Mapping[int, Mapping[str, int]],
    first_written: int,
    trust: float,
    notes: _Tries,
) -> tuple[np.ndarray, list[UnsureStep]]:
    rungs = Rungs(step.vary)
    odds = stated_odds(step, rungs)
    if len(step.outcomes) == 1:
        return odds, []
    unsure = []
    shared = _learn_row(step, odds[:, 0], np.zeros(len(odds)), trust)
    if shared is not None and len(logged) < rungs.count:
        unsure.append(_unsure(step.name, False, shared, first_written))
        odds[:] = shared.outcome_odds[:, np.newaxis]
    for row, counts in logged.items():
        seen = _count_outcomes(step, rungs, row, counts, notes)
        own = _learn_row(step, stated_odds(step, rungs)[:, row], seen, trust)
        if own is not None:
            name = fill_braces(step.name, rungs, step.table, row=row)
            unsure.append(_unsure(name, True, own, first_written))
            odds[:, row] = own.outcome_odds
    return odds, unsure


def _count_outcomes(
    step: Step, rungs: Rungs, row: int, counts: Mapping[str, int], notes: _Tries
) -> np.ndarray:
    """Logged tries of each outcome of one rung."""
    left = dict(counts)
    seen = np.zeros(len(step.outcomes))
    for number, outcome in enumerate(step.outcomes):
        stage = fill_braces(outcome.stage, rungs, step.table, row=row)
        seen[number] = left.pop(name_key(stage), 0)
    for stage in left:
        notes.cautions.append(
            f"the log has tries of step {step.name!r} that came to {stage!r}, "
            "which is no outcome of it; they are left out"
        )
    return seen


@dataclass(frozen=True)
class _Learned:
    groups: list[list[int]]
    posterior: OddsPosterior
    group_odds: np.ndarray
    outcome_odds: np.ndarray


def _learn_row(step: Step, stated: np.ndarray, logged: np.ndarray, trust: float) -> _Learned | None:
    """The posterior of one rung; None where its odds are known for sure."""
    is_stated = all(outcome.odds.kind != UNSTATED for outcome in step.outcomes)
    file_tries = max((each.odds.seen[1] for each in step.outcomes if each.odds.seen), default=0)
    if is_stated and file_tries + logged.sum() == 0:
        return None
    groups, seen = _group_outcomes(step, stated, logged, file_tries)
    group_stated = np.array([stated[group].sum() for group in groups])
    posterior = learn_posterior(group_stated.tolist() if is_stated else None, seen, trust=trust)
    group_odds = posterior.single_odds()
    outcome_odds = np.zeros(len(stated))
    for group, odds, total in zip(groups, group_odds, group_stated, strict=True):
        outcome_odds[group] = odds * (stated[group] / total if total > 0 else 1 / len(group))
    if len(groups) < 2:
        return None
    return _Learned(groups, posterior, group_odds, outcome_odds)


def _group_outcomes(
    step: Step, stated: np.ndarray, logged: np.ndarray, file_tries: int
) -> tuple[list[list[int]], list[float]]:
    """Outcomes that are told apart, and how often each was seen.

    Outcomes without `seen` beside others that have it share the tries that are
    left; they were not told apart, and keep their stated proportion.
    """
    told = [n for n, each in enumerate(step.outcomes) if each.odds.seen or not file_tries]
    untold = [n for n in range(len(stated)) if n not in told]
    came = {n: (step.outcomes[n].odds.seen or (0, 0))[0] for n in told}
    groups = [[n] for n in told] + ([untold] if untold else [])
    seen = [logged[n] + came[n] for n in told]
    if untold:
        seen.append(logged[untold].sum() + file_tries - sum(came.values()))
    possible = [n for n, group in enumerate(groups) if stated[group].sum() > 0 or seen[n] > 0]
    return [groups[n] for n in possible], [float(seen[n]) for n in possible]


def _unsure(name: str, only_this: bool, learned: _Learned, first_written: int) -> UnsureStep:
    return UnsureStep(
        step=name,
        only_this_name=only_this,
        outcomes=tuple(
            tuple(first_written + number for number in group) for group in learned.groups
        ),
        posterior=learned.posterior,
        odds=tuple(learned.group_odds.tolist()),
    )


def _match_tries(route: Route, tries: Tries) -> _Tries:
    """Which written step, and which of its rungs, each logged step is."""
    found = _Tries()
    by_step: dict[str, dict[str, int]] = {}
    for (step, outcome), count in tries.items():
        if count > 0:
            own = by_step.setdefault(name_key(step), {})
            own[name_key(outcome)] = own.get(name_key(outcome), 0) + count
    if not by_step:
        return found
    places = find_steps(route, list(by_step))
    for step, counts in by_step.items():
        if len(places[step]) == 1:
            number, row = places[step][0]
            found.rows.setdefault(number, {})[row] = counts
        elif places[step]:
            found.cautions.append(
                f"the step name {step!r} is used at several stages, so its logged tries "
                "cannot be told apart; they are left out"
            )
        else:
            found.cautions.append(
                f"the log has tries of a step {step!r}, which the route has not; they are left out"
            )
    return found


def find_steps(route: Route, wanted: Sequence[str]) -> dict[str, list[tuple[int, int]]]:
    """Written step and rung of every step with one of these names; two rungs at most of each.

    Args:
        wanted: Names as `name_key` has them.
    """
    names = NameNumbers()
    handles = [names.note(step.name, Rungs(step.vary), step.table) for step in route.steps]
    one, head = Rungs({}), route.steps[0].table
    asked = {
        name: names.note(name, one, head) for name in wanted if "{" not in name and "}" not in name
    }
    names.settle()
    places: dict[str, list[tuple[int, int]]] = {name: [] for name in wanted}
    for name, handle in asked.items():
        number = names.numbers(handle)[0]
        for step, own in enumerate(handles):
            rows = np.flatnonzero(names.numbers(own) == number)
            places[name] += [(step, int(row)) for row in rows[:2]]
    return places
