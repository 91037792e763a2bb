"""What was known before each look at the market: the middle of earlier looks and their spread."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from advisor.levels.other_sides import CONTEXT, OtherSides
from advisor.levels.series import Bools, Floats, Ints
from advisor.quotes import MICROSECONDS_A_DAY

LEAST_BAND = 0.3
"""No quote nearer to the middle than this stands out, log scale."""

_SDS = 6.0
_WANDER_SD_A_DAY = 0.03

_UNKNOWN_SD = 0.15
_UNKNOWN_WEIGHT = 3.0
"""Spread of an item's looks before any are seen, log scale; counts as so many looks."""

_CALMER_QUARTILE = 0.46
"""About how far the nearer quartile of a dozen normal values lies from their median, in sd
(by simulation)."""

_BLOCK = 8192
"""Looks that are judged at a time, so that their context stays in the processor's cache."""


@dataclass(frozen=True, eq=False)
class Context:
    """What was known before each look (quotes of one side seen together), from earlier ones.

    Attributes:
        middle: Median log value of the last `CONTEXT` looks; nan with none.
        band: Log distance from `middle` beyond which a quote stands out; inf with none.
        before: The look before each look, -1 with none.
        log_value, at_us, trader: Of the looks themselves, for those who ask for company.
    """

    middle: Floats
    band: Floats
    before: Ints
    log_value: Floats
    at_us: Ints
    trader: Ints

    def newest(self, looks: Ints) -> Floats:
        """The log value of the look before each of some looks; nan with none."""
        before = self.before[looks]
        return np.where(before >= 0, self.log_value[before], np.nan)

    def last_three(self, looks: Ints) -> tuple[Floats, Floats, Ints]:
        """Log values (nan with none), days before and only traders of the three looks before
        each of some looks, newest first; shape (looks, 3)."""
        three = np.empty((len(looks), 3), dtype=np.int64)
        here = looks
        for back in range(3):
            here = np.where(here >= 0, self.before[here], -1)
            three[:, back] = here
        known = three >= 0
        days = (self.at_us[looks][:, None] - self.at_us[three]) / MICROSECONDS_A_DAY
        log_value = np.where(known, self.log_value[three], np.nan)
        return log_value, days, np.where(known, self.trader[three], -1)


def earlier_context(track: Ints, at_us: Ints, *, log_value: Floats, trader: Ints) -> Context:
    """The context of each look, from the looks before it on the same track.

    Args:
        track: Ascending; times ascend inside a track.
        log_value: Median log value of each look.
        trader: The look's only trader, -1 if unknown or several.
    """
    n = len(track)
    place = np.arange(n)
    new = np.ones(n, dtype=bool)
    new[1:] = track[1:] != track[:-1]
    seen = np.minimum(place - np.maximum.accumulate(np.where(new, place, 0)), CONTEXT)
    padded = np.concatenate([np.full(CONTEXT, np.inf), log_value])
    middle, spread = np.empty(n), np.empty(n)
    for start in range(0, n, _BLOCK):
        rows = slice(start, min(start + _BLOCK, n))
        middle[rows], spread[rows] = _middle_and_spread(padded, seen[rows], start=start)
    variance = (_UNKNOWN_WEIGHT * _UNKNOWN_SD**2 + seen * spread**2) / (_UNKNOWN_WEIGHT + seen)
    gap_days = np.zeros(n)
    gap_days[1:] = np.where(new[1:], 0.0, np.diff(at_us) / MICROSECONDS_A_DAY)
    band = np.maximum(_SDS * np.sqrt(variance), LEAST_BAND)
    band += 2.0 * _WANDER_SD_A_DAY * np.sqrt(gap_days)
    return Context(
        middle=middle,
        band=np.where(seen > 0, band, np.inf),
        before=np.where(seen > 0, place - 1, -1),
        log_value=log_value,
        at_us=at_us,
        trader=trader,
    )


def context_beside(
    track: Ints, at_us: Ints, *, log_value: Floats, trader: Ints, beside: OtherSides
) -> Context:
    """The context of each look, where the first looks of a side may belong to no price at all.

    Looks that are far from the item's other sides are held against those, and find
    company among themselves alone; all other looks never hear of them.
    """
    if not beside.far.any():
        return earlier_context(track, at_us, log_value=log_value, trader=trader)
    n = len(track)
    middle, band, before = beside.middle.copy(), beside.band.copy(), np.full(n, -1)
    for apart in (False, True):
        rows = np.flatnonzero(beside.far == apart)
        part = earlier_context(
            track[rows], at_us[rows], log_value=log_value[rows], trader=trader[rows]
        )
        before[rows] = np.where(part.before >= 0, rows[part.before], -1)
        if not apart:
            middle[rows], band[rows] = part.middle, part.band
    return Context(middle, band, before, log_value, at_us, trader)


def _middle_and_spread(padded: Floats, seen: Ints, *, start: int) -> tuple[Floats, Floats]:
    """Median of the looks before each look of a block, and their spread about it."""
    n = len(seen)
    earlier = np.empty((CONTEXT, n))
    for back in range(CONTEXT):
        first = start + CONTEXT - 1 - back
        earlier[back] = np.where(seen > back, padded[first : first + n], np.inf)
    _sort_columns(earlier)
    known: Bools = seen > 0
    place, last = np.arange(n), np.maximum(seen - 1, 0)
    low, high = earlier[last // 2, place], earlier[(last + 1) // 2, place]
    middle = np.where(known, 0.5 * (low + high), np.nan)
    # the calmer side, so that a cluster on one side does not excuse itself
    upper, lower = earlier[(3 * last + 2) // 4, place], earlier[last // 4, place]
    above = np.where(known, upper, 0.0) - np.where(known, middle, 0.0)
    below = np.where(known, middle, 0.0) - np.where(known, lower, 0.0)
    spread = np.where(seen > 1, np.minimum(above, below) / _CALMER_QUARTILE, 0.0)
    return middle, spread


def _sort_columns(rows: Floats) -> None:
    """Sort every column in place, by comparing whole rows: fast for few rows of any length.

    Source: Knuth, The Art of Computer Programming 3, section 5.2.2, algorithm M
    (Batcher's merge exchange).
    """
    low = np.empty(rows.shape[1])
    for first, second in _exchanges(len(rows)):
        np.minimum(rows[first], rows[second], out=low)
        np.maximum(rows[first], rows[second], out=rows[second])
        rows[first] = low


def _exchanges(n: int) -> Iterator[tuple[int, int]]:
    top = 1 << max((n - 1).bit_length() - 1, 0)
    step = top
    while step > 0:
        reach, rest, away = top, 0, step
        while True:
            for first in range(n - away):
                if first & step == rest:
                    yield first, first + away
            if reach == step:
                break
            away, reach, rest = reach - step, reach // 2, step
        step //= 2
