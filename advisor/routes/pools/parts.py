"""What a piece carries of one kind, as a number; and pieces as one number for each kind.

A *part* is everything of one kind on a piece: how many of each symbol. All parts
that fit are listed once, so that drawing, placing and removing become look-ups
and a piece is a short row of part numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.errors import CannotAnswer
from advisor.routes.pools.symbols import Symbols

MOST_PARTS = 3_000_000
MOST_CELLS = 120_000_000
LARGEST_CODE = 2**58


@dataclass(frozen=True)
class KindParts:
    """Every part of one kind.

    Attributes:
        symbols: Numbers of the kind's symbols, shape (s,).
        counts: uint8, shape (parts, s): how many of each symbol; part 0 is empty.
        sizes: int, shape (parts,): how many affixes.
        adding: int32, shape (parts, s): the part with one more of a symbol; -1 where it
            does not fit.
        removing: int32, shape (parts, s): the part with one less; -1 where there is none.
        forgotten: bool, shape (parts,): which others are on it is no longer known, only
            how many; such a part is full, and only leaves as a whole.
    """

    symbols: np.ndarray
    counts: np.ndarray
    sizes: np.ndarray
    adding: np.ndarray
    removing: np.ndarray
    forgotten: np.ndarray


def list_parts(symbols: Symbols, kind: int) -> KindParts:
    """List every part of one kind, by size.

    Raises: CannotAnswer: more than can be held.
    """
    own = symbols.of_kind[kind]
    blocks = np.array([symbols.symbols[each].block for each in own], dtype=np.int64)
    capacity, slots = symbols.capacity[blocks], symbols.slots[kind]
    same_block = (blocks[:, None] == blocks[None, :]).astype(np.uint8)
    _refuse_too_many(symbols, kind)
    layers = [np.zeros((1, len(own)), dtype=np.uint8)]
    for _ in range(slots):
        layers.append(_one_larger(layers[-1], same_block, capacity))
    counts = np.concatenate(layers)
    adding = np.full(counts.shape, -1, dtype=np.int32)
    removing = np.full(counts.shape, -1, dtype=np.int32)
    hashes, order, steps = _hashes(counts)
    for symbol in range(len(own)):
        smaller = np.flatnonzero(counts[:, symbol] > 0)
        wanted = hashes[smaller] - steps[symbol]
        less = order[np.searchsorted(hashes, wanted, sorter=order)]
        removing[smaller, symbol] = less
        adding[less, symbol] = smaller
    sizes = counts.sum(axis=1, dtype=np.int64)
    parts = KindParts(own, counts, sizes, adding, removing, np.zeros(len(counts), dtype=bool))
    return _forget_when_full(symbols, parts, slots) if kind in symbols.forgetful else parts


def _forget_when_full(symbols: Symbols, parts: KindParts, slots: int) -> KindParts:
    """Full parts that differ only in which others they carry become one."""
    is_other = np.array([symbols.symbols[each].is_other for each in parts.symbols], dtype=bool)
    full = np.flatnonzero(parts.sizes == slots)
    if is_other.sum() < 2 or not len(full):
        return parts
    heir = np.arange(len(parts.sizes), dtype=np.int64)
    heir[full] = _heirs_of_parts(symbols, parts)[full]
    kept = np.unique(heir)
    heir = np.searchsorted(kept, heir)
    forgotten = parts.sizes[kept] == slots
    adding = parts.adding[kept]
    removing = parts.removing[kept]
    removing[forgotten] = -1
    return KindParts(
        symbols=parts.symbols,
        counts=parts.counts[kept],
        sizes=parts.sizes[kept],
        adding=np.where(adding >= 0, heir[adding], -1),
        removing=np.where(removing >= 0, heir[removing], -1),
        forgotten=forgotten,
    )


def _heirs_of_parts(symbols: Symbols, parts: KindParts) -> np.ndarray:
    """For each part, the first that differs from it only in which others it carries."""
    if not len(parts.symbols):
        return np.zeros(1, dtype=np.int64)
    is_other = np.array([symbols.symbols[each].is_other for each in parts.symbols], dtype=bool)
    known = parts.counts.copy()
    known[:, is_other] = 0
    known = np.column_stack([known, parts.sizes])
    _, first, which = np.unique(known, axis=0, return_index=True, return_inverse=True)
    return np.asarray(first[which.ravel()])


def _one_larger(layer: np.ndarray, same_block: np.ndarray, capacity: np.ndarray) -> np.ndarray:
    """Parts with one affix more: each symbol from the last one present on."""
    width = layer.shape[1]
    if not width:
        return layer[:0]
    last = np.where(layer.any(axis=1), width - 1 - np.argmax(layer[:, ::-1] > 0, axis=1), 0)
    fits = (layer @ same_block < capacity) & (np.arange(width) >= last[:, None])
    row, symbol = np.nonzero(fits)
    larger = layer[row]
    larger[np.arange(len(row)), symbol] += 1
    return larger


def _hashes(counts: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One different whole number for each part, a sum of one number for each symbol."""
    for seed in range(8):
        draw = np.random.default_rng(seed)
        steps = np.asarray(draw.integers(2**63, size=counts.shape[1], dtype=np.uint64))
        hashes = counts.astype(np.uint64) @ steps
        order = np.argsort(hashes)
        if (np.diff(hashes[order]) > 0).all():
            return hashes, order, steps
    raise ArithmeticError("no numbering of parts found")


def count_parts(symbols: Symbols, kind: int) -> int:
    """How many parts of a kind there are, without listing them."""
    by_size = np.zeros(symbols.slots[kind] + 1)
    by_size[0] = 1
    blocks = [symbols.symbols[each].block for each in symbols.of_kind[kind]]
    for block in dict.fromkeys(blocks):
        alone = np.zeros_like(by_size)
        most = int(min(symbols.capacity[block], symbols.slots[kind]))
        # so many of one block: choose with repetition among its symbols of this kind
        for size in range(most + 1):
            ways = 1.0
            for each in range(size):
                ways = ways * (blocks.count(block) + each) / (each + 1)
            alone[size] = ways
        by_size = np.convolve(by_size, alone)[: len(by_size)]
    return int(by_size.sum())


def _refuse_too_many(symbols: Symbols, kind: int) -> None:
    count = count_parts(symbols, kind)
    if count > MOST_PARTS or count * len(symbols.of_kind[kind]) > MOST_CELLS:
        raise CannotAnswer(
            f"what can be on a piece of kind {symbols.kinds[kind]!r} comes in {count:,} ways",
            right=f"at most {MOST_PARTS:,} are listed; mention fewer affixes in wants and steps",
        )


@dataclass(frozen=True)
class Pieces:
    """The parts of every kind, and pieces made of them.

    A piece is a row of part numbers, one for each kind; its *code* is one whole
    number that says the same.
    """

    symbols: Symbols
    kinds: tuple[KindParts, ...]

    @cached_property
    def strides(self) -> np.ndarray:
        """What one more in a part number is in the code, for each kind."""
        sizes = [len(each.sizes) for each in self.kinds]
        strides, span = [], 1
        for size in reversed(sizes):
            strides.append(span)
            span *= size
        if span > LARGEST_CODE:
            raise CannotAnswer(
                f"pieces come in {span:.3g} ways",
                right="mention fewer affixes in wants and steps",
            )
        return np.array(strides[::-1], dtype=np.int64)

    @cached_property
    def span(self) -> int:
        """How many codes there are."""
        return int(self.strides[0]) * len(self.kinds[0].sizes)

    def code(self, rows: np.ndarray) -> np.ndarray:
        """Codes of pieces, shape (n,), of rows of shape (n, kinds)."""
        return np.asarray(rows @ self.strides)

    def rows(self, codes: np.ndarray) -> np.ndarray:
        """Rows of part numbers, shape (n, kinds), of codes."""
        rows = np.empty((len(codes), len(self.kinds)), dtype=np.int64)
        left = codes
        for kind, stride in enumerate(self.strides):
            rows[:, kind], left = np.divmod(left, stride)
        return rows

    def counts(self, rows: np.ndarray) -> np.ndarray:
        """How many of each symbol, uint8, shape (n, symbols)."""
        return np.concatenate(
            [each.counts[rows[:, kind]] for kind, each in enumerate(self.kinds)], axis=1
        )

    def carries(self, rows: np.ndarray, chosen: np.ndarray) -> np.ndarray:
        """bool, shape (n,): at least one of these symbols is on the piece.

        Args:
            rows: Pieces, shape (n, kinds).
            chosen: bool, shape (symbols,).
        """
        found = np.zeros(len(rows), dtype=bool)
        for kind, parts in enumerate(self.kinds):
            own = chosen[parts.symbols]
            if own.any():
                found |= np.asarray((parts.counts[:, own] > 0).any(axis=1))[rows[:, kind]]
        return found

    def count_of(self, rows: np.ndarray, chosen: np.ndarray) -> np.ndarray:
        """How many affixes of these symbols are on each piece, shape (n,)."""
        total = np.zeros(len(rows), dtype=np.int64)
        for kind, parts in enumerate(self.kinds):
            own = chosen[parts.symbols]
            if own.any():
                total += parts.counts[:, own].sum(axis=1, dtype=np.int64)[rows[:, kind]]
        return total

    def of(self, chosen: list[int]) -> np.ndarray:
        """The piece that carries exactly these symbols, shape (1, kinds)."""
        row = np.zeros((1, len(self.kinds)), dtype=np.int64)
        for symbol in chosen:
            kind = self.symbols.symbols[symbol].kind
            row[0, kind] = self.kinds[kind].adding[row[0, kind], self.column(symbol)]
        return row

    def forget_others(self, rows: np.ndarray) -> np.ndarray:
        """Pieces that stand for all that differ only in which others they carry."""
        return np.column_stack(
            [self._heirs[kind][rows[:, kind]] for kind in range(len(self.kinds))]
        )

    @cached_property
    def _heirs(self) -> tuple[np.ndarray, ...]:
        return tuple(_heirs_of_parts(self.symbols, parts) for parts in self.kinds)

    def column(self, symbol: int) -> int:
        """Where a symbol stands among those of its kind."""
        kind = self.symbols.symbols[symbol].kind
        return int(np.searchsorted(self.kinds[kind].symbols, symbol))


def list_pieces(symbols: Symbols) -> Pieces:
    """List the parts of every kind."""
    kinds = range(len(symbols.kinds))
    return Pieces(symbols, tuple(list_parts(symbols, kind) for kind in kinds))
