"""Odds as stated beside odds as they came: each step of a route that was tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.surprise import correct_for_many, two_sided_chance
from advisor.names import name_key
from advisor.routes.learned import Tries, UnsureStep, find_steps, learn_odds
from advisor.routes.odds import UNSTATED
from advisor.routes.posterior import OddsPosterior
from advisor.routes.route import Route, Step
from advisor.routes.step_odds import stated_odds
from advisor.routes.vary import Rungs, fill_braces

SURPRISING = 0.05


@dataclass(frozen=True)
class StepLuck:
    """One outcome of a step that was tried.

    Attributes:
        step, outcome: As the route has them.
        tries: How often the step was tried.
        seen: How often it came to this.
        stated: Odds as the file has them; None where it states none.
        mean, low_95, high_95: What is known of the odds now, tries and file together.
        surprise: Chance of a count at least as unlikely if the stated odds are true; None
            without stated odds.
        corrected: The same, corrected for all comparisons made; None likewise.
    """

    step: str
    outcome: str
    tries: int
    seen: int
    stated: float | None
    mean: float
    low_95: float
    high_95: float
    surprise: float | None
    corrected: float | None = None

    @property
    def is_surprising(self) -> bool:
        """Whether the stated odds are hard to believe, however many were compared."""
        return self.corrected is not None and self.corrected < SURPRISING


def judge_steps(
    route: Route, tries: Tries, *, trust: float
) -> tuple[tuple[StepLuck, ...], tuple[str, ...]]:
    """Every outcome of every step with several that was tried, in the order of the file.

    A step with two outcomes is one comparison: the one comes where the other does not.

    Returns: The outcomes; tries that could not be used, in words.
    """
    learned = learn_odds(route, trust=trust, tries=tries)
    by_name = {name_key(each.step): each for each in learned.unsure if each.only_this_name}
    counts: dict[str, dict[str, int]] = {}
    for (step, outcome), count in tries.items():
        own = counts.setdefault(name_key(step), {})
        own[name_key(outcome)] = own.get(name_key(outcome), 0) + count
    places = find_steps(route, list(counts)) if counts else {}
    tried = [
        (*where[0], name) for name, where in places.items() if len(where) == 1 and name in by_name
    ]
    found: list[StepLuck] = []
    for number, row, name in sorted(tried):
        first = sum(len(step.outcomes) for step in route.steps[:number])
        found += _judge_step(route.steps[number], row, by_name[name], first, counts[name])
    return tuple(_corrected(found)), learned.cautions


def _judge_step(
    step: Step, row: int, known: UnsureStep, first_written: int, counts: dict[str, int]
) -> list[StepLuck]:
    rungs = Rungs(step.vary)
    stated = stated_odds(step, rungs)[:, row]
    is_stated = all(outcome.odds.kind != UNSTATED for outcome in step.outcomes)
    stages = [
        " ".join(fill_braces(outcome.stage, rungs, step.table, row=row).split())
        for outcome in step.outcomes
    ]
    seen = [counts.get(name_key(stage), 0) for stage in stages]
    found = []
    for number, stage in enumerate(stages):
        odds = float(stated[number]) if is_stated else None
        mean, low, high = _interval(known, first_written + number, stated, first_written)
        surprise = None if odds is None else two_sided_chance(seen[number], sum(seen), odds=odds)
        found.append(
            StepLuck(
                step=" ".join(fill_braces(step.name, rungs, step.table, row=row).split()),
                outcome=stage,
                tries=sum(seen),
                seen=seen[number],
                stated=odds,
                mean=mean,
                low_95=low,
                high_95=high,
                surprise=surprise,
            )
        )
    return found


def _interval(
    known: UnsureStep, written: int, stated: np.ndarray, first_written: int
) -> tuple[float, float, float]:
    """Mean and central 95 % of an outcome's odds; of outcomes not told apart, its stated part."""
    for place, group in enumerate(known.outcomes):
        if written in group:
            total = sum(stated[each - first_written] for each in group)
            part = float(stated[written - first_written] / total) if len(group) > 1 else 1.0
            return _scaled(known.posterior, place, part)
    return 0.0, 0.0, 0.0


def _scaled(posterior: OddsPosterior, place: int, part: float) -> tuple[float, float, float]:
    return (
        part * float(posterior.mean()[place]),
        part * posterior.quantile(place, 0.025),
        part * posterior.quantile(place, 0.975),
    )


def comparisons_made(found: Sequence[StepLuck]) -> int:
    """How many counts were held against their odds; two outcomes of a step are one."""
    return len(_compared(found))


def _compared(found: Sequence[StepLuck]) -> list[list[int]]:
    """The places of each comparison: one outcome, or the two of a step with two."""
    own: dict[str, list[int]] = {}
    for place, each in enumerate(found):
        if each.surprise is not None:
            own.setdefault(name_key(each.step), []).append(place)
    asked: list[list[int]] = []
    for places in own.values():
        asked += [places] if len(places) == 2 else [[place] for place in places]
    return asked


def _corrected(found: Sequence[StepLuck]) -> list[StepLuck]:
    """The same with every surprise corrected for the comparisons made."""
    asked = _compared(found)
    chances = correct_for_many([found[places[0]].surprise or 0.0 for places in asked])
    corrected = {
        place: chance for places, chance in zip(asked, chances, strict=True) for place in places
    }
    return [replace(each, corrected=corrected.get(place)) for place, each in enumerate(found)]
