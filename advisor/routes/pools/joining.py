"""Two pieces made into one: per kind, some of the affixes of both survive.

Per kind the affixes of both pieces lie in one pot. The pool's `survivors` says how
many of so many are kept; they are picked one after another, each of the rest with
equal chance, and what no longer fits (its group is there already, no slot is free)
is passed over. Kinds are settled in the order of the pool's `slots`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np

from advisor.errors import RouteFault
from advisor.routes.pools.draws import Branches, merge
from advisor.routes.pools.effects import Join
from advisor.routes.pools.parts import Pieces
from advisor.routes.pools.pool import Sizes

PartLaw = list[tuple[int, float]]
"""Parts that may come of one pot, and their odds."""


class Joining:
    """A join with one second piece.

    Args:
        pieces: What can be carried.
        effect: The join.
        survivors: Of so many in a pot, how many are kept.
        missing: Makes the error about a pot size without a row.
    """

    def __init__(
        self,
        pieces: Pieces,
        effect: Join,
        *,
        survivors: dict[int, Sizes],
        missing: Callable[[int], RouteFault],
    ) -> None:
        self.pieces, self.survivors, self.missing = pieces, survivors, missing
        symbols = pieces.symbols
        second = [symbols.symbol_of(each) for each in effect.affixes]
        self.second = [
            tuple(pieces.column(each) for each in second if symbols.symbols[each].kind == kind)
            for kind in range(len(symbols.kinds))
        ]
        self.pot_law = cache(self._pot_law)
        self.to_other = 0.0
        if effect.other is not None:
            self.to_other = {"first": 0.0, "second": 1.0, "either": 0.5}[effect.frame]

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Any piece can be joined."""
        return np.ones(len(rows), dtype=bool)

    def branches(self, rows: np.ndarray) -> Branches:
        """What the joined piece may carry, whichever frame stays."""
        joined = Branches.certain(np.zeros_like(rows))
        for kind in range(len(self.second)):
            joined = self._settle_kind(kind, rows, joined)
        return joined

    def _settle_kind(self, kind: int, rows: np.ndarray, joined: Branches) -> Branches:
        taken = self._taken_groups(kind, joined.rows)
        keys, which = np.unique(
            np.column_stack([rows[joined.origin, kind], taken]), axis=0, return_inverse=True
        )
        laws = [self.pot_law(kind, int(part), *map(int, row)) for part, *row in keys.tolist()]
        lengths = np.array([len(law) for law in laws])
        starts = np.cumsum(lengths) - lengths
        parts = np.array([part for law in laws for part, _ in law], dtype=np.int64)
        odds = np.array([each for law in laws for _, each in law])
        which = which.ravel()
        branch = np.repeat(np.arange(len(which)), lengths[which])
        within = np.arange(len(branch)) - np.repeat(
            np.cumsum(lengths[which]) - lengths[which], lengths[which]
        )
        place = starts[which[branch]] + within
        settled = joined.rows[branch]
        settled[:, kind] = parts[place]
        found = Branches(joined.origin[branch], settled, joined.odds[branch] * odds[place])
        return merge(self.pieces, [found])

    def _taken_groups(self, kind: int, rows: np.ndarray) -> np.ndarray:
        """Which symbols of this kind cannot come any more since kinds settled before
        carry their group, 0 or 1, shape (n, symbols of the kind)."""
        symbols = self.pieces.symbols
        own = symbols.of_kind[kind]
        taken = np.zeros((len(rows), len(own)), dtype=np.int64)
        if symbols.separable:
            return taken
        for column, each in enumerate(own):
            block = symbols.symbols[each].block
            if symbols.capacity[block] == 1:
                same = np.array([other.block == block for other in symbols.symbols])
                taken[:, column] = self.pieces.carries(rows, same)
        return taken

    def _pot_law(self, kind: int, part: int, *taken: int) -> PartLaw:
        parts = self.pieces.kinds[kind]
        pot = [
            column for column, count in enumerate(parts.counts[part].tolist()) for _ in range(count)
        ]
        pot += self.second[kind]
        if not pot:
            return [(0, 1.0)]
        if len(pot) not in self.survivors:
            raise self.missing(len(pot))
        law: dict[int, float] = {}
        for kept, chance in self.survivors[len(pot)].items():
            for end, odds in self._pick(kind, tuple(sorted(pot)), kept, taken).items():
                law[end] = law.get(end, 0.0) + float(chance) * odds
        return list(law.items())

    def _pick(
        self, kind: int, pot: tuple[int, ...], kept: int, taken: tuple[int, ...]
    ) -> dict[int, float]:
        """Parts when so many are picked from a pot, passing over what does not fit."""
        adding = self.pieces.kinds[kind].adding
        layer: dict[tuple[tuple[int, ...], int, int], float] = {(pot, 0, kept): 1.0}
        ends: dict[int, float] = {}
        while layer:
            deeper: dict[tuple[tuple[int, ...], int, int], float] = {}
            for (rest, part, left), odds in layer.items():
                if not rest or not left:
                    ends[part] = ends.get(part, 0.0) + odds
                    continue
                for place, column in enumerate(rest):
                    grown = -1 if taken[column] else int(adding[part, column])
                    fits = grown >= 0
                    state = (
                        rest[:place] + rest[place + 1 :],
                        grown if fits else part,
                        left - fits,
                    )
                    deeper[state] = deeper.get(state, 0.0) + odds / len(rest)
            layer = deeper
        return ends
