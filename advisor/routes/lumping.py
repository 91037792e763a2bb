"""Stages with the same future made one, so that the law of a total has fewer unknowns.

Two stages whose outcomes have the same odds, amounts and targets have the same
law of everything still to come. Merging them may make others alike in turn.
A redraw that forgets the piece makes all its stages one.

Source: Kemeny & Snell, Finite Markov Chains (Van Nostrand, 1960), section 6.3.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

END_OF_CHAIN = -1
ITSELF = -2

Row = dict[tuple[int, int], float]


@dataclass(frozen=True)
class LumpedChain:
    """Stages that differ in their future, each with its outcomes.

    Attributes:
        rows: For each stage kept: {(stage it leads to or -1, kind of amount): odds}.
        start: The stage one starts from.
    """

    rows: dict[int, Row]
    start: int


def lump_stages(
    source: np.ndarray, target: np.ndarray, kind: np.ndarray, odds: np.ndarray, start: int
) -> LumpedChain:
    """Merge stages with the same future until all differ.

    Args:
        source, target: Stage of each outcome and where it leads (-1: an end), shape (q,).
        kind: Number of the amount that an outcome adds, shape (q,).
        odds: Odds of each outcome, shape (q,).
        start: The stage one starts from.
    """
    rows: dict[int, Row] = defaultdict(dict)
    before: dict[int, set[int]] = defaultdict(set)
    for at, onto, what, chance in zip(
        source.tolist(), target.tolist(), kind.tolist(), odds.tolist(), strict=True
    ):
        rows[at][onto, what] = rows[at].get((onto, what), 0.0) + chance
        before[onto].add(at)
    seen: dict[frozenset[tuple[tuple[int, int], float]], int] = {}
    waiting = list(rows)
    while waiting:
        stage = waiting.pop()
        if stage not in rows:
            continue
        twin = _find_twin(seen, rows, stage)
        if twin is None or twin == stage:
            continue
        kept, lost = (stage, twin) if stage == start else (twin, stage)
        del rows[lost]
        for earlier in before.pop(lost, set()):
            if earlier in rows:
                rows[earlier] = _redirect(rows[earlier], lost, kept)
                before[kept].add(earlier)
                waiting.append(earlier)
        waiting.append(kept)
    return LumpedChain(dict(rows), start)


def _find_twin(
    seen: dict[frozenset[tuple[tuple[int, int], float]], int], rows: dict[int, Row], stage: int
) -> int | None:
    """A stage with the same outcomes, whether "back to itself" is read as a name or as itself."""
    row = rows[stage]
    own = {(ITSELF if onto == stage else onto, kind): odds for (onto, kind), odds in row.items()}
    for view in (row, own):
        key = frozenset(view.items())
        twin = seen.get(key)
        if twin is not None and twin != stage and twin in rows and _matches(rows, twin, view):
            return twin
        seen[key] = stage
    return None


def _matches(rows: dict[int, Row], twin: int, view: Row) -> bool:
    row = rows[twin]
    if row == view:
        return True
    return view == {
        (ITSELF if onto == twin else onto, kind): odds for (onto, kind), odds in row.items()
    }


def _redirect(row: Row, lost: int, kept: int) -> Row:
    changed: Row = {}
    for (onto, kind), odds in row.items():
        place = (kept if onto == lost else onto, kind)
        changed[place] = changed.get(place, 0.0) + odds
    return changed
