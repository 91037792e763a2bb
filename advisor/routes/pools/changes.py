"""What remove, place and clear do to pieces, and where they can be done."""

from __future__ import annotations

import numpy as np

from advisor.routes.pools.draws import Branches, Drawing, follow
from advisor.routes.pools.effects import Add, Clear, Place, Remove
from advisor.routes.pools.parts import Pieces


class Adding:
    """So many draws onto the piece; not available where nothing fits."""

    def __init__(self, pieces: Pieces, effect: Add) -> None:
        self.number = effect.number
        self.drawing = Drawing(pieces, (effect.set, effect.kind))

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where it can be done, bool, shape (n,)."""
        return self.drawing.has_candidate(rows)

    def branches(self, rows: np.ndarray) -> Branches:
        """What may come of it."""
        return self.drawing.draw_several(rows, self.number)


class Removing:
    """So many of those present leave, each with equal chance."""

    def __init__(self, pieces: Pieces, effect: Remove) -> None:
        self.pieces, self.number = pieces, effect.number
        self.kinds = [
            number
            for number, each in enumerate(pieces.symbols.kinds)
            if effect.kind in (None, each)
        ]

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where it can be done, bool, shape (n,)."""
        return self._present(rows) > 0

    def branches(self, rows: np.ndarray) -> Branches:
        """What may come of it; where too few are present, removing ends."""
        branches = self._remove_once(rows)
        for _ in range(1, self.number):
            branches = follow(self.pieces, branches, self._remove_once(branches.rows))
        return branches

    def _present(self, rows: np.ndarray) -> np.ndarray:
        sizes = [self.pieces.kinds[kind].sizes[rows[:, kind]] for kind in self.kinds]
        return np.asarray(np.sum(sizes, axis=0))

    def _remove_once(self, rows: np.ndarray) -> Branches:
        present = self._present(rows)
        bare = np.flatnonzero(present == 0)
        origins, found, odds = [bare], [rows[bare]], [np.ones(len(bare))]
        for kind in self.kinds:
            parts = self.pieces.kinds[kind]
            counts = parts.counts[rows[:, kind]]
            origin, column = np.nonzero(counts)
            left = rows[origin]
            left[:, kind] = parts.removing[left[:, kind], column]
            origins.append(origin)
            found.append(left)
            odds.append(counts[origin, column] / present[origin])
        return Branches(np.concatenate(origins), np.concatenate(found), np.concatenate(odds))


class Placing:
    """One affix is put on; only where it fits and within the pool's limit of placed ones."""

    def __init__(self, pieces: Pieces, effect: Place, *, at_most: int | None) -> None:
        self.pieces, self.at_most = pieces, at_most
        symbols = pieces.symbols
        self.symbol = symbols.symbol_of(effect.affix, placed=True)
        self.kind = symbols.symbols[self.symbol].kind
        self.column = pieces.column(self.symbol)
        block = symbols.symbols[self.symbol].block
        self.same_group = np.array([each.block == block for each in symbols.symbols])
        self.placed = placed_symbols(pieces)

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where it can be done, bool, shape (n,)."""
        fits = self.pieces.kinds[self.kind].adding[rows[:, self.kind], self.column] >= 0
        fits &= ~self.pieces.carries(rows, self.same_group)
        if self.at_most is not None:
            fits &= self.pieces.count_of(rows, self.placed) < self.at_most
        return np.asarray(fits)

    def branches(self, rows: np.ndarray) -> Branches:
        """The piece with it."""
        placed = rows.copy()
        placed[:, self.kind] = self.pieces.kinds[self.kind].adding[
            placed[:, self.kind], self.column
        ]
        return Branches.certain(placed)


class Clearing:
    """The placed affixes leave, or one that is named; only where there is one."""

    def __init__(self, pieces: Pieces, effect: Clear) -> None:
        self.pieces = pieces
        if effect.affix is None:
            self.leaving = placed_symbols(pieces)
        else:
            self.leaving = pieces.symbols.standing_for([effect.affix])

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where it can be done, bool, shape (n,)."""
        return self.pieces.carries(rows, self.leaving)

    def branches(self, rows: np.ndarray) -> Branches:
        """The piece without them."""
        left = rows.copy()
        for kind, parts in enumerate(self.pieces.kinds):
            for column in np.flatnonzero(self.leaving[parts.symbols]):
                less = parts.removing[left[:, kind], column]
                left[:, kind] = np.where(less >= 0, less, left[:, kind])
        return Branches.certain(left)


def placed_symbols(pieces: Pieces) -> np.ndarray:
    """Which symbols are placed affixes, bool, shape (symbols,)."""
    return np.array([each.placed for each in pieces.symbols.symbols], dtype=bool)
