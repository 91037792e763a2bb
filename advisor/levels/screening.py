"""Which quotes to look at twice: judged by earlier quotes alone, marked, never deleted.

Each quote is held against what the same side of the same item showed before
it. What stands out is named; the filter in `smoothing` then has the last word
with the same earlier-only view, so that a real jump is accepted by its third
quote and a stray is not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import ASK, BID, DEAL, Bools, Floats, Ints
from advisor.quotes import MICROSECONDS_A_DAY

REASONS = {
    "dropped": "you said to leave it out",
    "no price": "the price is not a number above zero",
    "no rate": "its money has no rate to the money of the workspace",
    "wrong digit": "ten, a hundred or a thousand times what it was before",
    "wrong money": "right only if read in another money",
    "bait": "too good to be honoured: an ask far below, a bid far above",
    "planted": "one of a cluster set to fix the price: too many at once, or all by one trader",
    "stale": "the same offer as days ago, left standing while the price moved away",
    "far off": "far from everything seen before it",
}
"""Every word that `screened` may hold, and what it means."""

CONTEXT = 12
"""Earlier observations of a side that a quote is held against."""

_CALMER_QUARTILE = 0.46
"""About how far the nearer quartile of a dozen normal values lies from their median, in sd."""

_UNKNOWN_SD = 0.15
"""Spread of an item's quotes before any are seen, log scale; counts as `_UNKNOWN_WEIGHT` quotes."""
_UNKNOWN_WEIGHT = 3.0
_SDS = 6.0
_LEAST_BAND = 0.3
_WANDER_SD_A_DAY = 0.03
_LEAST_ASIDE = 0.1
_STANDING_DAYS = 2.0
_INDEPENDENT_DAYS = 0.4


@dataclass(frozen=True, eq=False)
class Context:
    """What was known before each group of quotes (those seen together on one side).

    Attributes:
        middle: Median log value of the last `CONTEXT` groups; nan with none.
        band: Log distance from `middle` beyond which a quote stands out; inf with none.
        last, last_days, last_trader: shape (n, 3): the last three groups, newest first: log
            value (nan where there is none), days before this one, only trader or -1.
        seen: How many groups there were, at most `CONTEXT`.
    """

    middle: Floats
    band: Floats
    last: Floats
    last_days: Floats
    last_trader: Ints
    seen: Ints


def earlier_context(track: Ints, at_us: Ints, *, middle: Floats, trader: Ints) -> Context:
    """The context of each group, from the groups before it on the same track.

    Args:
        track: Ascending; times ascend inside a track.
        middle: Median log value of each group.
        trader: The group's only trader, -1 if unknown or several.
    """
    n = len(track)
    begin = np.searchsorted(track, track, side="left")
    seen = np.minimum(np.arange(n) - begin, CONTEXT)
    blocks = [
        _middles_before(middle, seen, rows=slice(start, min(start + _BLOCK, n)))
        for start in range(0, n, _BLOCK)
    ]
    typical, spread = np.concatenate(blocks, axis=1) if blocks else np.zeros((2, 0))
    variance = (_UNKNOWN_WEIGHT * _UNKNOWN_SD**2 + seen * spread**2) / (_UNKNOWN_WEIGHT + seen)
    last = np.maximum(np.arange(n) - 1, 0)
    gap_days = (at_us - at_us[last]) / MICROSECONDS_A_DAY
    band = np.maximum(_SDS * np.sqrt(variance), _LEAST_BAND)
    band = band + 2.0 * _WANDER_SD_A_DAY * np.sqrt(np.maximum(gap_days, 0.0))
    three = np.maximum(np.arange(n)[:, None] - np.arange(1, 4), 0)
    known = np.arange(3) < seen[:, None]
    return Context(
        middle=typical,
        band=np.where(seen > 0, band, np.inf),
        last=np.where(known, middle[three], np.nan),
        last_days=(at_us[:, None] - at_us[three]) / MICROSECONDS_A_DAY,
        last_trader=np.where(known, trader[three], -1),
        seen=seen,
    )


_BLOCK = 8192
"""Rows that are judged at a time, so that their context stays in the processor's cache."""


def _middles_before(middle: Floats, seen: Ints, *, rows: slice) -> Floats:
    """Median of the earlier groups and their spread about it: (2, rows)."""
    count = seen[rows]
    before = np.arange(rows.start, rows.stop)[:, None] - 1 - np.arange(CONTEXT)
    known = np.arange(CONTEXT) < count[:, None]
    earlier = np.where(known, middle[np.maximum(before, 0)], np.inf)
    ascending = np.sort(earlier, axis=1)
    typical = _median(ascending, count)
    row = np.arange(len(count))
    last = np.maximum(count - 1, 0)
    finite = np.where(np.isfinite(ascending), ascending, 0.0)
    above = finite[row, (3 * last + 2) // 4] - typical
    below = typical - finite[row, last // 4]
    # the calmer side, so that a cluster on one side does not excuse itself
    spread = np.where(count > 1, np.minimum(above, below) / _CALMER_QUARTILE, 0.0)
    return np.vstack([typical, spread])


def _median(ascending: Floats, count: Ints) -> Floats:
    """Median of the first `count` of each row; nan where count is 0."""
    rows = np.arange(len(ascending))
    low = ascending[rows, np.maximum((count - 1) // 2, 0)]
    high = ascending[rows, np.maximum(count // 2, 0)]
    with np.errstate(invalid="ignore"):
        middle: Floats = np.where(count > 0, 0.5 * (low + high), np.nan)
    return middle


NOT_MARKED, BAIT, FAR_OFF, WRONG_DIGIT, WRONG_MONEY, PLANTED, STALE = range(7)
CODE_WORDS = ("", "bait", "far off", "wrong digit", "wrong money", "planted", "stale")

STRAY_SHARE_OF_CODE = np.array([0.0, 0.05, 0.05, 0.97, 0.97, 0.95, 0.9])
"""How surely a group that consists of such quotes alone says nothing of the level."""


def mark_quotes(
    log_value: Floats,
    side: Ints,
    *,
    context: Context,
    group: Ints,
    trader: Ints,
    money_gaps: Floats,
    standing_days: Floats,
) -> Ints:
    """A code for each quote, NOT_MARKED where nothing stands out.

    Args:
        log_value: Log price in the workspace money.
        side: 0 ask, 1 bid, 2 deal.
        context: Of each group.
        group: The group of each quote.
        trader: The quote's trader.
        money_gaps: Log factors that a mixed-up money would put on a price, shape (m,).
        standing_days: Days since the very same offer was first seen, 0 if never.
    """
    band = context.band[group]
    away = log_value - context.middle[group]
    with np.errstate(invalid="ignore"):
        out = np.abs(away) > band
        from_last = log_value - context.last[group, 0]
        aside = np.abs(from_last) > np.maximum(0.25 * band, _LEAST_ASIDE)
    left = (standing_days >= _STANDING_DAYS) & aside & ((side == ASK) == (from_last > 0))
    believed, planted = _judge_company(log_value, out, context=context, group=group, trader=trader)
    good_for_taker = np.where(side == ASK, away < 0, (side == BID) & (away > 0))
    code = np.where(out, np.where(good_for_taker, BAIT, FAR_OFF), NOT_MARKED)
    code = np.where(out & _explained(away, np.log(10.0) * np.array([1, 2, 3])), WRONG_DIGIT, code)
    code = np.where(out & _explained(away, money_gaps), WRONG_MONEY, code)
    code = np.where(believed, NOT_MARKED, np.where(planted, PLANTED, code))
    code = np.where(left & (side != DEAL), STALE, code)
    return code.astype(np.int64)


def _judge_company(
    log_value: Floats, out: Bools, *, context: Context, group: Ints, trader: Ints
) -> tuple[Bools, Bools]:
    """Which quotes that stand out agree with two of the three before: a move, or a plant.

    It is a plant if those came within hours, or from the same one trader.
    """
    believed, planted = np.zeros(len(out), dtype=bool), np.zeros(len(out), dtype=bool)
    rows = np.flatnonzero(out)
    if len(rows) == 0:
        return believed, planted
    who, band = group[rows], context.band[group[rows]]
    with np.errstate(invalid="ignore"):
        agree = np.abs(log_value[rows, None] - context.last[who]) < 0.5 * band[:, None]
    many = agree.sum(axis=1) >= 2
    longest = np.where(agree, context.last_days[who], 0.0).max(axis=1)
    own = (context.last_trader[who] == trader[rows, None]) & (trader[rows, None] >= 0)
    alone = (own | ~agree).all(axis=1)
    plant = many & ((longest < _INDEPENDENT_DAYS) | alone)
    believed[rows], planted[rows] = many & ~plant, plant
    return believed, planted


def _explained(away: Floats, gaps: Floats) -> Bools:
    """Whether one of the factors, up or down, brings the quote back to its context."""
    near = np.zeros(len(away), dtype=bool)
    for gap in np.asarray(gaps, dtype=np.float64):
        if abs(gap) > _LEAST_BAND:
            with np.errstate(invalid="ignore"):
                near |= np.abs(np.abs(away) - abs(gap)) < 0.25
    return near
