"""Outcomes as moves on stage and money left together, and the chances that follow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import floor

import numpy as np

from advisor.routes.actions import tabulate_actions
from advisor.routes.lattice import find_common_step, split_onto_lattice
from advisor.routes.stages import StageModel

CELLS_THAT_FIT = 2**13
CELLS = 2**11
FEWEST_CELLS = 2**7
PLACES_AT_MOST = 2**26
SETTLED = 1e-14
SWEPT = 1e-11
SWEEPS_AT_MOST = 20_000


@dataclass(frozen=True)
class _Part:
    """Some outcomes: target, cell and odds of each, where each action begins, which it is."""

    target: np.ndarray
    cell: np.ndarray
    odds: np.ndarray
    first: np.ndarray
    action: np.ndarray


@dataclass(frozen=True)
class AffordableOutcomes:
    """Outcomes with what they cost in cells of money, each on one cell.

    Attributes:
        step: Money per cell.
        fits: No amount had to be split between two cells.
        budget_cell: The cell of the money at hand.
        top: The highest cell counted; money beyond it is left aside.
        start: The stage one starts from, numbered as in `stages`.
        stages: int, shape (n,): the stages where there is something to do.
        actions: int, shape (m,): the actions' indices in the route.
        action_stage: int, shape (m,): numbered as in `stages`, ascending.
        action: int, shape (q,): the action of each outcome, 0..m-1, ascending.
        target: int, shape (q,): the stage it leads to, -1 at an end.
        cell: int, shape (q,): cells it costs.
        odds: float, shape (q,).
    """

    step: float
    fits: bool
    budget_cell: int
    top: int
    start: int
    stages: np.ndarray
    actions: np.ndarray
    action_stage: np.ndarray
    action: np.ndarray
    target: np.ndarray
    cell: np.ndarray
    odds: np.ndarray

    def only(self, chosen: np.ndarray) -> AffordableOutcomes:
        """The same with one action (its index in the route) at each stage."""
        position = np.searchsorted(self.actions, chosen)
        number = np.full(len(self.actions), -1)
        number[position] = np.arange(len(position))
        kept = number[self.action] >= 0
        return replace(
            self,
            actions=chosen,
            action_stage=np.arange(len(chosen)),
            action=number[self.action[kept]],
            target=self.target[kept],
            cell=self.cell[kept],
            odds=self.odds[kept],
        )

    def solve(self) -> np.ndarray:
        """The best chance to reach an end, shape (top + 1, n), by money left and stage."""
        chances = np.zeros((self.top + 1, len(self.stages)))
        for _ in range(SWEEPS_AT_MOST):
            change = self._sweep(chances)
            if not self._gives_back or change <= SWEPT:
                break
        return chances

    def act_once(self, after: np.ndarray) -> np.ndarray:
        """Chances when the best of the actions is taken once and `after` holds from then on."""
        cells = np.arange(self.top + 1)
        taken = np.zeros_like(after)
        for begin in range(0, len(cells), 256):
            block = cells[begin : begin + 256]
            taken[block] = self._best(self._collect(after, block, self._all))
        return taken

    def best_action(self, after: np.ndarray, cell: int, stage: int) -> int:
        """The first action with the best chance at one place, as an index in the route."""
        chances = self._collect(after, np.array([cell]), self._all)[0]
        here = np.flatnonzero(self.action_stage == stage)
        good = chances[here] >= chances[here].max() - 1e-12
        return int(self.actions[here[good][0]])

    def follow_until(self, halted: np.ndarray) -> np.ndarray:
        """Places met from the start when one action is set at each stage and halts stop it."""
        met = np.zeros_like(halted)
        met[self.budget_cell, self.start] = True
        frontier: tuple[np.ndarray, ...] = (np.array([self.budget_cell]), np.array([self.start]))
        by_stage: list[list[tuple[int, int]]] = [[] for _ in self.stages]
        for action, onto, cost in zip(self.action, self.target, self.cell, strict=True):
            if onto >= 0:
                by_stage[self.action_stage[action]].append((int(onto), int(cost)))
        while len(frontier[0]):
            fresh = np.zeros_like(met)
            going = ~halted[frontier]
            cells, stages = frontier[0][going], frontier[1][going]
            for stage in np.unique(stages):
                here = cells[stages == stage]
                for onto, cost in by_stage[stage]:
                    left = here - cost
                    fresh[np.minimum(left[left >= 0], self.top), onto] = True
            fresh &= ~met
            met |= fresh
            frontier = np.nonzero(fresh)
        return met

    @cached_property
    def _gives_back(self) -> bool:
        return bool((self.cell < 0).any())

    @cached_property
    def _pays(self) -> np.ndarray:
        return (self.cell > 0) | (self.target < 0)

    @cached_property
    def _action_starts(self) -> np.ndarray:
        return np.searchsorted(self.action_stage, np.arange(len(self.stages)))

    def _sweep(self, chances: np.ndarray) -> float:
        """Improve all chances once, poorest first, in blocks that only look below; the change."""
        dear = self.cell[(self.cell > 0) & (self.target >= 0)]
        height = int(dear.min()) if len(dear) else self.top + 1
        change = 0.0
        for begin in range(0, self.top + 1, min(height, 512)):
            block = np.arange(begin, min(begin + min(height, 512), self.top + 1))
            paid = self._collect(chances, block, self._paid)
            for _ in range(SWEEPS_AT_MOST):
                free = self._collect(chances, block, self._free)
                found = np.maximum(self._best(paid + free), chances[block])
                rise = float(np.max(found - chances[block], initial=0.0))
                chances[block] = found
                change = max(change, rise)
                if rise <= SETTLED or self._pays.all():
                    break
        return change

    def _part(self, which: np.ndarray) -> _Part:
        """Some of the outcomes, as `_collect` wants them."""
        action = self.action[which]
        first = np.flatnonzero(np.diff(action, prepend=-1))
        return _Part(self.target[which], self.cell[which], self.odds[which], first, action[first])

    @cached_property
    def _all(self) -> _Part:
        return self._part(np.ones(len(self.odds), dtype=bool))

    @cached_property
    def _paid(self) -> _Part:
        return self._part(self._pays)

    @cached_property
    def _free(self) -> _Part:
        return self._part(~self._pays)

    def _collect(self, chances: np.ndarray, block: np.ndarray, part: _Part) -> np.ndarray:
        """Sum of odds times chance over some outcomes, by money left and action."""
        total = np.zeros((len(block), len(self.actions)))
        if not len(part.odds):
            return total
        left = np.minimum(block[:, None] - part.cell[None, :], self.top)
        chance = np.where(part.target < 0, 1.0, chances[np.maximum(left, 0), part.target])
        weighted = np.where(left >= 0, part.odds * chance, 0.0)
        total[:, part.action] = np.add.reduceat(weighted, part.first, axis=1)
        return total

    def _best(self, by_action: np.ndarray) -> np.ndarray:
        return np.asarray(np.maximum.reduceat(by_action, self._action_starts, axis=1))


def gather_affordable(
    model: StageModel, acting: np.ndarray, outcome_costs: np.ndarray, *, budget: float
) -> AffordableOutcomes | None:
    """The outcomes of the acting stages on a lattice of money; None if there are too many places.

    Args:
        model: The route.
        acting: bool, shape (n,): the stages that count.
        outcome_costs: Cost of each outcome, shape (k,).
        budget: Money at hand.
    """
    table = tabulate_actions(model)
    counted = acting[model.action_stage[model.outcome_action]] & (table.odds > 0)
    kept = np.flatnonzero(counted)
    costs = outcome_costs[kept]
    room = PLACES_AT_MOST // int(acting.sum())
    if room < FEWEST_CELLS:
        return None
    step = find_common_step(costs)
    if step is None or budget / step > min(CELLS_THAT_FIT, room // 2):
        step = max(budget, 1e-300) / min(CELLS, room // 2)
    split = split_onto_lattice(costs, step)
    actions = np.flatnonzero(acting[model.action_stage])
    stages = np.flatnonzero(acting)
    target = np.where(table.ends[kept], -1, np.searchsorted(stages, model.outcome_stage[kept]))
    action = np.searchsorted(actions, model.outcome_action[kept])
    above = split.share > 0
    order = np.argsort(np.concatenate((action, action[above])), kind="stable")
    budget_cell = floor(budget / step + 1e-9)
    most_back = int(max(0, -split.cell.min(initial=0)))
    return AffordableOutcomes(
        step=step,
        fits=not bool(above.any()),
        budget_cell=budget_cell,
        top=budget_cell + min(budget_cell + 8 * most_back, room // 2) * bool(most_back),
        start=int(np.searchsorted(stages, model.start)),
        stages=stages,
        actions=actions,
        action_stage=np.searchsorted(stages, model.action_stage[actions]),
        action=np.concatenate((action, action[above]))[order],
        target=np.concatenate((target, target[above]))[order],
        cell=np.concatenate((split.cell, split.cell[above] + 1))[order],
        odds=np.concatenate(
            (table.odds[kept] * (1 - split.share), (table.odds[kept] * split.share)[above])
        )[order],
    )
