"""How noisy and how restless each track is, borrowing from its family where it has few quotes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from advisor.levels.kin import Kin
from advisor.levels.likelihood import weigh_settings
from advisor.levels.series import Floats, Ints
from advisor.levels.track_model import Trace, TrackNoise
from advisor.levels.tracks import SURE, TrackTable

PLAIN_NOISE_SD = 0.06
PLAIN_STEP_SD = 0.03
"""Spread of a track with no quotes and no family: about 6 % between quotes, 3 % a day."""

PLAIN_JUMPS_A_DAY = 0.02
PLAIN_STRAY_SHARE = 0.03
"""How often prices jump, and quotes mislead, before any are seen: every 50 days, 3 %."""

_PLAIN = (math.log(PLAIN_NOISE_SD**2), math.log(PLAIN_STEP_SD**2))
_PRIOR_QUOTES = 8.0
_PRIOR_JUMP_DAYS = 1500.0
_PRIOR_STRAY_QUOTES = 40.0
_KIN_SD = np.array([0.7, 1.0])
"""How far members of one family differ in log noise and log step variance."""

_STAR = np.array([(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)], dtype=np.float64)
_FIRST_REACH = np.array([0.9, 1.4])
_LAST_REACH = np.array([0.5, 0.8])
_LONGEST_STEP = 1.6
"""How far the star reaches in log noise and log step variance, at first and once refined,
and how many reaches a step may be long."""

STRAY_ONCE_TOLD = 0.98
_SURELY = 0.9

_LEAST_LOG_VAR = math.log(1e-9)
_LASTING_ROWS = 3
_JUMP_SDS = 4.0
_LEAST_JUMP = 0.25

_LAGS = (1, 4)


def learn_noise(table: TrackTable, kin: Kin) -> tuple[TrackNoise, Trace]:
    """The numbers each track's filter runs with: likeliest, drawn towards the family's.

    A first guess comes from the sizes of changes. Then, twice, the likelihood is
    taken on a small star about the guess and a step taken towards it and the
    family's prior; in between, strays are told. A track with one quote has the
    family's numbers, one with hundreds its own.

    Returns: The numbers, and a first reading of every track, by a filter with one story.
    """
    guess, trace = _likelier(table, _first_guess(table, kin), kin=kin, reach=_FIRST_REACH)
    stray = (trace.stray > _SURELY) & (table.stray_share != SURE)
    told = replace(table, stray_share=np.where(stray, STRAY_ONCE_TOLD, table.stray_share))
    noise, trace = _likelier(told, guess, kin=kin, reach=_LAST_REACH)
    return _with_jumps_seen(table, trace, noise, kin=kin), trace


def _first_guess(table: TrackTable, kin: Kin) -> TrackNoise:
    quotes = _tests(table)
    noise_var, step_var = (
        np.exp(kin.draw(np.log(row) * quotes, quotes, prior=plain, strength=_PRIOR_QUOTES))
        for row, plain in zip(_from_differences(table), _PLAIN, strict=True)
    )
    n = len(quotes)
    return TrackNoise(
        noise_var,
        step_var,
        jumps_a_day=np.full(n, PLAIN_JUMPS_A_DAY),
        stray_share=np.full(n, PLAIN_STRAY_SHARE),
    )


def _likelier(
    table: TrackTable, guess: TrackNoise, *, kin: Kin, reach: Floats
) -> tuple[TrackNoise, Trace]:
    """One Newton step in log noise and log step variance, towards likelihood and family.

    The likelihood is taken at the guess and a reach to each side of it.

    Returns: Better numbers, and a reading of the tracks with the guess.
    """
    quotes = _tests(table)
    centre = np.log(np.vstack([guess.noise_var, guess.step_var]))
    points = centre + (_STAR * reach)[:, :, None]
    star = weigh_settings(table, np.exp(points[:, 0]), np.exp(points[:, 1]), habits=guess)
    level, up, down = star.log_likelihood[0], star.log_likelihood[1::2], star.log_likelihood[2::2]
    width, kin_var = reach[:, None], _KIN_SD[:, None] ** 2
    middle = np.vstack(
        [
            kin.mean(row * quotes, quotes, prior=plain, strength=_PRIOR_QUOTES)
            for row, plain in zip(centre, _PLAIN, strict=True)
        ]
    )
    slope = (up - down) / (2.0 * width) - (centre - middle) / kin_var
    bend = np.maximum((2.0 * level - up - down) / width**2, 0.0) + 1.0 / kin_var
    step = np.clip(slope / bend, -_LONGEST_STEP * width, _LONGEST_STEP * width)
    noise_var, step_var = np.exp(np.clip(centre + step, _LEAST_LOG_VAR, 0.0))
    strays = kin.draw(star.strays[0], quotes, prior=PLAIN_STRAY_SHARE, strength=_PRIOR_STRAY_QUOTES)
    better = TrackNoise(noise_var, step_var, guess.jumps_a_day, np.minimum(strays, 0.5))
    return better, star.trace


def _tests(table: TrackTable) -> Floats:
    """How often each track tested its settings: once a row after the first."""
    return np.maximum(table.length - 1, 0).astype(np.float64)


def _with_jumps_seen(table: TrackTable, trace: Trace, noise: TrackNoise, *, kin: Kin) -> TrackNoise:
    """The same numbers with the rate of jumps that the levels were seen to make.

    A jump is a move far beyond what the level gathers in the time, that was still
    there some rows later. Counts are drawn towards the family's.
    """
    rows = len(table.days)
    days = table.days.max(axis=0, initial=0.0)
    if rows < 2:
        return noise
    before, after = trace.mean[:-1], trace.mean[1:]
    later = np.minimum(np.arange(1, rows)[:, None] + _LASTING_ROWS, table.length - 1)
    column = np.arange(len(table.length))
    move = after - before
    usual = noise.step_var * table.gap_days[1:] + trace.var[:-1]
    far = np.abs(move) > np.maximum(_JUMP_SDS * np.sqrt(usual), _LEAST_JUMP)
    lasting = (trace.mean[later, column] - before) * np.sign(move) > 0.7 * np.abs(move)
    inside = np.arange(1, rows)[:, None] < table.length
    jumps = (far & lasting & inside).sum(axis=0).astype(np.float64)
    rate = kin.draw(jumps, days, prior=PLAIN_JUMPS_A_DAY, strength=_PRIOR_JUMP_DAYS)
    return replace(noise, jumps_a_day=rate)


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
