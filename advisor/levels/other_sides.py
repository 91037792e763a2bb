"""A side's first looks held against the item's other sides: is 1200 a deal where 12 is asked?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.levels.series import ASK, BID, DEAL, Bools, Floats, Ints
from advisor.levels.valuing import SIDES_PER_ITEM
from advisor.quotes import MICROSECONDS_A_DAY

CONTEXT = 12
"""Earlier looks at a side that a quote is held against."""

FAR = math.log(2.75)
"""A price so far from the item's other sides is no first price of a side, log scale."""

WIDE = math.log(5.0)
"""How far bids may well lie below what is asked and dealt, log scale."""

_LATELY_US, _LONG_AGO_US = 3 * MICROSECONDS_A_DAY, 14 * MICROSECONDS_A_DAY
"""A deal counts for so long at least and at most; in between, if it is no older than the look
before."""

_OWN_LOOKS = 3
_FIRST_LOOKS = 12
_WANDER_SD_A_DAY = 0.03


@dataclass(frozen=True, eq=False)
class OtherSides:
    """What the other sides of an item say of the first looks at one side.

    Attributes:
        far: Whether a look is far from all that the other sides showed before it,
            while its own side has shown too little to speak for itself.
        middle: The nearest other side's middle, log scale; nan where there is none.
        band: How far from it a look may lie.
    """

    far: Bools
    middle: Floats
    band: Floats


def hold_against_other_sides(track: Ints, at_us: Ints, *, log_value: Floats) -> OtherSides:
    """Judge the first looks of each track by the item's other tracks up to their moment.

    Of looks of one moment, deals are held against bids and asks, bids against asks.

    Args:
        track: Ascending; times ascend inside a track.
        log_value: Middle log value of each look.
    """
    n = len(track)
    middle, band = np.full(n, np.nan), np.full(n, np.inf)
    place = np.arange(n) - np.searchsorted(track, track)
    item = track // SIDES_PER_ITEM
    sides = np.bincount(item[place == 0], minlength=int(item.max(initial=-1)) + 1)
    rows = np.flatnonzero((place < _FIRST_LOOKS) & (sides[item] > 1))
    if len(rows) == 0:
        return OtherSides(np.zeros(n, dtype=bool), middle, band)
    moments, moment = np.unique(at_us, return_inverse=True)
    key = track * (len(moments) + 1) + moment
    excess = np.full(len(rows), np.inf)
    side = track[rows] % SIDES_PER_ITEM
    for other in (ASK, BID, DEAL):
        theirs = item[rows] * SIDES_PER_ITEM + other
        until = theirs * (len(moments) + 1) + moment[rows]
        last = np.searchsorted(key, until + (side > other)) - 1
        known = (last >= 0) & (track[np.maximum(last, 0)] == theirs) & (side != other)
        last = np.where(known, last, 0)
        theirs_middle = _middle_up_to(last, log_value, place=place)
        away = log_value[rows] - theirs_middle
        days = (at_us[rows] - at_us[last]) / MICROSECONDS_A_DAY
        room = _room(side, other, above=away > 0) + 2.0 * _WANDER_SD_A_DAY * np.sqrt(
            np.maximum(days, 0.0)
        )
        nearer = known & (np.abs(away) - room < excess)
        excess = np.where(nearer, np.abs(away) - room, excess)
        middle[rows] = np.where(nearer, theirs_middle, middle[rows])
        band[rows] = np.where(nearer, room, band[rows])
    far = np.zeros(n, dtype=bool)
    far[rows] = (excess > 0) & np.isfinite(excess)
    sums = np.concatenate([[0], np.cumsum(~far)])
    own = sums[:-1] - sums[np.arange(n) - place]
    return OtherSides(far & (own < _OWN_LOOKS), middle, band)


def far_from_deals(
    looks: Ints, track: Ints, at_us: Ints, *, log_value: Floats, band: Floats, before: Ints
) -> Bools:
    """Whether what was dealt of an item of late before each of some looks was far from it.

    Both the last deal and the middle of the last few have to be.

    Args:
        looks: Rows of the other columns.
        track: Ascending; times ascend inside a track.
        log_value, band: Middle log value of each look, and how far is far.
        before: The look before each look, -1 with none.
    """
    if len(looks) == 0:
        return np.zeros(0, dtype=bool)
    moments, moment = np.unique(at_us, return_inverse=True)
    key = track * (len(moments) + 1) + moment
    deals = track[looks] // SIDES_PER_ITEM * SIDES_PER_ITEM + DEAL
    last = np.searchsorted(key, deals * (len(moments) + 1) + moment[looks]) - 1
    known = (last >= 0) & (track[np.maximum(last, 0)] == deals)
    last = np.where(known, last, 0)
    gap_us = np.where(before[looks] >= 0, at_us[looks] - at_us[before[looks]], 0)
    known &= at_us[looks] - at_us[last] <= np.clip(gap_us, _LATELY_US, _LONG_AGO_US)
    place = np.arange(len(track)) - np.searchsorted(track, track)
    here, middle = log_value[looks], _middle_up_to(last, log_value, place=place)
    away = np.minimum(np.abs(here - log_value[last]), np.abs(here - middle))
    far: Bools = known & (away > np.minimum(band[looks], FAR))
    return far


def _room(side: Ints, other: int, *, above: Bools) -> Floats:
    """How far a look may lie from another side: bids may be low, all else keeps near."""
    low_bid = (side == BID) & ~above if other != BID else above
    return np.where(low_bid, WIDE, FAR)


def _middle_up_to(last: Ints, log_value: Floats, *, place: Ints) -> Floats:
    """Median of the last `CONTEXT` looks of a track up to and including a look."""
    back = np.arange(CONTEXT)
    known = back <= place[last][:, None]
    earlier = np.where(known, log_value[np.maximum(last[:, None] - back, 0)], np.inf)
    earlier.sort(axis=1)
    top = known.sum(axis=1) - 1
    row = np.arange(len(last))
    middle: Floats = 0.5 * (earlier[row, top // 2] + earlier[row, (top + 1) // 2])
    return middle
