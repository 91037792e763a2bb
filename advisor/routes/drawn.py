"""Steps that draw: chance goes on from a stage of the draw, which at the table is one step."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from advisor.routes.pools.redrawing import SEE
from advisor.routes.stages import STEP, StageModel

Way = tuple[int, ...]
"""Rows of the outcomes an action comes to: its own, and what a draw then gives."""


class DrawnOutcomes:
    """What actions of a model come to, a draw taken as one with the step that makes it.

    Args:
        model: The stages of a route; only those of a pool draw.
    """

    def __init__(self, model: StageModel) -> None:
        self.model = model
        actions = np.arange(len(model.action_stage) + 1)
        self._first_row = np.searchsorted(model.outcome_action, actions)
        self._drawing = self._find_draws()

    def _find_draws(self) -> dict[int, int]:
        """The stages of draws, and the action by which chance goes on there."""
        model = self.model
        if model.outcome_written is None or SEE not in model.steps:
            return {}
        goes_on = model.action_step == list(model.steps).index(SEE)
        of_no_file = model.outcome_written[self._first_row[:-1]] < 0
        found = np.flatnonzero((model.action_kind == STEP) & goes_on & of_no_file)
        return {int(model.action_stage[action]): action for action in found.tolist()}

    def rows(self, action: int) -> range:
        """The rows of an action's own outcomes."""
        return range(int(self._first_row[action]), int(self._first_row[action + 1]))

    def ways(self, action: int) -> Iterator[Way]:
        """Every way an action may come out."""
        for row in self.rows(action):
            draw = self._drawing.get(int(self.model.outcome_stage[row]))
            if draw is None:
                yield (row,)
            else:
                yield from ((row, drawn) for drawn in self.rows(draw))
