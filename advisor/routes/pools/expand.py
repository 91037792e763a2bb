"""A route with a pool, made into stages: the pieces that can come, and what leads to what.

From the pieces that steps put on the table every effect is followed until no new
piece comes. Pieces that meet the finish are one stage (with `sale`: one for each
set of grades they meet), where the route ends. A redraw leads to a stage of its
own, from which chance goes on: all pieces share it, so that the route has one
list of what a redraw gives instead of one for each piece. Likewise what is offered
by `choose` is a stage with a choice.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.routes.amounts import ItemAmount
from advisor.routes.build import ItemNumbers
from advisor.routes.draft import ModelDraft
from advisor.routes.pools.landing import Landing
from advisor.routes.pools.lumping import BY_USE, lump_affixes
from advisor.routes.pools.meeting import meets
from advisor.routes.pools.parts import Pieces, list_pieces
from advisor.routes.pools.plain_stages import PlainStages
from advisor.routes.pools.pool import Pool
from advisor.routes.pools.pool_market import PoolMarket
from advisor.routes.pools.pool_route import (
    PoolOutcome,
    PoolRoute,
    PoolStep,
    read_pool_route,
    refuse_unknown_targets,
)
from advisor.routes.pools.read_pool import find_pool
from advisor.routes.pools.working import Working
from advisor.routes.route import Route
from advisor.routes.stages import STEP, StageModel
from advisor.routes.stated import refuse_too_many_stages
from advisor.routes.vary import Rungs, fill_braces

PIECES_AT_ONCE = 20_000
"""Pieces worked on together; bounds the memory for what may come of them."""


def expand_pool_route(
    route: Route,
    pool: Pool | None = None,
    *,
    goal: str,
    money: str,
    odds: Sequence[np.ndarray],
    buyable: Collection[str] | None = None,
    sellable: Collection[str] | None = None,
    how: str = BY_USE,
) -> StageModel:
    """Make the stage model of a route with a pool.

    Args:
        route: The route as read.
        pool: Its pool; None: read it from the folder `pools` beside the route's folder.
        goal: "keep" or "sale" (a grade that is met can be sold).
        money: The item that fees without a money are in.
        odds: For each written step, shape (outcomes, rungs).
        buyable, sellable: Items with a price, as `name_key` has them; None: all.
        how: How affixes are lumped; the answers are the same.

    Raises:
        RouteFault: what POOLS refuse: unknown names, a want that cannot be met, an effect
            that can be used on no piece, a pot size without survivors, too many stages.
    """
    settings = route.pool
    if settings is None:
        raise route.fault("the route names no pool", right='write pool = "..." in [route]')
    if pool is None:
        pool = find_pool(route.file.parent.parent / "pools", settings.pool)
    refuse_too_many_stages(route)
    pool_route = read_pool_route(route, settings, pool)
    symbols = lump_affixes(
        pool, pool_route.base, pool_route.item_level, mentions=pool_route.mentions, how=how
    )
    expansion = _Expansion(pool_route, list_pieces(symbols), goal=goal, money=money, how=how)
    return expansion.run(odds, buyable, sellable)


@dataclass(frozen=True)
class _Turn:
    """One step being taken: its actions, and for each the piece on the table and the rung."""

    step: PoolStep
    actions: np.ndarray
    rows: np.ndarray | None
    rung: np.ndarray


class _Expansion:
    """One route being expanded."""

    def __init__(
        self, pool_route: PoolRoute, pieces: Pieces, *, goal: str, money: str, how: str
    ) -> None:
        self.pool_route, self.pieces = pool_route, pieces
        self.goal, self.money = goal, money
        self.draft, self.items = ModelDraft(), ItemNumbers()
        self.plain = PlainStages(pool_route)
        self.landing = Landing(pool_route, pieces, self.plain, goal=goal, how=how)
        self.working = Working(pool_route, self.landing, self.plain)
        self.steps: list[str] = []
        self.used: set[int] = set()

    def run(
        self,
        odds: Sequence[np.ndarray],
        buyable: Collection[str] | None,
        sellable: Collection[str] | None,
    ) -> StageModel:
        """Follow every step from every stage that comes."""
        refuse_unknown_targets(self.pool_route, self.plain.left)
        self.odds = odds
        self.step_numbers = [self._name_steps(each) for each in self.pool_route.steps]
        for number, step in enumerate(self.pool_route.steps):
            if step.when is None:
                self._add_from_plain(number, step)
        while True:
            codes, stages = self.landing.take_new_pieces()
            for first in range(0, len(codes), PIECES_AT_ONCE):
                chunk = slice(first, first + PIECES_AT_ONCE)
                self._add_on_pieces(stages[chunk], self.pieces.rows(codes[chunk]))
            if not self.working.add_waiting(self.draft, self.steps) and not len(codes):
                break
        self._refuse_unused()
        self.landing.refuse_unreached_finish()
        market = PoolMarket(self.pool_route, self.landing, self.plain, goal=self.goal)
        market.add(self.draft, self.items, buyable=buyable, sellable=sellable)
        return self.draft.finish(
            stages=self.landing.stages,
            start=self.plain.start,
            done=self.landing.done(),
            steps=self.steps,
            items=self.items.texts(),
        )

    def _name_steps(self, step: PoolStep) -> np.ndarray:
        """Numbers of the step's names, one for each rung."""
        rungs = Rungs(step.step.vary)
        first = len(self.steps)
        self.steps += [
            fill_braces(step.step.name, rungs, step.step.table, row=row)
            for row in range(rungs.count)
        ]
        return np.arange(first, len(self.steps))

    def _add_from_plain(self, number: int, step: PoolStep) -> None:
        rungs = Rungs(step.step.vary)
        stages = self.plain.numbers(step.step.start or "", step.step, rungs)
        rows = None
        if step.put is not None:
            symbols = [self.pieces.symbols.symbol_of(each) for each in step.put]
            rows = np.tile(self.pieces.of(symbols), (rungs.count, 1))
        self._add_step(number, stages=stages, rows=rows, rung=np.arange(rungs.count))

    def _add_on_pieces(self, stages: np.ndarray, rows: np.ndarray) -> None:
        for number, step in enumerate(self.pool_route.steps):
            if step.when is None:
                continue
            fits = meets(step.when, self.pieces, rows)
            on_table = rows
            if step.put is not None:
                symbols = [self.pieces.symbols.symbol_of(each) for each in step.put]
                on_table = np.tile(self.pieces.of(symbols), (len(rows), 1))
            for effect in step.effects:
                fits &= self.working.available(effect, on_table)
            if not fits.any():
                continue
            for rung in range(Rungs(step.step.vary).count):
                rungs = np.full(int(fits.sum()), rung)
                self._add_step(number, stages=stages[fits], rows=on_table[fits], rung=rungs)

    def _add_step(
        self,
        number: int,
        *,
        stages: np.ndarray,
        rows: np.ndarray | None,
        rung: np.ndarray,
    ) -> None:
        """Add one step at these stages, with these pieces on the table, in these rungs."""
        self.used.add(number)
        actions = self.draft.add_actions(stages, STEP, steps=self.step_numbers[number][rung])
        turn = _Turn(self.pool_route.steps[number], actions, rows, rung)
        for outcome, odds in zip(turn.step.outcomes, self.odds[number], strict=True):
            self._add_outcome(turn, outcome, odds[rung])

    def _add_outcome(self, turn: _Turn, outcome: PoolOutcome, odds: np.ndarray) -> None:
        step = turn.step.step
        rungs = Rungs(step.vary)
        minutes = rungs.numbers(step.minutes, step.table)
        minutes = minutes + rungs.numbers(outcome.outcome.minutes, step.table)
        if turn.rows is None or not outcome.keeps_piece:
            origin, share = np.arange(len(turn.actions)), np.ones(len(turn.actions))
            targets = self.plain.numbers(outcome.outcome.stage, step, rungs)[turn.rung]
        else:
            origin, targets, share = self.working.lead(outcome.effect, turn.rows)
        added = self.draft.add_outcomes(
            turn.actions[origin],
            targets,
            odds=odds[origin] * share,
            minutes=minutes[turn.rung[origin]],
            written=outcome.written,
        )
        for each in step.uses + outcome.outcome.uses:
            self.draft.add_uses(added, *self._amounts(each, turn.step, turn.rung[origin]))
        for each in step.gives + outcome.outcome.gives:
            self.draft.add_gives(added, *self._amounts(each, turn.step, turn.rung[origin]))

    def _amounts(
        self, each: ItemAmount, step: PoolStep, rung: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Item number and units in each of these rungs."""
        rungs, table = Rungs(step.step.vary), step.step.table
        units = rungs.numbers(each.amount, table)
        item = each.item or self.money
        if "{" not in item and "}" not in item:
            return np.full(len(rung), self.items.number(item)), units[rung]
        numbers = [
            self.items.number(fill_braces(item, rungs, table, row=row))
            for row in range(rungs.count)
        ]
        return np.array(numbers)[rung], units[rung]

    def _refuse_unused(self) -> None:
        for number, step in enumerate(self.pool_route.steps):
            if number not in self.used and step.when is not None:
                raise step.step.table.fault(
                    "can be used on no piece that comes onto the table",
                    "when",
                    right="no such piece is reached, or its effect fits none of them",
                )
