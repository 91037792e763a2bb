"""A route as numbers: stages, actions, outcomes. The solver sees only this.

A stage has actions (a step, buy in, sell out, stop); an action has outcomes;
an outcome leads to a stage or ends the evening, with odds, and uses up and
gives back items. Money is an item like any other, so a fee of two shell is a
use of two "shell". Prices are not in here: a cost is made from the use by
`StageModel.outcome_costs`, so that prices may change without building again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from scipy.sparse import csr_array

STEP, BUY_IN, SELL_OUT, STOP = range(4)
ACTION_WORDS = ("step", "buy in", "sell out", "stop")
END = -1
"""The stage index that means: the evening ends here, whatever is held."""


@dataclass(frozen=True)
class StageModel:
    """Every stage, action and outcome of one route, as arrays.

    Actions are sorted by stage and outcomes by action, so that each stage's
    actions and each action's outcomes are one slice.

    Attributes:
        stages: Names of the n stages in reading order.
        start: Index of the stage one starts from.
        done: bool, shape (n,): the piece is made here; such a stage has no actions
            with `keep`, and only ending ones (sell out, stop) with `sale`.
        steps: Names of the steps; `action_step` points here.
        action_stage: int, shape (m,): the stage an action is taken at, ascending.
        action_kind: int, shape (m,): STEP, BUY_IN, SELL_OUT or STOP.
        action_step: int, shape (m,): index into `steps`, -1 for other kinds.
        outcome_action: int, shape (k,): the action an outcome belongs to, ascending.
        outcome_stage: int, shape (k,): where it leads, or END.
        odds: float, shape (k,): sums to 1 over each action.
        minutes: float, shape (k,): time taken if it comes to this.
        items: Names of the items that are used or given.
        uses: shape (k, items): units used up if it comes to this, >= 0.
        gives: shape (k, items): units that come back if it comes to this, >= 0.
        outcome_written: int, shape (k,): which outcome of the route file this comes
            from, counted over all steps in the order of the file; -1 for the market.
            None where it is not known.
    """

    stages: Sequence[str]
    start: int
    done: np.ndarray
    steps: Sequence[str]
    action_stage: np.ndarray
    action_kind: np.ndarray
    action_step: np.ndarray
    outcome_action: np.ndarray
    outcome_stage: np.ndarray
    odds: np.ndarray
    minutes: np.ndarray
    items: Sequence[str]
    uses: csr_array
    gives: csr_array
    outcome_written: np.ndarray | None = None

    def outcome_costs(self, buy_prices: np.ndarray, sell_prices: np.ndarray) -> np.ndarray:
        """Money each outcome costs, shape (k,), negative where more comes back than is used.

        Args:
            buy_prices: Cost of one unit of each item, shape (items,).
            sell_prices: Net proceeds of one unit of each item, shape (items,).
        """
        return np.asarray(self.uses @ buy_prices - self.gives @ sell_prices)
