"""A stage model in the making: blocks of actions and outcomes, put in order at the end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from advisor.routes.stages import StageModel

if TYPE_CHECKING:
    from scipy.sparse import csr_array


class ModelDraft:
    """Collects actions and outcomes in any order, whole arrays at a time."""

    def __init__(self) -> None:
        self._actions: list[tuple[np.ndarray, ...]] = []
        self._outcomes: list[tuple[np.ndarray, ...]] = []
        self._uses: list[tuple[np.ndarray, ...]] = []
        self._gives: list[tuple[np.ndarray, ...]] = []
        self._action_count = 0
        self._outcome_count = 0

    def add_actions(
        self, stages: np.ndarray, kind: int, *, steps: np.ndarray | int = -1
    ) -> np.ndarray:
        """Add one action at each of these stages; gives their draft numbers."""
        count = len(stages)
        kinds = np.full(count, kind, dtype=np.int8)
        self._actions.append((stages, kinds, np.broadcast_to(steps, count)))
        self._action_count += count
        return np.arange(self._action_count - count, self._action_count, dtype=np.int32)

    def add_outcomes(
        self,
        actions: np.ndarray,
        targets: np.ndarray | int,
        *,
        odds: np.ndarray | float = 1.0,
        minutes: np.ndarray | float = 0.0,
        written: int = -1,
    ) -> np.ndarray:
        """Add one outcome to each of these actions; gives their draft numbers.

        Outcomes that cannot happen may be added; they are left out of the model.
        """
        count = len(actions)
        self._outcomes.append(
            (
                actions,
                np.broadcast_to(targets, count),
                np.broadcast_to(odds, count),
                np.broadcast_to(minutes, count),
                np.full(count, written, dtype=np.int32),
            )
        )
        self._outcome_count += count
        return np.arange(self._outcome_count - count, self._outcome_count, dtype=np.int32)

    def add_uses(
        self, outcomes: np.ndarray, items: np.ndarray | int, amounts: np.ndarray | float
    ) -> None:
        """Units used up if it comes to these outcomes."""
        self._uses.append(_entries(outcomes, items, amounts))

    def add_gives(
        self, outcomes: np.ndarray, items: np.ndarray | int, amounts: np.ndarray | float
    ) -> None:
        """Units given back if it comes to these outcomes."""
        self._gives.append(_entries(outcomes, items, amounts))

    def finish(
        self,
        *,
        stages: Sequence[str],
        start: int,
        done: np.ndarray,
        steps: Sequence[str],
        items: Sequence[str],
    ) -> StageModel:
        """Put everything in order: actions by stage, outcomes by action."""
        stage, kind, step = _joined(self._actions, (np.int32, np.int8, np.int32))
        order = np.argsort(stage, kind="stable")
        new_action = np.empty(len(order), dtype=np.int32)
        new_action[order] = np.arange(len(order), dtype=np.int32)
        action, target, odds, minutes, written = _joined(
            self._outcomes, (np.int32, np.int32, np.float64, np.float64, np.int32)
        )
        self._outcomes.clear()
        action = new_action[action]
        kept = np.argsort(action, kind="stable")
        kept = kept[odds[kept] > 0]
        shape = (len(kept), len(items))
        new_outcome = np.full(self._outcome_count, -1, dtype=np.int32)
        new_outcome[kept] = np.arange(len(kept), dtype=np.int32)
        return StageModel(
            stages=stages,
            start=start,
            done=done,
            steps=steps,
            action_stage=stage[order].astype(np.int64),
            action_kind=kind[order],
            action_step=step[order].astype(np.int64),
            outcome_action=action[kept].astype(np.int64),
            outcome_stage=target[kept].astype(np.int64),
            odds=odds[kept],
            minutes=minutes[kept],
            items=items,
            uses=_matrix(self._uses, new_outcome, shape),
            gives=_matrix(self._gives, new_outcome, shape),
            outcome_written=written[kept],
        )


def _entries(
    outcomes: np.ndarray, items: np.ndarray | int, amounts: np.ndarray | float
) -> tuple[np.ndarray, ...]:
    count = len(outcomes)
    return outcomes, np.broadcast_to(items, count), np.broadcast_to(amounts, count)


def _joined(
    blocks: list[tuple[np.ndarray, ...]], types: tuple[type[np.generic], ...]
) -> list[np.ndarray]:
    return [
        np.concatenate([block[column] for block in blocks], dtype=kind, casting="unsafe")
        for column, kind in enumerate(types)
    ]


def _matrix(
    blocks: list[tuple[np.ndarray, ...]], new_outcome: np.ndarray, shape: tuple[int, int]
) -> csr_array:
    from scipy.sparse import coo_array, csr_array

    if not blocks:
        return csr_array(shape)
    row, item, amount = _joined(blocks, (np.int32, np.int32, np.float64))
    blocks.clear()
    row = new_outcome[row]
    used = (row >= 0) & (amount > 0)
    if not used.all():
        row, item, amount = row[used], item[used], amount[used]
    return csr_array(coo_array((amount, (row, item)), shape=shape))
