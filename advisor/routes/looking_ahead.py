"""Better choices found by looking several steps ahead, before a way is worked out anew.

An action that may leave everything as it is counts as repeated until the stage is
left. Sweeps over all actions spread news one step at a time; a correction spreads
what is left to all stages at once, as if the way last worked out were still taken.
It is kept only if it leaves less; where it never does, more sweeps are made. What
comes out suggests a way and proves nothing.

Source: modified policy iteration, Puterman & Shin, Management Science 24 (1978)
1127-1137; the correction as Newton's method with a derivative kept, Puterman &
Brumelle, Mathematics of Operations Research 4 (1979) 60-69.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.actions import ActionTable

SWEEPS = 5
MORE_SWEEPS = 5
CORRECTIONS = 12
FALL = 0.6
SETTLED = 1e-12


@dataclass(frozen=True)
class LeavingActions:
    """Each action taken again and again until its stage is left.

    Attributes:
        moves: csr, shape (m, n): odds of going on to each other stage.
        costs: float, shape (m,): mean cost until then.
        leave: float, shape (m,): odds that one try leaves; 1 where none ever does.
        first: int, shape (n,): the first action of each stage.
    """

    moves: csr_array
    costs: np.ndarray
    leave: np.ndarray
    first: np.ndarray

    def ahead(self, value: np.ndarray) -> np.ndarray:
        """Cost to go with each action, shape (m,), at a value of each stage."""
        return np.asarray(self.costs + self.moves @ value)

    def sweep(self, value: np.ndarray) -> np.ndarray:
        """The least cost to go that looking one action further ahead shows, shape (n,)."""
        return np.asarray(np.minimum.reduceat(self.ahead(value), self.first))

    def look_ahead(
        self, value: np.ndarray, correct: Callable[[np.ndarray], np.ndarray] | None
    ) -> np.ndarray:
        """A value nearer to the least cost to go.

        Args:
            value: Cost to go of a way, shape (n,).
            correct: (what a sweep changes) -> what it comes to in the end if that way is
                taken on; None to sweep only, which never falls below the least cost.
        """
        value = self._sweep_often(value, SWEEPS)
        if correct is None:
            return value
        left = self.sweep(value) - value
        size = float(np.abs(left).sum())
        for tried in range(CORRECTIONS):
            if size <= SETTLED * float(np.abs(value).sum()):
                break
            other = value + correct(left)
            still = self.sweep(other) - other
            now = float(np.abs(still).sum())
            if not now < FALL * size:
                return value if tried else self._sweep_often(value, MORE_SWEEPS)
            value, left, size = other, still, now
        return value

    def _sweep_often(self, value: np.ndarray, times: int) -> np.ndarray:
        for _ in range(times):
            value = self.sweep(value)
        return value


def leave_stages(table: ActionTable, costs: np.ndarray) -> LeavingActions:
    """The actions with staying put summed out.

    Args:
        table: Actions.
        costs: Mean cost of each, shape (m,).
    """
    moves = table.moves
    row = np.repeat(np.arange(moves.shape[0]), np.diff(moves.indptr))
    onward = moves.indices != table.stage[row]
    leave = table.ending_odds + np.bincount(
        row[onward], weights=moves.data[onward], minlength=moves.shape[0]
    )
    never = leave <= 0.0
    leave[never] = 1.0
    if never.any():
        onward |= never[row]
    kept = row[onward]
    ends = np.cumsum(np.bincount(kept, minlength=moves.shape[0]))
    leaving = csr_array(
        (moves.data[onward] / leave[kept], moves.indices[onward], np.concatenate(([0], ends))),
        shape=moves.shape,
    )
    return LeavingActions(leaving, costs / leave, leave, table.first[:-1])
