"""Affixes that are offered, of which one is taken: chance first, then a choice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.routes.pools.draws import Drawing
from advisor.routes.pools.effects import Choose
from advisor.routes.pools.parts import Pieces

NOTHING = -1
"""Fills up the list of what is offered."""


@dataclass(frozen=True)
class Offers:
    """What may be offered on pieces.

    Attributes:
        origin: int, shape (b,): position of the piece, ascending.
        offered: Symbols that are offered, shape (b, number), ascending, each once, NOTHING behind.
        odds: float, shape (b,): sums to 1 over each origin.
    """

    origin: np.ndarray
    offered: np.ndarray
    odds: np.ndarray


class Offering:
    """So many different affixes are drawn, but only offered."""

    def __init__(self, pieces: Pieces, effect: Choose) -> None:
        self.pieces, self.number = pieces, effect.number
        self.drawing = Drawing(pieces, (effect.set, effect.kind))

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where there is something to offer, bool, shape (n,)."""
        return self.drawing.has_candidate(rows)

    def offers(self, rows: np.ndarray) -> Offers:
        """What may be offered; alike affixes offered together are one choice."""
        symbols = self.pieces.symbols
        weights = np.zeros((len(rows), len(symbols.symbols)))
        for kind, own in self.drawing.weights(rows):
            weights[:, self.pieces.kinds[kind].symbols] = own
        groups_left = self._groups_left(rows)
        drawn = Offers(
            np.arange(len(rows)),
            np.full((len(rows), self.number), NOTHING, dtype=np.int64),
            np.ones(len(rows)),
        )
        for position in range(self.number):
            drawn = self._offer_once(drawn, position, weights, groups_left)
        return self._as_choices(drawn)

    def _groups_left(self, rows: np.ndarray) -> np.ndarray:
        """Groups of each symbol's block that are not on the piece, shape (n, symbols)."""
        symbols = self.pieces.symbols
        blocks = np.array([each.block for each in symbols.symbols])
        same = (blocks[:, None] == blocks[None, :]).astype(np.int64)
        left = symbols.capacity[blocks] - self.pieces.counts(rows) @ same
        return np.asarray(np.maximum(left, 0))

    def _offer_once(
        self, drawn: Offers, position: int, weights: np.ndarray, groups_left: np.ndarray
    ) -> Offers:
        blocks = np.array([each.block for each in self.pieces.symbols.symbols])
        left = groups_left[drawn.origin].astype(float)
        total = left.copy()
        for before in range(position):
            chosen = drawn.offered[:, before]
            same = (blocks[None, :] == blocks[chosen][:, None]) & (chosen >= 0)[:, None]
            left -= same
        share = np.divide(np.maximum(left, 0), total, out=np.zeros_like(left), where=total > 0)
        now = weights[drawn.origin] * share
        sums = now.sum(axis=1)
        stuck = np.flatnonzero(sums <= 0)
        row, symbol = np.nonzero(now)
        offered = drawn.offered[row].copy()
        offered[:, position] = symbol
        return _merge(
            np.concatenate([drawn.origin[stuck], drawn.origin[row]]),
            np.concatenate([drawn.offered[stuck], offered]),
            np.concatenate([drawn.odds[stuck], drawn.odds[row] * now[row, symbol] / sums[row]]),
            len(blocks),
        )

    def _as_choices(self, drawn: Offers) -> Offers:
        """Equal symbols once: two that are alike are one choice."""
        offered = drawn.offered.copy()
        for position in range(1, self.number):
            repeated = (offered[:, :position] == offered[:, position : position + 1]).any(axis=1)
            offered[repeated, position] = NOTHING
        return _merge(drawn.origin, offered, drawn.odds, len(self.pieces.symbols.symbols))


def _merge(origin: np.ndarray, offered: np.ndarray, odds: np.ndarray, symbols: int) -> Offers:
    """Offers of one origin with the same content become one; content is sorted."""
    large = np.where(offered == NOTHING, symbols, offered)
    large.sort(axis=1)
    keys = np.column_stack([origin, large])
    found, which = np.unique(keys, axis=0, return_inverse=True)
    summed = np.bincount(which.ravel(), weights=odds, minlength=len(found))
    content = np.where(found[:, 1:] == symbols, NOTHING, found[:, 1:])
    return Offers(found[:, 0], content, summed)
