"""What the effects of a route do to pieces on the table, as stages to go on from."""

from __future__ import annotations

import numpy as np

from advisor.errors import RouteFault
from advisor.routes.draft import ModelDraft
from advisor.routes.pools.changes import Adding, Clearing, Placing, Removing
from advisor.routes.pools.choosing import Choosing
from advisor.routes.pools.effects import Add, Choose, Clear, Effect, Join, Place, Redraw, Remove
from advisor.routes.pools.joining import Joining
from advisor.routes.pools.landing import Landing
from advisor.routes.pools.plain_stages import PlainStages
from advisor.routes.pools.pool_route import PoolRoute, PoolStep
from advisor.routes.pools.redrawing import COMES, SEE, Redrawing

Lead = tuple[np.ndarray, np.ndarray, np.ndarray]
"""For each way: position of the piece it starts at, the stage it leads to, and its share."""

Worker = Adding | Removing | Placing | Clearing | Joining | Redrawing | Choosing


class Working:
    """Every effect of one route, ready for use; equal effects are one.

    Args:
        pool_route: The route.
        landing: Where pieces come to.
        plain: Stages that are written by name.
    """

    def __init__(self, pool_route: PoolRoute, landing: Landing, plain: PlainStages) -> None:
        self.pool_route, self.landing, self.plain = pool_route, landing, plain
        self.workers: list[tuple[Effect, Worker]] = []
        self._labels: set[str] = set()
        for step in pool_route.steps:
            for effect in step.effects:
                if all(known != effect for known, _ in self.workers):
                    self.workers.append((effect, self._worker(effect, step)))

    def available(self, effect: Effect, rows: np.ndarray) -> np.ndarray:
        """Where an effect can be used, bool, shape (n,)."""
        return self._find(effect).available(rows)

    def lead(self, effect: Effect | None, rows: np.ndarray) -> Lead:
        """Where pieces come to by an effect; None: they stay as they are."""
        if effect is None:
            return np.arange(len(rows)), self.landing.number(rows), np.ones(len(rows))
        worker = self._find(effect)
        if isinstance(worker, Redrawing | Choosing):
            return worker.lead(rows)
        found = worker.branches(rows)
        targets = self.landing.number(found.rows)
        if isinstance(effect, Join) and isinstance(worker, Joining) and worker.to_other:
            share = worker.to_other
            other = np.full(len(rows), self.plain.number(effect.other or ""))
            return (
                np.concatenate([found.origin, np.arange(len(rows))]),
                np.concatenate([targets, other]),
                np.concatenate([found.odds * (1 - share), np.full(len(rows), share)]),
            )
        return found.origin, targets, found.odds

    def add_waiting(self, draft: ModelDraft, steps: list[str]) -> bool:
        """Add what follows at stages of redraws and offers that are new; whether any were."""
        any_waiting = False
        for _, worker in self.workers:
            if isinstance(worker, Redrawing):
                if SEE not in steps:
                    steps.append(SEE)
                any_waiting |= worker.add_waiting(draft, steps.index(SEE))
            elif isinstance(worker, Choosing):
                any_waiting |= worker.add_waiting(draft, steps)
        return any_waiting

    def _find(self, effect: Effect) -> Worker:
        return next(worker for known, worker in self.workers if known == effect)

    def _worker(self, effect: Effect, step: PoolStep) -> Worker:
        """The worker of one effect."""
        pieces = self.landing.pieces
        worker: Worker
        match effect:
            case Redraw():
                label = self._label(step, COMES)
                worker = Redrawing(effect, self.landing, label=label)
            case Choose():
                worker = Choosing(effect, self.landing, label=self._label(step, "offered"))
            case Add():
                worker = Adding(pieces, effect)
            case Remove():
                worker = Removing(pieces, effect)
            case Place():
                worker = Placing(pieces, effect, at_most=self.pool_route.pool.placed_at_most)
            case Clear():
                worker = Clearing(pieces, effect)
            case Join():
                worker = self._joining(effect, step)
        return worker

    def _joining(self, effect: Join, step: PoolStep) -> Joining:
        def missing(size: int) -> RouteFault:
            return step.step.table.fault(
                f"{size} affixes of one kind can lie in the pot, and the pool "
                f"{self.pool_route.pool.name!r} does not say how many are kept",
                "effect",
                right=f"write {size} = {{ 1 = 1 }} in its [pool.survivors]",
            )

        survivors = dict(self.pool_route.pool.survivors)
        return Joining(self.landing.pieces, effect, survivors=survivors, missing=missing)

    def _label(self, step: PoolStep, what: str) -> str:
        """A name for the stages of an effect that no other effect has."""
        label = f"{step.step.name}: {what}"
        number = 2
        while label in self._labels:
            label = f"{step.step.name} ({number}): {what}"
            number += 1
        self._labels.add(label)
        return label
