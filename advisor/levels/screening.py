"""Which quotes to look at twice: judged by earlier quotes alone, marked, never deleted.

Each quote is held against what the same side of the same item showed before
it. What stands out is named; the filter in `smoothing` then has the last word
with the same earlier-only view, so that a real jump is accepted by its third
quote and a stray is not.
"""

from __future__ import annotations

import math

import numpy as np

from advisor.levels.context import LEAST_BAND, Context
from advisor.levels.series import ASK, BID, DEAL, Bools, Floats, Ints

OWN_STALL = "own stall"
"""The word for one's own listings: not doubted, but no news of others."""

REASONS = {
    "dropped": "you said to leave it out",
    OWN_STALL: "your own listing: it says nothing of what others ask",
    "no price": "the price is not a number above zero",
    "no rate": "its money has no rate to the money of the workspace",
    "wrong digit": "ten, a hundred or a thousand times what it was before",
    "wrong money": "right only if read in another money",
    "bait": "too good to be honoured: an ask far below, a bid far above",
    "planted": "one of a cluster set to fix the price: many at once, or from few traders",
    "stale": "the same offer as days ago, left standing while the price moved away",
    "far off": "far from everything seen before it",
}
"""Every word that `screened` may hold, and what it means."""

_LEAST_ASIDE = 0.1
_STANDING_DAYS = 2.0
_INDEPENDENT_DAYS = 0.4

_LADDER_LEFT = 3
"""So many old offers in one look are a ladder left standing."""

_REPEATED_OFFERS = 3
_REPEATED_SPREAD = 0.06
"""So many offers of one trader in one look, so near each other, are one offer said over and over
(log scale)."""

EXPLAINED = 0.25
"""How near its context a slip's undoing brings a price back, log scale, and how near as a share
of the band."""

_RARER = 0.15
"""A slip by one more place is so much less likely, log scale: a wrong money comes before it."""

NOT_MARKED, BAIT, FAR_OFF, WRONG_DIGIT, WRONG_MONEY, PLANTED, STALE = range(7)
CODE_WORDS = ("", "bait", "far off", "wrong digit", "wrong money", "planted", "stale")

STRAY_SHARE_OF_CODE = np.array([0.0, 0.05, 0.05, 0.97, 0.97, 0.95, 0.97])
"""How surely a group that consists of such quotes alone says nothing of the level."""

DENIED_STRAY_SHARE = 0.9
"""Likewise of a dear ask or low bid that stands alone and that the deals of late deny: such
offers are always there, and say next to nothing of what buying costs or selling brings."""


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
        money_gaps: What to add to `log_value` had the quote been in each of the moneys,
            shape (moneys, n), at the rates known at its time; 0 for its own.
        standing_days: Days since the very same offer was first seen, 0 if never.
    """
    band = context.band[group]
    away = log_value - context.middle[group]
    with np.errstate(invalid="ignore"):
        out = np.abs(away) > band
    left = _left_standing(log_value, side, context=context, group=group, days=standing_days)
    believed, planted = _judge_company(log_value, out, context=context, group=group, trader=trader)
    planted |= _said_over_and_over(log_value, away, band=band, group=group, trader=trader)
    good_for_taker = np.where(side == ASK, away < 0, (side == BID) & (away > 0))
    code = np.where(out, np.where(good_for_taker, BAIT, FAR_OFF), NOT_MARKED)
    slip, mixed_up = _explain(away, band=band, money_gaps=money_gaps)
    code[out & slip] = WRONG_DIGIT
    code[out & mixed_up] = WRONG_MONEY
    code = np.where(believed, NOT_MARKED, np.where(planted, PLANTED, code))
    code[left & (code != WRONG_MONEY)] = STALE
    return code.astype(np.int64)


def stand_alone(
    log_value: Floats, code: Ints, side: Ints, *, context: Context, group: Ints, trader: Ints
) -> Bools:
    """Far asks above and bids below that the look before does not bear out.

    It does where it agrees, and is by another trader or of another day.
    """
    alone: Bools = (code == FAR_OFF) & (side != DEAL)
    rows = np.flatnonzero(alone)
    if len(rows) == 0:
        return alone
    last, days, whose = (each[:, 0] for each in context.last_three(group[rows]))
    with np.errstate(invalid="ignore"):
        agree = np.abs(log_value[rows] - last) < 0.5 * context.band[group[rows]]
    apart = (days >= _INDEPENDENT_DAYS) | ((whose >= 0) & (whose != trader[rows]))
    alone[rows] = ~(agree & apart)
    return alone


def _left_standing(
    log_value: Floats, side: Ints, *, context: Context, group: Ints, days: Floats
) -> Bools:
    """Old offers that the price has moved away from: asks left above it, bids below.

    The more of them stand together, the less they must be off.
    """
    left = np.zeros(len(log_value), dtype=bool)
    old = (days >= _STANDING_DAYS) & (side != DEAL)
    rows = np.flatnonzero(old)
    looks = group[rows]
    away = log_value[rows] - context.newest(looks)
    ladder = np.bincount(looks, minlength=len(context.band))[looks] >= _LADDER_LEFT
    room = np.where(ladder, _LEAST_ASIDE, np.maximum(0.25 * context.band[looks], _LEAST_ASIDE))
    with np.errstate(invalid="ignore"):
        left[rows] = (np.abs(away) > room) & ((side[rows] == ASK) == (away > 0))
    return left


def _said_over_and_over(
    log_value: Floats, away: Floats, *, band: Floats, group: Ints, trader: Ints
) -> Bools:
    """Offers of one trader at one price, several in one look, half way to standing out."""
    over = np.zeros(len(log_value), dtype=bool)
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero((trader >= 0) & (np.abs(away) > 0.5 * band))
    if len(rows) < _REPEATED_OFFERS:
        return over
    rows = rows[np.lexsort((log_value[rows], trader[rows], group[rows]))]
    new = np.ones(len(rows), dtype=bool)
    new[1:] = (np.diff(group[rows]) != 0) | (np.diff(trader[rows]) != 0)
    run, first = np.cumsum(new) - 1, np.flatnonzero(new)
    middle = log_value[rows][first + (np.diff(np.append(first, len(rows))) - 1) // 2]
    alike = np.abs(log_value[rows] - middle[run]) < _REPEATED_SPREAD
    over[rows] = alike & (np.bincount(run, alike)[run] >= _REPEATED_OFFERS)
    return over


def _explain(away: Floats, *, band: Floats, money_gaps: Floats) -> tuple[Bools, Bools]:
    """Which quotes a wrong digit, and which a wrong money, brings back best to their context."""
    room = EXPLAINED * np.maximum(band, 1.0)
    digit, money = np.full(len(away), np.inf), np.full(len(away), np.inf)
    slip = np.zeros(len(away), dtype=bool)
    for places in (1, 2, 3):
        misfit = np.abs(np.abs(away) - places * math.log(10.0))
        slip |= misfit < room
        np.fmin(digit, misfit + (places - 1) * _RARER, out=digit)
    for gap in money_gaps:
        misfit = np.where(np.abs(gap) > LEAST_BAND, np.abs(away + gap), np.inf)
        np.fmin(money, misfit, out=money)
    return slip & (digit <= money), (money < room) & (money < digit)


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
