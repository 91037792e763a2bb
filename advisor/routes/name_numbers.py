"""Numbers for names, a million at a time.

A run of like names ("edge 0" ... "edge 999999") is kept as one shape with whole
numbers in its gaps, so that comparing names is comparing numbers. A name written
out ("edge 7") has the same shape as the rung {n} = 7 and is the same name.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field

import numpy as np

from advisor.routes.table import Table
from advisor.routes.vary import Braced, Rungs, split_braces

_WHOLE = re.compile(r"(?<![0-9])(0|[1-9][0-9]{0,17})(?![0-9])")
_LARGEST_CODE = 2**62


@dataclass
class _Shape:
    """One run of like names: the texts around the gaps, and every set of gap values noted."""

    texts: tuple[str, ...]
    gaps: list[np.ndarray] = field(default_factory=list)
    places: list[np.ndarray] = field(default_factory=list)


class NameNumbers:
    """Collects names, then gives each different one a number in order of first appearance."""

    def __init__(self) -> None:
        self._shapes: dict[tuple[str, ...], _Shape] = {}
        self._starts: list[int] = []
        self._ends: list[int] = []
        self._noted = 0
        self._ids = np.zeros(0, dtype=np.int64)
        self.settled_count = 0

    def note(self, text: str, rungs: Rungs, table: Table) -> int:
        """Note a name in every row of the rungs; gives the handle to ask for its numbers."""
        parts = split_braces(unicodedata.normalize("NFKC", text), rungs, table)
        first = self._noted
        self._noted += rungs.count
        self._starts.append(first)
        self._ends.append(self._noted)
        columns = [part if isinstance(part, str) else part.values(rungs) for part in parts]
        if _is_plain(parts, columns):
            self._note_columns(columns, np.arange(first, self._noted))
        else:
            self._note_written(columns, first, rungs.count)
        return len(self._starts) - 1

    def settle(self) -> None:
        """Number the names; `settled_count` then says how many different ones there are."""
        self._ids = np.empty(self._noted, dtype=np.int32)
        found = [_distinct(shape) for shape in self._shapes.values()]
        firsts = np.concatenate([each.first_place for each in found])
        rank = np.empty(len(firsts), dtype=np.int32)
        rank[np.argsort(firsts, kind="stable")] = np.arange(len(firsts), dtype=np.int32)
        offset = 0
        for each in found:
            own = rank[offset : offset + len(each.first_place)]
            self._ids[each.places] = own[each.which]
            offset += len(own)
        self._found, self._rank = found, rank
        self.settled_count = len(firsts)

    def numbers(self, handle: int) -> np.ndarray:
        """The number of a noted name in each row."""
        return self._ids[self._starts[handle] : self._ends[handle]]

    def texts(self) -> list[str]:
        """The names by number, each as it was first written."""
        texts: list[str] = []
        for shape, found in zip(self._shapes.values(), self._found, strict=True):
            texts += _write_names(shape.texts, found.gaps)
        ordered = np.empty(len(texts), dtype=object)
        ordered[self._rank] = texts
        return list(ordered)

    def _note_columns(self, columns: list[str | np.ndarray], places: np.ndarray) -> None:
        texts, gaps = [""], []
        for column in columns:
            pieces = [column] if isinstance(column, np.ndarray) else _WHOLE.split(column)
            for number, piece in enumerate(pieces):
                if isinstance(piece, str) and number % 2 == 0:
                    texts[-1] += piece
                else:
                    gaps.append(np.broadcast_to(np.int64(piece), places.shape))
                    texts.append("")
        shape = self._shapes.setdefault(_key(texts), _Shape(tuple(texts)))
        shape.gaps.append(np.array(gaps, dtype=np.int64).reshape(len(gaps), len(places)))
        shape.places.append(places)

    def _note_written(self, columns: list[str | np.ndarray], first: int, count: int) -> None:
        filled = [
            [column] * count if isinstance(column, str) else column.tolist() for column in columns
        ]
        for row, parts in enumerate(zip(*filled, strict=True)):
            text = "".join(map(str, parts))
            self._note_columns([text], np.array([first + row]))


def _is_plain(parts: list[str | Braced], columns: list[str | np.ndarray]) -> bool:
    """Whether each varied number stands apart from other digits and is not negative."""
    before_is_digit = False
    for part, column in zip(parts, columns, strict=True):
        if isinstance(column, str):
            if before_is_digit and column[0].isdigit() and isinstance(part, str):
                return False
            before_is_digit = column[-1].isdigit()
        else:
            if before_is_digit or column.min() < 0:
                return False
            before_is_digit = True
    return True


def _key(texts: list[str]) -> tuple[str, ...]:
    folded = [
        re.sub(
            r"\s+", " ", unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", t).casefold())
        )
        for t in texts
    ]
    folded[0] = folded[0].lstrip()
    folded[-1] = folded[-1].rstrip()
    return tuple(folded)


@dataclass(frozen=True)
class _Distinct:
    gaps: np.ndarray
    first_place: np.ndarray
    which: np.ndarray
    places: np.ndarray


def _distinct(shape: _Shape) -> _Distinct:
    gaps = np.concatenate(shape.gaps, axis=1)
    places = np.concatenate(shape.places)
    shape.gaps, shape.places = [], []
    code = _code(gaps)
    _, first, which = np.unique(code, return_index=True, return_inverse=True)
    return _Distinct(gaps[:, first], places[first], which, places)


def _code(gaps: np.ndarray) -> np.ndarray:
    """One whole number for each column of gap values, equal where the columns are equal."""
    if len(gaps) == 0:
        return np.zeros(gaps.shape[1], dtype=np.int64)
    low = gaps.min(axis=1)
    widths = [int(each) for each in gaps.max(axis=1) - low + 1]
    code = np.zeros(gaps.shape[1], dtype=np.int64)
    span = 1
    for row, least, width in zip(gaps, low, widths, strict=True):
        span *= width
        if span >= _LARGEST_CODE:
            return np.asarray(np.unique(gaps, axis=1, return_inverse=True)[1]).ravel()
        code = code * width + (row - least)
    return code


def _write_names(texts: tuple[str, ...], gaps: np.ndarray) -> list[str]:
    if len(gaps) == 0:
        return [texts[0].strip()]
    pattern = "%d".join(text.replace("%", "%%") for text in texts).strip()
    return [pattern % row for row in zip(*(gap.tolist() for gap in gaps), strict=True)]
