"""How noisy and how restless each track is, borrowing from its family where it has few quotes."""

from __future__ import annotations

import numpy as np

from advisor.levels.series import Floats, Ints
from advisor.levels.smoothing import TrackNoise
from advisor.levels.tracks import TrackTable

PLAIN_NOISE_SD = 0.06
PLAIN_STEP_SD = 0.03
"""Spread of a track with no quotes and no family: about 6 % between quotes, 3 % a day."""

_PRIOR_QUOTES = 8.0
_LAGS = (1, 4)


def learn_noise(table: TrackTable, family: Ints) -> TrackNoise:
    """The numbers each track's filter runs with.

    Args:
        table: The observations.
        family: Per track of the table; tracks of one family borrow from each other.
    """
    n = len(table.length)
    noise_var, step_var = _from_differences(table)
    quotes = np.maximum(table.length - 1, 0)
    plain = np.log([PLAIN_NOISE_SD**2, PLAIN_STEP_SD**2])
    own = np.log(np.vstack([noise_var, step_var]))
    kinds, member = np.unique(family, return_inverse=True)
    sums = np.vstack([np.bincount(member, quotes * row, minlength=len(kinds)) for row in own])
    weight = np.bincount(member, quotes, minlength=len(kinds))
    shared = (sums + _PRIOR_QUOTES * plain[:, None]) / (weight + _PRIOR_QUOTES)
    drawn = (quotes * own + _PRIOR_QUOTES * shared[:, member]) / (quotes + _PRIOR_QUOTES)
    return TrackNoise(
        noise_var=np.exp(drawn[0]),
        step_var=np.exp(drawn[1]),
        jumps_a_day=np.full(n, 0.004),
        stray_share=np.full(n, 0.03),
    )


def _from_differences(table: TrackTable) -> tuple[Floats, Floats]:
    """Noise and step variance from robust sizes of changes over one and over four rows.

    A change over d days has variance 2 r + q d: two sizes give r and q.
    """
    sizes, spans = [], []
    for lag in _LAGS:
        change = np.abs(table.log_price[lag:] - table.log_price[:-lag])
        span = table.days[lag:] - table.days[:-lag]
        count = np.maximum(table.length - lag, 0)
        sizes.append((1.4826 * _median_down(change, count)) ** 2)
        spans.append(_median_down(span, count))
    floor = 1e-8
    short, long = (np.maximum(size, floor) for size in sizes)
    step_var = np.clip((long - short) / np.maximum(spans[1] - spans[0], 1e-6), 0.02 * short, None)
    step_var = np.minimum(step_var, short / np.maximum(spans[0], 1e-6))
    noise_var = np.maximum(0.5 * (short - step_var * spans[0]), 0.02 * short)
    few = table.length <= _LAGS[1]
    share = short / (2 * PLAIN_NOISE_SD**2 + PLAIN_STEP_SD**2 * np.maximum(spans[0], 0.1))
    noise_var = np.where(few, PLAIN_NOISE_SD**2 * share, noise_var)
    step_var = np.where(few, PLAIN_STEP_SD**2 * share, step_var)
    return np.clip(noise_var, 1e-8, 1.0), np.clip(step_var, 1e-8, 0.25)


def _median_down(columns: Floats, count: Ints) -> Floats:
    """Median of the first `count` rows of each column; 0 where there are none."""
    if len(columns) == 0:
        return np.zeros(len(count))
    inside = np.arange(len(columns))[:, None] < count
    ordered = np.sort(np.where(inside, columns, np.inf), axis=0)
    at = np.arange(len(count))
    low = ordered[np.maximum((count - 1) // 2, 0), at]
    high = ordered[np.minimum(np.maximum(count // 2, 0), len(columns) - 1), at]
    return np.where(count > 0, 0.5 * (low + high), 0.0)
