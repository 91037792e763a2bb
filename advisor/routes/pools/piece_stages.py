"""The stages of a route with a pool: numbered as they are found, named only when asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from typing import overload

import numpy as np

from advisor.routes.pools.parts import Pieces

BARE = "nothing on it"

Namer = Callable[[int], str]
"""Names the stage with this position in its run."""


class PieceStages(Sequence[str]):
    """Names of stages, in runs of one sort, made when they are looked at."""

    def __init__(self) -> None:
        self._starts: list[int] = []
        self._namers: list[Namer] = []
        self._count = 0

    def add_run(self, count: int, namer: Namer) -> np.ndarray:
        """Number so many new stages; gives their numbers."""
        self._starts.append(self._count)
        self._namers.append(namer)
        self._count += count
        return np.arange(self._count - count, self._count)

    @overload
    def __getitem__(self, number: int) -> str: ...
    @overload
    def __getitem__(self, number: slice) -> list[str]: ...
    def __getitem__(self, number: int | slice) -> str | list[str]:
        if isinstance(number, slice):
            return [self[each] for each in range(*number.indices(self._count))]
        place = int(number) + (self._count if number < 0 else 0)
        if not 0 <= place < self._count:
            raise IndexError(number)
        run = int(np.searchsorted(self._run_starts, place, side="right")) - 1
        return self._namers[run](place - self._starts[run])

    @property
    def _run_starts(self) -> np.ndarray:
        return np.array(self._starts)

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[str]:
        ends = [*self._starts[1:], self._count]
        for start, end, namer in zip(self._starts, ends, self._namers, strict=True):
            for place in range(end - start):
                yield namer(place)


class PieceNames:
    """Says in plain words what is on a piece."""

    def __init__(self, pieces: Pieces) -> None:
        self._pieces = pieces

    def of_code(self, code: int, *, forgotten: bool = False) -> str:
        """What is on the piece of this code: "flame 2, chime, 1 other etched".

        Args:
            code: The piece.
            forgotten: It stands for all with as many others.
        """
        row = self._pieces.rows(np.array([code]))
        (counts,) = self._pieces.counts(row)
        return self._of_counts(counts, row[0].tolist(), forgotten)

    def of_rows(self, rows: np.ndarray) -> list[str]:
        """What is on each piece, shape (n, kinds)."""
        return [
            self._of_counts(counts, row, False)
            for counts, row in zip(self._pieces.counts(rows), rows.tolist(), strict=True)
        ]

    def _of_counts(self, counts: np.ndarray, row: list[int], forgotten: bool) -> str:
        named: list[str] = []
        counted: dict[str, int] = {}
        for number in np.flatnonzero(counts).tolist():
            symbol = self._symbols[number]
            forgets = forgotten or self._pieces.kinds[symbol.kind].forgotten[row[symbol.kind]]
            name = symbol.name
            if symbol.is_other and forgets:
                name = f"other {self._pieces.symbols.kinds[symbol.kind]}"
            elif not symbol.is_counted:
                named.append(name)
                continue
            counted[name] = counted.get(name, 0) + int(counts[number])
        others = [f"{count} {name}" for name, count in counted.items()]
        return ", ".join(named + others) or BARE

    @cached_property
    def _symbols(self) -> tuple:  # type: ignore[type-arg]
        return self._pieces.symbols.symbols

    def reads_like_piece(self, name: str) -> bool:
        """Whether a stage of this name could be taken for a piece."""
        names = {each.name for each in self._symbols if not each.is_counted}
        words = Counter(part.strip() for part in name.split(","))
        return name.strip() == BARE or set(words) <= names
