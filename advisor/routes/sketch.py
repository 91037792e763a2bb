"""A small route written as plain tuples, to try the mathematics without a file."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.stages import STEP, StageModel

Outcome = tuple[float, int, float]


def sketch_route(
    actions: Iterable[tuple[int, Sequence[Outcome]]],
    *,
    done: Collection[int] = (),
    start: int = 0,
    stage_count: int | None = None,
) -> tuple[StageModel, np.ndarray]:
    """A route of numbered stages with one item, money; and what each outcome costs.

    Args:
        actions: (stage, [(odds, stage it leads to or -1 for the end, cost), ...]), in any
            order; actions of one stage stay in the order given.
        done: Stages where the piece is made.
        start: Stage one starts from.
        stage_count: How many stages; None: as many as are named.
    Returns: The model and its outcome costs, shape (k,).

    Example:
        >>> model, costs = sketch_route([(0, [(0.25, 1, 2.0), (0.75, 0, 2.0)])], done=[1])
        >>> model.odds.tolist(), costs.tolist()
        ([0.25, 0.75], [2.0, 2.0])
    """
    ordered = sorted(actions, key=lambda action: action[0])
    rows = [
        (number, *outcome) for number, (_, outcomes) in enumerate(ordered) for outcome in outcomes
    ]
    action, odds, target, cost = (np.array(column) for column in zip(*rows, strict=True))
    at = np.array([stage for stage, _ in ordered], dtype=int)
    if stage_count is None:
        stage_count = 1 + max([start, *at.tolist(), *target.tolist(), *done])
    is_done = np.zeros(stage_count, dtype=bool)
    is_done[list(done)] = True
    costs = cost.astype(float)
    model = StageModel(
        stages=[f"stage {number}" for number in range(stage_count)],
        start=start,
        done=is_done,
        steps=[f"step {number}" for number in range(len(at))],
        action_stage=at,
        action_kind=np.full(len(at), STEP),
        action_step=np.arange(len(at)),
        outcome_action=action,
        outcome_stage=target.astype(int),
        odds=odds.astype(float),
        minutes=np.ones(len(rows)),
        items=["money"],
        uses=csr_array(np.maximum(costs, 0.0)[:, None]),
        gives=csr_array(np.maximum(-costs, 0.0)[:, None]),
    )
    return model, costs
