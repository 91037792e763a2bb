"""Draws onto pieces, one after another, by weight among all that still fit.

One draw takes a candidate with chance w / (sum of the candidates' w); a further
draw goes on from there, and where nothing fits drawing ends. Pieces are handled
thousands at a time; what is lumped is drawn with the weight of all it stands for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from advisor.routes.pools.mentions import DrawUse
from advisor.routes.pools.parts import Pieces
from advisor.routes.pools.pool import Sizes

if TYPE_CHECKING:
    from scipy.sparse import csr_array


@dataclass(frozen=True)
class Branches:
    """Where pieces may come to: one row for each way.

    Attributes:
        origin: int, shape (b,): position of the piece it comes from.
        rows: Pieces, shape (b, kinds).
        odds: float, shape (b,): sums to 1 over each origin.
    """

    origin: np.ndarray
    rows: np.ndarray
    odds: np.ndarray

    @classmethod
    def certain(cls, rows: np.ndarray) -> Branches:
        """Each piece leads to one piece."""
        return cls(np.arange(len(rows)), rows, np.ones(len(rows)))


class Drawing:
    """Draws of one set and kind onto the pieces of one base."""

    def __init__(self, pieces: Pieces, draw: DrawUse) -> None:
        self.pieces = pieces
        set_name, kind = draw
        symbols = pieces.symbols
        self.kinds = [number for number, each in enumerate(symbols.kinds) if kind in (None, each)]
        weights = symbols.weights(set_name)
        blocks = np.array([each.block for each in symbols.symbols], dtype=np.int64)
        kind_counts = np.zeros(len(symbols.capacity), dtype=np.int64)
        for own in symbols.of_kind:
            kind_counts[np.unique(blocks[own])] += 1
        self.spanning = kind_counts > 1
        self.blocks = blocks
        self.tables = {kind: self._table(kind, weights) for kind in self.kinds}

    def _table(self, kind: int, weights: np.ndarray) -> np.ndarray:
        """Weight of drawing each symbol onto each part, shape (parts, s); as if alone."""
        parts = self.pieces.kinds[kind]
        blocks = self.blocks[parts.symbols]
        same_block = (blocks[:, None] == blocks[None, :]).astype(np.int64)
        left = self.pieces.symbols.capacity[blocks] - parts.counts @ same_block
        left[:, self.spanning[blocks]] = 1
        free = parts.sizes < self.pieces.symbols.slots[kind]
        return np.where(free[:, None] & (parts.adding >= 0), left * weights[parts.symbols], 0.0)

    def weights(self, rows: np.ndarray) -> Iterator[tuple[int, np.ndarray]]:
        """For each kind drawn: weights of its symbols as candidates, shape (n, s)."""
        left = self._left_of_spanning(rows)
        for kind in self.kinds:
            weights = self.tables[kind][rows[:, kind]]
            if left is not None:
                own = self.blocks[self.pieces.kinds[kind].symbols]
                across = self.spanning[own]
                weights[:, across] *= left[:, own[across]]
            yield kind, weights

    def _left_of_spanning(self, rows: np.ndarray) -> np.ndarray | None:
        """Groups left to draw of blocks that have affixes of several kinds, shape (n, blocks)."""
        if not self.spanning.any():
            return None
        counts = self.pieces.counts(rows)
        left = np.tile(self.pieces.symbols.capacity, (len(rows), 1))
        for symbol, block in enumerate(self.blocks):
            if self.spanning[block]:
                left[:, block] -= counts[:, symbol]
        return left

    def has_candidate(self, rows: np.ndarray) -> np.ndarray:
        """bool, shape (n,): something can be drawn onto the piece."""
        found = np.zeros(len(rows), dtype=bool)
        for _, weights in self.weights(rows):
            found |= (weights > 0).any(axis=1)
        return found

    def draw_once(self, rows: np.ndarray) -> Branches:
        """One draw; pieces onto which nothing fits stay as they are."""
        ways = self._ways_across(rows) if self.spanning.any() else self._ways_apart(rows)
        origin = np.concatenate([each.origin for each in ways])
        weights = np.concatenate([each.odds for each in ways])
        total = np.bincount(origin, weights=weights, minlength=len(rows))
        stuck = np.flatnonzero(total <= 0)
        return Branches(
            np.concatenate([origin, stuck]),
            np.concatenate([*(each.rows for each in ways), rows[stuck]]),
            np.concatenate([weights / total[origin], np.ones(len(stuck))]),
        )

    def _ways_across(self, rows: np.ndarray) -> list[Branches]:
        """What one draw may bring, by weight, where groups have affixes of several kinds."""
        ways = []
        for kind, weights in self.weights(rows):
            origin, column = np.nonzero(weights)
            drawn = rows[origin]
            drawn[:, kind] = self.pieces.kinds[kind].adding[drawn[:, kind], column]
            ways.append(Branches(origin, drawn, weights[origin, column]))
        return ways

    def _ways_apart(self, rows: np.ndarray) -> list[Branches]:
        """The same where each kind's parts alone decide; equal ends are one already."""
        ways = []
        for kind in self.kinds:
            onward = self._onward[kind]
            lengths = np.diff(onward.indptr)[rows[:, kind]]
            origin = np.repeat(np.arange(len(rows)), lengths)
            before = np.cumsum(lengths) - lengths
            place = np.arange(len(origin)) + (onward.indptr[rows[:, kind]] - before)[origin]
            drawn = rows[origin]
            drawn[:, kind] = onward.indices[place]
            ways.append(Branches(origin, drawn, onward.data[place]))
        return ways

    @cached_property
    def _onward(self) -> dict[int, csr_array]:
        """For each kind, the weight of coming from one part to another, shape (parts, parts)."""
        from scipy.sparse import csr_array

        found = {}
        for kind, table in self.tables.items():
            part, column = np.nonzero(table)
            ends = self.pieces.kinds[kind].adding[part, column]
            ways = csr_array((table[part, column], (part, ends)), shape=(len(table), len(table)))
            ways.sum_duplicates()
            found[kind] = ways
        return found

    def draw_several(self, rows: np.ndarray, number: int) -> Branches:
        """So many draws, one after another."""
        if number == 1:
            return self.draw_once(rows)
        branches = Branches.certain(rows)
        for _ in range(number):
            branches = follow(self.pieces, branches, self.draw_once(branches.rows))
        return branches

    def draw_counted(self, rows: np.ndarray, count: Sizes) -> Branches:
        """A number of draws that is itself drawn."""
        found: list[Branches] = []
        layer = Branches.certain(rows)
        for number in range(max(count) + 1):
            if number:
                layer = follow(self.pieces, layer, self.draw_once(layer.rows))
            if number in count:
                found.append(Branches(layer.origin, layer.rows, layer.odds * float(count[number])))
        return merge(self.pieces, found)


def follow(pieces: Pieces, first: Branches, then: Branches) -> Branches:
    """Branches of branches; equal ends of one origin become one.

    Args:
        pieces: What the rows mean.
        first: From the origins.
        then: From the ends of `first`.
    """
    chained = Branches(first.origin[then.origin], then.rows, first.odds[then.origin] * then.odds)
    return merge(pieces, [chained])


def merge(pieces: Pieces, branches: list[Branches]) -> Branches:
    """All branches together; equal ends of one origin become one."""
    origin = np.concatenate([each.origin for each in branches])
    codes = pieces.code(np.concatenate([each.rows for each in branches]))
    odds = np.concatenate([each.odds for each in branches])
    ends, end = np.unique(codes, return_inverse=True)
    span = max(len(ends), 1)
    pairs, pair = np.unique(origin * span + end, return_inverse=True)
    summed = np.bincount(pair, weights=odds, minlength=len(pairs))
    origins, place = np.divmod(pairs, span)
    return Branches(origins, pieces.rows(ends[place]), summed)
