"""A route's actions as matrices: what each costs on average and where it leads.

The solver's own view of a `StageModel`: outcomes that can come to pass, odds
that sum to 1 exactly as far as numbers go, and stages without actions read as
ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.stages import END, StageModel


@dataclass(frozen=True)
class ActionTable:
    """Actions of n stages as arrays, sorted by stage.

    Attributes:
        stage: int, shape (m,): the stage an action is taken at, ascending.
        first: int, shape (n + 1,): actions of stage s are first[s] to first[s + 1].
        moves: csr, shape (m, n): odds of going on to each stage.
        odds: float, shape (k,): odds of each outcome of the model, summing to 1 over an action.
        ends: bool, shape (k,): nothing follows this outcome.
        ending_odds: float, shape (m,): odds that nothing follows.
    """

    stage: np.ndarray
    first: np.ndarray
    moves: csr_array
    odds: np.ndarray
    ends: np.ndarray
    ending_odds: np.ndarray

    @property
    def stage_count(self) -> int:
        """How many stages there are, ends included."""
        return len(self.first) - 1

    @property
    def has_actions(self) -> np.ndarray:
        """bool, shape (n,): something can be done at this stage."""
        return np.diff(self.first) > 0


def tabulate_actions(model: StageModel) -> ActionTable:
    """The matrices of a route's actions, outcomes without odds left out."""
    stage_count, action_count = len(model.stages), len(model.action_stage)
    first = np.searchsorted(model.action_stage, np.arange(stage_count + 1))
    totals = np.bincount(model.outcome_action, weights=model.odds, minlength=action_count)
    odds = model.odds / totals[model.outcome_action]
    onward = model.outcome_stage != END
    onward[onward] = np.diff(first)[model.outcome_stage[onward]] > 0
    ending_odds = np.bincount(
        model.outcome_action, weights=np.where(onward, 0.0, odds), minlength=action_count
    )
    leads = onward & (odds > 0)
    row_ends = np.cumsum(np.bincount(model.outcome_action[leads], minlength=action_count))
    moves = csr_array(
        (odds[leads], model.outcome_stage[leads], np.concatenate(([0], row_ends))),
        shape=(action_count, stage_count),
    )
    moves.sum_duplicates()
    return ActionTable(model.action_stage, first, moves, odds, ~onward, ending_odds)


def average_costs(model: StageModel, table: ActionTable, outcome_costs: np.ndarray) -> np.ndarray:
    """Mean cost of taking each action once, shape (m,)."""
    return np.bincount(
        model.outcome_action,
        weights=table.odds * outcome_costs,
        minlength=len(model.action_stage),
    )


def keep_stages(table: ActionTable, kept: np.ndarray) -> tuple[ActionTable, np.ndarray]:
    """The table of some stages alone, and the indices of their actions.

    Args:
        table: All actions.
        kept: bool, shape (n,): stages to keep; none of them leads to one that is not kept.
    Returns: The smaller table, stages renumbered in order, and its actions' old indices.
        Its outcome arrays are those of the whole.
    """
    actions = np.flatnonzero(kept[table.stage])
    counts = np.diff(table.first)[kept]
    new_index = np.cumsum(kept) - 1
    moves = table.moves if len(actions) == len(table.stage) else table.moves[actions]
    smaller = ActionTable(
        stage=new_index[table.stage[actions]],
        first=np.concatenate(([0], np.cumsum(counts))),
        moves=csr_array(
            (moves.data, new_index[moves.indices], moves.indptr),
            shape=(len(actions), len(counts)),
        ),
        odds=table.odds,
        ends=table.ends,
        ending_odds=table.ending_odds[actions],
    )
    return smaller, actions
