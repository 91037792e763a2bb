"""Many evenings played out: what is used up together, piece after piece.

The law of each item's use alone does not say which items run short on the same
evening. So single pieces are played out along the chosen way, outcome by outcome,
and rows of pieces are drawn from those. Seeds are fixed: the same question has the
same answer.

Source: drawing rows from played pieces is the bootstrap of Efron & Tibshirani, An
    Introduction to the Bootstrap (Chapman & Hall 1993), section 6.2; long rows by
    the central limit theorem.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.need import Floats
from advisor.routes.chain import Chain

PIECES_PLAYED, EVENINGS, FEWEST_PIECES = 4000, 2000, 300
STEPS_AT_MOST = 8_000_000
"""Actions played in all; where a piece takes very many, fewer pieces are played."""

LONG_ROW = 60
"""More pieces than this are summed by the central limit theorem."""


@dataclass(frozen=True, eq=False)
class PlayedPieces:
    """Single pieces of one route.

    Attributes:
        used: What each used, shape (pieces, columns).
        mean: What a piece uses on average, worked out and not played, shape (columns,).
    """

    used: Floats
    mean: Floats


def play_pieces(chain: Chain, amounts: Floats, *, seed: int = 1) -> PlayedPieces:
    """What single pieces use, each played out to its end.

    Args:
        chain: The chosen way.
        amounts: What each outcome of the route uses, shape (outcomes, columns).
    """
    steps = float(chain.visits.sum()) if len(chain.stages) else 0.0
    runs = int(np.clip(STEPS_AT_MOST / max(steps, 1.0), FEWEST_PIECES, PIECES_PLAYED))
    used = np.zeros((runs, amounts.shape[1]))
    if not len(chain.stages):
        return PlayedPieces(used, np.zeros(amounts.shape[1]))
    random = np.random.default_rng(seed)
    added, up_to = amounts[chain.outcomes], np.cumsum(chain.odds)
    first = np.searchsorted(chain.source, np.arange(len(chain.stages)))
    last = np.append(first[1:], len(chain.source)) - 1
    base = up_to[first] - chain.odds[first]
    span = up_to[last] - base
    running, stage = np.arange(runs), np.full(runs, chain.start)
    while len(running):
        drawn = base[stage] + random.random(len(stage)) * span[stage]
        # rounding must not lead to an outcome of another stage
        outcome = np.clip(np.searchsorted(up_to, drawn, side="right"), first[stage], last[stage])
        used[running] += added[outcome]
        onward = chain.target[outcome] >= 0
        running, stage = running[onward], chain.target[outcome][onward]
    return PlayedPieces(used, np.array([chain.moments(column).mean for column in amounts.T]))


def add_parts(
    pieces: PlayedPieces, units: Floats, *, mean_units: float, part: PlayedPieces, seed: int
) -> PlayedPieces:
    """The same pieces with what their parts use, each part drawn from those played.

    Args:
        units: Parts that each piece takes, shape (pieces,); made whole.
        mean_units: How many on average.
    """
    counts = np.ceil(units - 1e-9).astype(np.int64)
    drawn = np.random.default_rng(seed).integers(len(part.used), size=int(counts.sum()))
    used, owner = pieces.used.copy(), np.repeat(np.arange(len(counts)), counts)
    for column in range(used.shape[1]):
        used[:, column] += np.bincount(owner, part.used[drawn, column], minlength=len(counts))
    return PlayedPieces(used, pieces.mean + mean_units * part.mean)


def row_up(
    played: Sequence[PlayedPieces], rows: Sequence[tuple[int, int]], *, seed: int = 2
) -> Floats:
    """What is used up by the end of each part of a row of pieces, shape (evenings, parts, columns).

    Args:
        played: Of each route.
        rows: The parts one after the other: which route, how many pieces.
    """
    random = np.random.default_rng(seed)
    parts = [_sum_of(played[route], pieces, random) for route, pieces in rows]
    return np.cumsum(np.stack(parts, axis=1), axis=1)


def _sum_of(pieces: PlayedPieces, count: int, random: np.random.Generator) -> Floats:
    """Sums of `count` pieces, shape (evenings, columns)."""
    used = pieces.used
    if count <= LONG_ROW:
        drawn = random.integers(len(used), size=(count, EVENINGS))
        sums = np.asarray(sum(used[each] for each in drawn), dtype=np.float64)
        # in a sum the luck of the pieces played adds up: put its mean right
        sums += count * (pieces.mean - used.mean(axis=0)) * (count > 1)
    else:
        mean, spread = count * pieces.mean, count * np.atleast_2d(np.cov(used, rowvar=False))
        sums = random.multivariate_normal(mean, spread, EVENINGS, method="eigh")
    whole: Floats = np.maximum(sums, 0.0)
    return whole
