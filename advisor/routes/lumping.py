"""Stages with the same future made one, so that the law of a total has fewer unknowns.

Two stages whose outcomes have the same odds, amounts and targets have the same
law of everything still to come. Merging them may make others alike in turn, so
it is done in rounds. A redraw that forgets the piece makes all its stages one.
Rows are compared by a 64-bit sum over their outcomes.

Source: Kemeny & Snell, Finite Markov Chains (Van Nostrand, 1960), section 6.3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

END_OF_CHAIN = -1
ITSELF = -2
ROUNDS_AT_MOST = 40
SAME_ODDS = 1e-14

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


@dataclass(frozen=True)
class _Outcomes:
    """One outcome for each (stage, stage it leads to, kind), sorted, and its odds."""

    source: np.ndarray
    target: np.ndarray
    kind: np.ndarray
    odds: np.ndarray


def lump_stages(
    source: np.ndarray, target: np.ndarray, kind: np.ndarray, odds: np.ndarray, start: int
) -> LumpedChain:
    """Merge stages with the same future until all differ, or enough rounds are done.

    Args:
        source, target: Stage of each outcome and where it leads (-1: an end), shape (q,).
        kind: Number of the amount that an outcome adds, shape (q,).
        odds: Odds of each outcome, shape (q,).
        start: The stage one starts from.
    """
    outcomes = _add_up(_Outcomes(source, target, kind, odds))
    for _ in range(ROUNDS_AT_MOST):
        kept = _find_twins(outcomes, outcomes.target)
        if kept is None:
            own = np.where(outcomes.target == outcomes.source, ITSELF, outcomes.target)
            kept = _find_twins(outcomes, own)
        if kept is None:
            break
        start = int(kept[start])
        stays = kept[outcomes.source] == outcomes.source
        onto = outcomes.target[stays]
        outcomes = _add_up(
            _Outcomes(
                outcomes.source[stays],
                np.where(onto >= 0, kept[onto], onto),
                outcomes.kind[stays],
                outcomes.odds[stays],
            )
        )
    return LumpedChain(_collect_rows(outcomes), start)


def _add_up(outcomes: _Outcomes) -> _Outcomes:
    """The odds of outcomes that differ in nothing, added."""
    order = np.lexsort((outcomes.kind, outcomes.target, outcomes.source))
    source, target, kind = (
        column[order] for column in (outcomes.source, outcomes.target, outcomes.kind)
    )
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (np.diff(source) != 0) | (np.diff(target) != 0) | (np.diff(kind) != 0)
    first = np.flatnonzero(fresh)
    odds = np.add.reduceat(outcomes.odds[order], first)
    return _Outcomes(source[first], target[first], kind[first], odds)


def _find_twins(outcomes: _Outcomes, targets: np.ndarray) -> np.ndarray | None:
    """For each stage the first with the same outcomes; None where all differ."""
    marks = _mix(_mix(_mix(targets) + outcomes.kind.astype(np.uint64)) + _whole(outcomes.odds))
    first = np.flatnonzero(np.diff(outcomes.source, prepend=-1))
    sums = np.add.reduceat(marks, first)
    stages = outcomes.source[first]
    _, position, group = np.unique(sums, return_index=True, return_inverse=True)
    if len(position) == len(stages):
        return None
    kept = np.arange(int(stages[-1]) + 1)
    kept[stages] = stages[position[group]]
    return kept


def _whole(odds: np.ndarray) -> np.ndarray:
    return np.rint(odds / SAME_ODDS).astype(np.uint64)


def _mix(numbers: np.ndarray) -> np.ndarray:
    """Numbers scattered over 64 bits.

    Source: the finalizer of splitmix64, Steele, Lea & Flood, OOPSLA 2014, 453-472.
    """
    mixed = numbers.astype(np.int64).view(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(mixed ^ (mixed >> np.uint64(31)))


def _collect_rows(outcomes: _Outcomes) -> dict[int, Row]:
    rows: dict[int, Row] = {}
    for at, onto, kind, odds in zip(
        outcomes.source.tolist(),
        outcomes.target.tolist(),
        outcomes.kind.tolist(),
        outcomes.odds.tolist(),
        strict=True,
    ):
        rows.setdefault(at, {})[onto, kind] = odds
    return rows
