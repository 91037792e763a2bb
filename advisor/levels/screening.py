"""Which quotes to look at twice: judged by earlier quotes alone, marked, never deleted.

Each quote is held against what the same side of the same item showed before
it. What stands out is named; the filter in `smoothing` then has the last word
with the same earlier-only view, so that a real jump is accepted by its third
quote and a stray is not.
"""

from __future__ import annotations

import numpy as np

from advisor.levels.context import LEAST_BAND, Context
from advisor.levels.series import ASK, BID, DEAL, Bools, Floats, Ints

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

_LEAST_ASIDE = 0.1
_STANDING_DAYS = 2.0
_INDEPENDENT_DAYS = 0.4

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
        context: Of each look.
        group: The look of each quote.
        trader: The quote's trader.
        money_gaps: Log factors that a mixed-up money would put on a price, shape (m,).
        standing_days: Days since the very same offer was first seen, 0 if never.
    """
    band = context.band[group]
    away = log_value - context.middle[group]
    with np.errstate(invalid="ignore"):
        out = np.abs(away) > band
    left = _left_standing(log_value, side, context=context, group=group, days=standing_days)
    believed, planted = _judge_company(log_value, out, context=context, group=group, trader=trader)
    good_for_taker = np.where(side == ASK, away < 0, (side == BID) & (away > 0))
    code = np.where(out, np.where(good_for_taker, BAIT, FAR_OFF), NOT_MARKED)
    code[out & _explained(away, np.log(10.0) * np.array([1, 2, 3]))] = WRONG_DIGIT
    code[out & _explained(away, money_gaps)] = WRONG_MONEY
    code = np.where(believed, NOT_MARKED, np.where(planted, PLANTED, code))
    code[left] = STALE
    return code.astype(np.int64)


def _left_standing(
    log_value: Floats, side: Ints, *, context: Context, group: Ints, days: Floats
) -> Bools:
    """Old offers that the price has moved away from: asks left above it, bids below."""
    left = np.zeros(len(log_value), dtype=bool)
    rows = np.flatnonzero((days >= _STANDING_DAYS) & (side != DEAL))
    looks = group[rows]
    away = log_value[rows] - context.newest(looks)
    with np.errstate(invalid="ignore"):
        aside = np.abs(away) > np.maximum(0.25 * context.band[looks], _LEAST_ASIDE)
    left[rows] = aside & ((side[rows] == ASK) == (away > 0))
    return left


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
    looks = group[rows]
    last, days, whose = context.last_three(looks)
    with np.errstate(invalid="ignore"):
        agree = np.abs(log_value[rows, None] - last) < 0.5 * context.band[looks][:, None]
    many = agree.sum(axis=1) >= 2
    longest = np.where(agree, days, 0.0).max(axis=1)
    own = (whose == trader[rows, None]) & (trader[rows, None] >= 0)
    alone = (own | ~agree).all(axis=1)
    plant = many & ((longest < _INDEPENDENT_DAYS) | alone)
    believed[rows], planted[rows] = many & ~plant, plant
    return believed, planted


def _explained(away: Floats, gaps: Floats) -> Bools:
    """Whether one of the factors, up or down, brings the quote back to its context."""
    near = np.zeros(len(away), dtype=bool)
    for gap in np.asarray(gaps, dtype=np.float64):
        if abs(gap) > LEAST_BAND:
            with np.errstate(invalid="ignore"):
                near |= np.abs(np.abs(away) - abs(gap)) < 0.25
    return near
