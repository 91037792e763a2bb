"""Which pieces meet a want."""

from __future__ import annotations

import numpy as np

from advisor.routes.pools.parts import Pieces
from advisor.routes.pools.wants import AtLeast, Entry, Want


def meets(want: Want, pieces: Pieces, rows: np.ndarray) -> np.ndarray:
    """Whether each piece meets the want, bool, shape (n,).

    Args:
        want: What is wanted; its affixes were mentioned when the pieces were lumped.
        pieces: What the rows mean.
        rows: Pieces, shape (n, kinds).
    """
    met = np.ones(len(rows), dtype=bool)
    for entry in want.all:
        met &= _has(entry, pieces, rows)
    for entry in want.none:
        met &= ~_has(entry, pieces, rows)
    for line in want.any:
        met &= _how_many(line, pieces, rows) >= line.least
    for kind, least in want.free:
        number = pieces.symbols.kinds.index(kind)
        free = pieces.symbols.slots[number] - pieces.kinds[number].sizes
        met &= (free >= least)[rows[:, number]]
    return met


def _has(entry: Entry, pieces: Pieces, rows: np.ndarray) -> np.ndarray:
    return pieces.carries(rows, pieces.symbols.standing_for(entry.affixes))


def _how_many(line: AtLeast, pieces: Pieces, rows: np.ndarray) -> np.ndarray:
    return np.asarray(np.sum([_has(entry, pieces, rows) for entry in line.of], axis=0))
