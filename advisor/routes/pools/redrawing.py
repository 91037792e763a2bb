"""A redraw: one stage for everything it is done to alike, from which chance goes on."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from advisor.routes.draft import ModelDraft
from advisor.routes.pools.clocks import redraw_law
from advisor.routes.pools.draws import Drawing
from advisor.routes.pools.effects import Redraw
from advisor.routes.pools.landing import Landing
from advisor.routes.pools.piece_stages import BARE
from advisor.routes.stages import STEP

SEE = "see what comes"
"""The name of the action by which chance goes on."""

COMES = "what comes"
"""What the stages of a redraw are called, behind the name of its step."""


def step_of_user(step: str, stage: str) -> str:
    """The step as its user knows it: at a redraw's own stage, the step that is the redraw."""
    return stage.partition(f": {COMES}")[0] if step == SEE else step


class Redrawing:
    """One redraw effect.

    Args:
        effect: The redraw.
        landing: Where pieces come to.
        label: What its stages are called after.
    """

    def __init__(self, effect: Redraw, landing: Landing, *, label: str) -> None:
        self.effect, self.landing, self.label = effect, landing, label
        self.pieces = landing.pieces
        self.leaving = [
            number
            for number, each in enumerate(self.pieces.symbols.kinds)
            if effect.kind in (None, each)
        ]
        self._stages: dict[int, int] = {}
        self._waiting: list[int] = []

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Any piece can be redrawn."""
        return np.ones(len(rows), dtype=bool)

    def lead(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each piece goes to the stage of what stays on it."""
        staying = rows.copy()
        staying[:, self.leaving] = 0
        codes, which = np.unique(self.pieces.code(staying), return_inverse=True)
        for code in codes.tolist():
            if code not in self._stages:
                self._stages[code] = self._new_stage(code)
                self._waiting.append(code)
        numbers = np.array([self._stages[code] for code in codes.tolist()], dtype=np.int64)
        return np.arange(len(rows)), numbers[which.ravel()], np.ones(len(rows))

    def _new_stage(self, code: int) -> int:
        kept = self.landing.names.of_code(code)
        name = self.label if kept == BARE else f"{self.label} beside {kept}"
        return int(self.landing.stages.add_run(1, lambda _: name)[0])

    def add_waiting(self, draft: ModelDraft, step: int) -> bool:
        """Add what comes at the stages that are new; whether there were any.

        Args:
            draft: Takes the actions.
            step: The number of the step called `SEE`.
        """
        codes, self._waiting = self._waiting, []
        for code in codes:
            rows, odds = self._law(code)
            ends, which = np.unique(self.landing.number(rows), return_inverse=True)
            summed = np.bincount(which.ravel(), weights=odds).astype(np.longdouble)
            summed /= summed.sum()
            action = draft.add_actions(np.array([self._stages[code]]), STEP, steps=step)
            draft.add_outcomes(np.full(len(ends), action[0]), ends, odds=summed.astype(float))
        return bool(codes)

    def _law(self, code: int) -> tuple[np.ndarray, np.ndarray]:
        """What may be on the piece afterwards, and the odds."""
        staying = self.pieces.rows(np.array([code]))
        if self.pieces.symbols.separable:
            rows, odds = self._fresh_law
            return rows + staying, odds
        drawing = Drawing(self.pieces, (self.effect.set, self.effect.kind))
        found = drawing.draw_counted(staying, self.effect.count)
        return found.rows, found.odds

    @cached_property
    def _fresh_law(self) -> tuple[np.ndarray, np.ndarray]:
        draw = (self.effect.set, self.effect.kind)
        return redraw_law(self.pieces, draw, self.effect.count)
