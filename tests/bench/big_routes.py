"""Routes of any size, built straight as arrays, for the benchmarks."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.stages import STEP, StageModel


def build_rungs(count: int, *, seed: int = 1, block: int = 10) -> StageModel:
    """A ladder of rungs in blocks: careful or bold steps, setbacks at most to the block's start.

    Careful: up by one or stay. Bold (dearer): up by two, stay, or back to where the
    block starts. The first rung of a block may also be skipped at a price.
    """
    random = np.random.default_rng(seed)
    stage = np.arange(count - 1)
    up = 0.3 + 0.5 * random.random(count - 1)
    bold = 0.3 + 0.5 * random.random(count - 1)
    top = count - 1
    base = stage // block * block
    skips = np.flatnonzero(stage % block == 0)
    careful = _rows(stage, [(up, stage + 1, 2.0), (1 - up, stage, 2.0)])
    daring = _rows(
        stage,
        [
            (bold, np.minimum(stage + 2, top), 5.0),
            ((1 - bold) / 2, stage, 5.0),
            ((1 - bold) / 2, base, 4.0),
        ],
    )
    one = np.ones(len(skips))
    skip = _rows(skips, [(one, np.minimum(skips + block, top), 40.0 + 0 * skips)])
    return _assemble(count, [careful, daring, skip])


def build_grid(side: int, *, seed: int = 1) -> StageModel:
    """Two qualities raised one at a time; a failed step may lower the other by one."""
    random = np.random.default_rng(seed)
    count = side * side
    place = np.arange(count - 1)
    x, y = place % side, place // side
    actions = []
    for dx, dy, cost in ((1, 0, 2.0), (0, 1, 3.0)):
        able = place[(x + dx < side) & (y + dy < side)]
        up = 0.4 + 0.4 * random.random(len(able))
        ahead = able + dx + side * dy
        behind = np.where(
            (able % side - dy >= 0) & (able // side - dx >= 0), able - dy - side * dx, able
        )
        third = (1 - up) / 3
        actions.append(
            _rows(able, [(up, ahead, cost), (2 * third, able, cost), (third, behind, cost)])
        )
    return _assemble(count, actions)


def build_restarts(count: int, *, seed: int = 1) -> StageModel:
    """Few failures, but each throws the piece away: back to the first stage from anywhere."""
    random = np.random.default_rng(seed)
    stage = np.arange(count - 1)
    fail = random.random(count - 1) * 4.0 / count
    stay = 0.5 * random.random(count - 1)
    first = 0 * stage
    plain = _rows(
        stage, [(1 - fail - stay, stage + 1, 2.0), (stay, stage, 2.0), (fail, first, 1.0)]
    )
    safe = _rows(stage, [((1 - stay), stage + 1, 2.5), (stay, stage, 2.5)])
    return _assemble(count, [plain, safe])


def build_tumbles(count: int, *, seed: int = 1) -> StageModel:
    """Few failures, each back to any earlier stage: the widest setbacks there are."""
    random = np.random.default_rng(seed)
    stage = np.arange(count - 1)
    fail = random.random(count - 1) * 4.0 / count
    stay = 0.5 * random.random(count - 1)
    back = random.integers(0, stage + 1)
    plain = _rows(stage, [(1 - fail - stay, stage + 1, 2.0), (stay, stage, 2.0), (fail, back, 1.0)])
    safe = _rows(stage, [((1 - stay), stage + 1, 2.5), (stay, stage, 2.5)])
    return _assemble(count, [plain, safe])


Rows = tuple[np.ndarray, list[tuple[np.ndarray, np.ndarray, np.ndarray]]]


def _rows(stages: np.ndarray, outcomes: list[tuple]) -> Rows:
    whole = [
        (np.broadcast_to(odds, len(stages)), target, np.broadcast_to(cost, len(stages)))
        for odds, target, cost in outcomes
    ]
    return stages, whole


def _assemble(count: int, blocks: list[Rows]) -> StageModel:
    at = np.concatenate([stages for stages, _ in blocks])
    order = np.argsort(at, kind="stable")
    rank = np.empty(len(at), dtype=np.int64)
    rank[order] = np.arange(len(at))
    parts, begin = [], 0
    for stages, outcomes in blocks:
        action = rank[begin : begin + len(stages)]
        begin += len(stages)
        parts += [(action, odds, target, cost) for odds, target, cost in outcomes]
    action, odds, target, cost = (np.concatenate(column) for column in zip(*parts, strict=True))
    sort = np.argsort(action, kind="stable")
    done = np.zeros(count, dtype=bool)
    done[-1] = True
    costs = cost[sort].astype(float)
    return StageModel(
        stages=range(count),  # names are only read in a refusal
        start=0,
        done=done,
        steps=range(len(at)),
        action_stage=at[order],
        action_kind=np.full(len(at), STEP),
        action_step=np.arange(len(at)),
        outcome_action=action[sort],
        outcome_stage=target[sort],
        odds=odds[sort],
        minutes=np.ones(len(costs)),
        items=["money"],
        uses=csr_array(costs[:, None]),
        gives=csr_array((len(costs), 1)),
    )
