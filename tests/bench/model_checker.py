"""The same routes in a general model checker's own form (stormpy, only for tests)."""

from __future__ import annotations

import numpy as np
import stormpy
from stormpy import datastructures, environments, models

from advisor.routes.actions import average_costs, tabulate_actions
from advisor.routes.stages import StageModel

METHODS = {
    "sound default": None,
    "optimistic": "OPTIMISTIC_VALUE_ITERATION",
    "policy": "POLICY_ITERATION",
    "topological": "TOPOLOGICAL",
}


def hand_over(model: StageModel, outcome_costs: np.ndarray) -> models.SparseMdp:
    """The route as a sparse decision process with a cost per action; ends stay where they are."""
    table = tabulate_actions(model)
    acting = table.has_actions
    ends = np.flatnonzero(~acting)
    rows = np.cumsum(np.concatenate(([0], np.maximum(np.diff(table.first), 1))))
    row_of_action = rows[table.stage] + np.arange(len(table.stage)) - table.first[table.stage]
    moves = _with_ends(model, table)
    order = np.argsort(np.concatenate((row_of_action[moves[0]], rows[ends])), kind="stable")
    row = np.concatenate((row_of_action[moves[0]], rows[ends]))[order]
    column = np.concatenate((moves[1], ends))[order]
    value = np.concatenate((moves[2], np.ones(len(ends))))[order]
    builder = datastructures.SparseMatrixBuilder[float](
        rows=int(rows[-1]),
        columns=len(acting),
        entries=len(row),
        has_custom_row_grouping=True,
        row_groups=len(acting),
    )
    builder.add_next_values(row.tolist(), column.tolist(), value.tolist(), rows[:-1].tolist())
    cost = np.zeros(int(rows[-1]))
    cost[row_of_action] = average_costs(model, table, outcome_costs)
    labels = models.StateLabeling(len(acting))
    labels.add_label("init")
    labels.add_label_to_state("init", model.start)
    labels.add_label("done")
    for end in ends.tolist():
        labels.add_label_to_state("done", end)
    rewards = models.SparseRewardModel[float](optional_state_action_reward_vector=cost.tolist())
    return models.SparseMdp[float](
        models.SparseModelComponents[float](
            transition_matrix=builder.build(),
            state_labeling=labels,
            reward_models={"cost": rewards},
        )
    )


def least_cost(process: models.SparseMdp, start: int, method: str | None) -> float:
    """Least mean cost from a stage, to 1e-9 of its size."""
    environment = environments.sound()
    solver = environment.solver().min_max()
    solver.precision = stormpy.Rational("1/1000000000")
    if method is not None:
        solver.method = getattr(environments.MinMaxMethod, method)
    question = stormpy.parse_properties('R{"cost"}min=? [F "done"]')[0]
    result = stormpy.model_checking(process, question, environment=environment)
    return float(result.get_value(start))


def _with_ends(model: StageModel, table) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(action, stage, odds) with stages that are ends counted like any other."""
    from scipy.sparse import coo_array

    matrix = coo_array(
        (table.odds, (model.outcome_action, model.outcome_stage)),
        shape=(len(table.stage), len(model.stages)),
    ).tocsr()
    matrix.sum_duplicates()
    parts = matrix.tocoo()
    return parts.row, parts.col, parts.data
