"""Everything that a piece can carry, as the tool remembers it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np


@dataclass(frozen=True)
class Symbol:
    """One thing a piece remembers: an affix, or any of some affixes that are alike.

    Attributes:
        name: In plain words.
        kind: Number of its kind.
        block: Number of its block: what excludes each other, or is drawn from together.
        affixes: Numbers of the affixes it stands for.
        placed: Put on by `place`.
        is_other: Of groups that nothing mentions.
        is_counted: Told by how many there are: "2 other etched".
    """

    name: str
    kind: int
    block: int
    affixes: tuple[int, ...]
    placed: bool = False
    is_other: bool = False
    is_counted: bool = False


@dataclass(frozen=True)
class Symbols:
    """Everything that pieces of one base at one level can carry.

    Attributes:
        kinds: Names of the kinds.
        slots: How many affixes of each kind fit.
        symbols: Sorted by kind.
        capacity: int, shape (blocks,): groups in each block; 1 for a mentioned group.
        group_weights: For each set, for each symbol, the weight of each of its groups.
        separable: No group has affixes of two kinds, so that kinds are drawn
            independently of what other kinds carry.
        forgetful: Kinds whose others need no telling apart once all slots are taken:
            nothing can be drawn then, and no step takes some of them and leaves others.
    """

    kinds: tuple[str, ...]
    slots: tuple[int, ...]
    symbols: tuple[Symbol, ...]
    capacity: np.ndarray
    group_weights: Mapping[str, tuple[tuple[Fraction, ...], ...]]
    separable: bool
    forgetful: frozenset[int] = frozenset()

    @cached_property
    def of_kind(self) -> tuple[np.ndarray, ...]:
        """Numbers of the symbols of each kind."""
        kinds = np.array([each.kind for each in self.symbols], dtype=np.int64)
        return tuple(np.flatnonzero(kinds == kind) for kind in range(len(self.kinds)))

    def weights(self, set_name: str) -> np.ndarray:
        """Weight of one group of each symbol, shape (symbols,), of one set.

        NaN where a symbol stands for groups of different weights: it is remembered
        by no piece that this set is drawn onto.
        """
        return np.array(
            [
                float(groups[0]) if len(set(groups)) == 1 else np.nan
                for groups in self.group_weights[set_name]
            ]
        )

    def symbol_of(self, affix: int, *, placed: bool = False) -> int:
        """Number of the symbol that stands for an affix."""
        for number, symbol in enumerate(self.symbols):
            if affix in symbol.affixes and symbol.placed == placed:
                return number
        raise KeyError(affix)

    def standing_for(self, affixes: Collection[int]) -> np.ndarray:
        """bool, shape (symbols,): the symbol is one of these affixes."""
        wanted = set(affixes)
        return np.array([wanted.issuperset(each.affixes) for each in self.symbols], dtype=bool)
