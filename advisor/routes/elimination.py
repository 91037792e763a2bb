"""The transform of a chain's total at many points at once, by eliminating stages.

With f_s(z) the mean of z^total from stage s and q_st(z) = sum of odds * z^amount
over the outcomes from s to t,

    f_s = b_s + sum over t of q_st f_t.

Stages are eliminated one after another, fewest neighbours first; every odds is a
vector over the points, so the graph is walked once however many points there are.
On |z| = 1 and for real z > 0 no exchange of rows is needed: the rows stay
diagonally dominant, or a pivot turns out not positive and the mean does not exist.

Source: state elimination, Grassmann, Taksar & Heyman, Operations Research 33
(1985) 1107-1116; order of elimination: Markowitz, Management Science 3 (1957) 255-269.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from advisor.routes.lumping import END_OF_CHAIN, LumpedChain

Factor = Callable[[int, int, int], np.ndarray]


@dataclass(frozen=True)
class ChainTransform:
    """The mean of z^total from the start, at every point z.

    Attributes:
        values: Shape (points,); meaningless where `exists` is False.
        exists: bool, shape (points,): all pivots were positive (asked of real points only).
        work: Vector operations it took.
    """

    values: np.ndarray
    exists: np.ndarray
    work: int


def transform_total(chain: LumpedChain, factor: Factor, zero: np.ndarray) -> ChainTransform:
    """Eliminate every stage but the start.

    Args:
        chain: Stages and outcomes.
        factor: (stage, stage it leads to, kind of amount) -> z^amount at every point.
        zero: Zeros of the points' shape and type.
    """
    return _Elimination(chain, factor, zero).run()


class _Elimination:
    """The rows not yet eliminated; vectors are made only when a row is first touched."""

    def __init__(self, chain: LumpedChain, factor: Factor, zero: np.ndarray) -> None:
        self.factor, self.zero, self.start = factor, zero, chain.start
        self.plain = dict(chain.rows)
        self.touched: dict[int, dict[int, np.ndarray]] = {}
        self.onward: dict[int, set[int]] = {}
        self.before: dict[int, set[int]] = defaultdict(set)
        for stage, row in chain.rows.items():
            self.onward[stage] = {onto for onto, _ in row if onto != END_OF_CHAIN}
            for onto in self.onward[stage]:
                self.before[onto].add(stage)
        self.exists = np.ones(len(zero), dtype=bool)
        self.real = not np.iscomplexobj(zero)
        self.work = 0

    def run(self) -> ChainTransform:
        queue = [(self._neighbours(stage), stage) for stage in self.onward if stage != self.start]
        heapq.heapify(queue)
        while queue:
            expected, stage = heapq.heappop(queue)
            if stage not in self.onward:
                continue
            now = self._neighbours(stage)
            if now > expected:
                heapq.heappush(queue, (now, stage))
                continue
            for changed in self._eliminate(stage):
                if changed != self.start:
                    heapq.heappush(queue, (self._neighbours(changed), changed))
        row = self._close_row(self.start)
        return ChainTransform(row.get(END_OF_CHAIN, self.zero), self.exists, self.work)

    def _neighbours(self, stage: int) -> int:
        return len(self.before[stage] - {stage}) * len(self.onward[stage] - {stage})

    def _eliminate(self, stage: int) -> set[int]:
        """Put a stage's row into those that lead to it, and forget it; the stages changed."""
        row = self._close_row(stage)
        earlier = self.before.pop(stage) - {stage}
        later = self.onward.pop(stage) - {stage}
        for at in earlier:
            target = self._touch(at)
            weight = target.pop(stage)
            for onto, odds in row.items():
                added = weight * odds
                target[onto] = target[onto] + added if onto in target else added
            self.work += 2 * len(row)
            self.onward[at].discard(stage)
            self.onward[at] |= later
        for onto in later:
            self.before[onto].discard(stage)
            self.before[onto] |= earlier
        del self.touched[stage]
        return earlier | later

    def _close_row(self, stage: int) -> dict[int, np.ndarray]:
        """The row with staying put summed out: divided by one minus the weight on itself."""
        row = self._touch(stage)
        itself = row.pop(stage, None)
        if itself is None:
            return row
        pivot = 1.0 - itself
        if self.real:
            self.exists &= pivot > 0
        inverse = 1.0 / pivot
        self.work += 1 + len(row)
        self.touched[stage] = {onto: odds * inverse for onto, odds in row.items()}
        return self.touched[stage]

    def _touch(self, stage: int) -> dict[int, np.ndarray]:
        if stage not in self.touched:
            row: dict[int, np.ndarray] = {}
            for (onto, kind), odds in self.plain.pop(stage).items():
                added = odds * self.factor(stage, onto, kind)
                row[onto] = row[onto] + added if onto in row else added
            self.work += len(row)
            self.touched[stage] = row
        return self.touched[stage]
