"""Was it luck? What was spent for what was reached, against what chance makes of it.

Let C be the cost of the pieces a log has begun, from where they were begun to the end,
and R what is still to come for those that are not finished, both by the best way, at one
set of odds and prices; R is fresh luck, independent of C. The log's own pieces will in the
end have cost S + R, where S is what was spent on them. Then

    expected     = E[C] - E[R]: what getting this far costs on average
    luckier than = P(C > S + R) + P(C = S + R) / 2: the share of like pieces that cost more

With nothing done it is one half; with all pieces finished R is 0, and it is the place
of S in the law of the cost. What is spent cannot be taken back: none of this bears on what
to do next.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.decide.table_moves import TableMoves
from advisor.routes.from_stage import CostFromStage
from advisor.routes.stages import END
from advisor.routes.total_law import CostDistribution

CELLS_AT_MOST = 2**20
SAME_STEP = 1e-9
ON_THE_SPOT = 1e-6


@dataclass(frozen=True)
class Luck:
    """How lucky a log was.

    Attributes:
        begun, finished: Pieces.
        spent: What the attempts cost at the prices asked with.
        expected: What getting this far costs on average; None where the best way from a
            stage is not known.
        luckier_than: Share of like pieces that cost more in the end, in [0, 1]; None likewise.
    """

    begun: int
    finished: int
    spent: float
    expected: float | None
    luckier_than: float | None


def weigh_luck(moves: TableMoves, ahead: CostFromStage) -> Luck:
    """Weigh a log against chance."""
    model = ahead.model
    spent = moves.spent(ahead.cost.outcome_costs)
    begun = {stage: count for stage, count in moves.begun.items() if count}
    standing = {stage: n for stage, n in moves.standing.items() if n and not ahead.is_end(stage)}
    finished = sum(n for stage, n in moves.standing.items() if stage == END or model.done[stage])
    expected = luckier = None
    means = {stage: ahead.mean(stage) for stage in (*begun, *standing)}
    known = {stage: mean for stage, mean in means.items() if mean is not None}
    if len(known) == len(means):
        expected = sum(n * known[stage] for stage, n in begun.items()) - sum(
            n * known[stage] for stage, n in standing.items()
        )
        luckier = chance_dearer(_laws(begun, ahead), _laws(standing, ahead), by=spent)
    return Luck(sum(begun.values()), finished, spent, expected, luckier)


def _laws(pieces: Mapping[int, int], ahead: CostFromStage) -> list[CostDistribution]:
    laws = ((ahead.law(stage), count) for stage, count in pieces.items())
    return [law.n_fold(count) for law, count in laws if law is not None]


def chance_dearer(
    ones: list[CostDistribution], others: list[CostDistribution], *, by: float
) -> float:
    """P(X - Y > by) + P(X - Y = by) / 2, for the sums X and Y of independent totals."""
    low, step, pmf = _difference(ones, others)
    values = low + step * np.arange(len(pmf))
    near = ON_THE_SPOT * step if len(pmf) > 1 else 1e-9 * max(1.0, abs(by), abs(low))
    more = float(pmf[values > by + near].sum())
    same = float(pmf[np.abs(values - by) <= near].sum())
    return min(1.0, max(0.0, more + same / 2))


def _difference(
    ones: list[CostDistribution], others: list[CostDistribution]
) -> tuple[float, float, np.ndarray]:
    """Lowest value, distance and chances of the difference of two sums."""
    from scipy.signal import fftconvolve

    spread = [law for law in (*ones, *others) if len(law.pmf) > 1]
    width = sum(law.step * (len(law.pmf) - 1) for law in spread)
    step = max(min((law.step for law in spread), default=1.0), width / CELLS_AT_MOST)
    low, pmf = 0.0, np.ones(1)
    for sign, laws in ((1.0, ones), (-1.0, others)):
        for law in laws:
            own = _on_lattice(law, step)
            low += law.low if sign > 0 else -(law.low + step * (len(own) - 1))
            pmf = np.maximum(fftconvolve(pmf, own if sign > 0 else own[::-1]), 0.0)
    return low, step, pmf / pmf.sum()


def _on_lattice(law: CostDistribution, step: float) -> np.ndarray:
    """The chances on values this far apart from the lowest on; splitting keeps the mean."""
    if len(law.pmf) == 1 or abs(law.step / step - 1) < SAME_STEP:
        return law.pmf
    place = np.arange(len(law.pmf)) * (law.step / step)
    cell = np.floor(place + SAME_STEP).astype(int)
    share = np.clip(place - cell, 0.0, 1.0)
    size = int(cell[-1]) + 2
    pmf = np.bincount(cell, law.pmf * (1 - share), size) + np.bincount(
        cell + 1, law.pmf * share, size
    )
    return np.asarray(pmf)
