"""A route as written, made into stages, actions and outcomes."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.names import name_key
from advisor.routes.amounts import ItemAmount
from advisor.routes.draft import ModelDraft
from advisor.routes.learned import learn_odds
from advisor.routes.market import add_market
from advisor.routes.name_numbers import NameNumbers
from advisor.routes.route import Route, Step
from advisor.routes.stages import STEP, StageModel
from advisor.routes.stated import (
    refuse_repeated_steps,
    refuse_too_many_stages,
    refuse_unknown_stages,
)
from advisor.routes.vary import Rungs

GOALS = ("keep", "sale")


@dataclass(frozen=True)
class WrittenStep:
    """A step with its rungs and the handles of its names."""

    step: Step
    rungs: Rungs
    name: int
    start: int
    targets: tuple[int, ...]
    first_written: int


@dataclass(frozen=True)
class RouteNames:
    """All stages, steps and items of a route by number.

    Attributes:
        stages, steps, items: Names to numbers.
        start, finish: Stage numbers.
        market: Stage number of each market stage, in the order of the file.
        written: The steps in the order of the file.
    """

    stages: NameNumbers
    steps: NameNumbers
    items: ItemNumbers
    start: int
    finish: int
    market: tuple[int, ...]
    written: tuple[WrittenStep, ...]


def build_stages(
    route: Route,
    *,
    goal: str,
    money: str,
    odds: Sequence[np.ndarray] | None = None,
    buyable: Collection[str] | None = None,
    sellable: Collection[str] | None = None,
) -> StageModel:
    """Make the stage model of a route.

    A route with a pool is made by `advisor.routes.pools`.

    Args:
        route: The route as read.
        goal: "keep" (the piece is wanted) or "sale" (profit; one may stop).
        money: The item that fees without a money are in.
        odds: For each written step, shape (outcomes, rungs): the odds to use, from
            `learn_odds`; None: as the file has them, tries taken in.
        buyable, sellable: Items with a price to buy or sell at, as `name_key` has
            them; a market stage of another item offers no buy in or sell out. None: all.

    Raises:
        RouteFault: an unknown stage, a repeated step, odds that do not sum to 1, more
            than five million stages, a finish that steps leave or that none leads to.
    """
    if odds is None:
        odds = learn_odds(route).odds
    if route.pool is not None:
        from advisor.routes.pools.expand import expand_pool_route

        return expand_pool_route(
            route, goal=goal, money=money, odds=odds, buyable=buyable, sellable=sellable
        )
    names = _number_names(route)
    draft = ModelDraft()
    for written, own_odds in zip(names.written, odds, strict=True):
        _add_step(draft, written, own_odds, names, money)
    stages = names.stages.texts()
    done = np.zeros(len(stages), dtype=bool)
    done[names.finish] = True
    add_market(draft, route, names, done, goal=goal, buyable=buyable, sellable=sellable)
    return draft.finish(
        stages=stages,
        start=names.start,
        done=done,
        steps=names.steps.texts(),
        items=names.items.texts(),
    )


class ItemNumbers:
    """Numbers for item names written out in full."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._texts: list[str] = []

    def number(self, item: str) -> int:
        """The number of an item, new or known; spellings of one name are one item."""
        key = name_key(item)
        if key not in self._numbers:
            self._numbers[key] = len(self._texts)
            self._texts.append(" ".join(item.split()))
        return self._numbers[key]

    def texts(self) -> list[str]:
        """The items by number."""
        return list(self._texts)


def _number_names(route: Route) -> RouteNames:
    one = Rungs({})
    head = route.steps[0].table
    stages, step_names = NameNumbers(), NameNumbers()
    start = stages.note(route.start, one, head)
    written = []
    first_written = 0
    refuse_too_many_stages(route)
    for step in route.steps:
        rungs = Rungs(step.vary)
        written.append(
            WrittenStep(
                step=step,
                rungs=rungs,
                name=step_names.note(step.name, rungs, step.table),
                start=stages.note(step.start or "", rungs, step.table),
                targets=tuple(
                    stages.note(outcome.stage, rungs, step.table) for outcome in step.outcomes
                ),
                first_written=first_written,
            )
        )
        first_written += len(step.outcomes)
    finish = stages.note(route.finish, one, head)
    market = [stages.note(each.stage, one, head) for each in route.market]
    stages.settle()
    step_names.settle()
    names = RouteNames(
        stages=stages,
        steps=step_names,
        items=ItemNumbers(),
        start=int(stages.numbers(start)[0]),
        finish=int(stages.numbers(finish)[0]),
        market=tuple(int(stages.numbers(each)[0]) for each in market),
        written=tuple(written),
    )
    refuse_unknown_stages(route, names)
    refuse_repeated_steps(route, names)
    return names


def _add_step(
    draft: ModelDraft, written: WrittenStep, odds: np.ndarray, names: RouteNames, money: str
) -> None:
    """Add one written step: an action for each of its rungs."""
    step, rungs = written.step, written.rungs
    actions = draft.add_actions(
        names.stages.numbers(written.start), STEP, steps=names.steps.numbers(written.name)
    )
    minutes = rungs.numbers(step.minutes, step.table)
    for number, outcome in enumerate(step.outcomes):
        rows = draft.add_outcomes(
            actions,
            names.stages.numbers(written.targets[number]),
            odds=odds[number],
            minutes=minutes + rungs.numbers(outcome.minutes, step.table),
            written=written.first_written + number,
        )
        uses, gives = step.uses + outcome.uses, step.gives + outcome.gives
        for each in uses:
            draft.add_uses(rows, *_item_rows(each, written, names.items, money))
        for each in gives:
            draft.add_gives(rows, *_item_rows(each, written, names.items, money))


def _item_rows(
    each: ItemAmount, written: WrittenStep, items: ItemNumbers, money: str
) -> tuple[np.ndarray | int, np.ndarray]:
    """Item number (one where its name does not vary) and units in each row."""
    units = written.rungs.numbers(each.amount, written.step.table)
    item = each.item or money
    if "{" not in item and "}" not in item:
        return items.number(item), units
    found = NameNumbers()
    handle = found.note(item, written.rungs, written.step.table)
    found.settle()
    known = np.array([items.number(text) for text in found.texts()], dtype=np.int64)
    return known[found.numbers(handle)], units
