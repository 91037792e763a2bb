"""How noisy and how restless each track is, borrowing from its family where it has few quotes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from advisor.levels.kin import Kin
from advisor.levels.likelihood import weigh_settings
from advisor.levels.looking_ahead import strays_in_hindsight
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

_MOST_ROUNDS = 4
_STANDS_STILL = 0.3
"""Steps after the first, and the change of log noise or log step below which no more are taken."""

_LEAST_LOG_VAR = math.log(1e-9)
_LASTING_ROWS = 3
_JUMP_SDS = 4.0
_LEAST_JUMP = 0.25

_LAGS = (1, 4)


def learn_noise(table: TrackTable, kin: Kin) -> tuple[TrackNoise, Trace]:
    """The numbers each track's filter runs with: likeliest, drawn towards the family's.

    A first guess comes from the sizes of changes. Then the likelihood is taken on a
    small star about the guess and a step taken towards it and the family's prior;
    in between, strays are told, with the hindsight of all that is known by now. A
    track that stands still is left alone; one that strays have misled takes more
    steps. A track with one quote has the family's numbers, one with hundreds its own.

    Returns: The numbers, and a first reading of every track, by a filter with one story.
    """
    learning = _Learning.begin(table, kin)
    every = np.arange(len(table.length))
    learning.step(table, every, reach=_FIRST_REACH)
    moving = every
    for _ in range(_MOST_ROUNDS):
        moved = learning.step(learning.with_strays_told(moving), moving, reach=_LAST_REACH)
        moving = moving[moved > _STANDS_STILL]
        if len(moving) == 0:
            break
    return _with_jumps_seen(table, learning.trace, learning.noise, kin=kin), learning.trace


@dataclass(eq=False)
class _Learning:
    """Where the search for each track's numbers stands; steps change it in place.

    Attributes:
        strays: (n,), how many strays each track is thought to have.
        trace: A reading of each track with the numbers before its last step.
    """

    table: TrackTable
    kin: Kin
    noise_var: Floats
    step_var: Floats
    strays: Floats
    trace: Trace

    @staticmethod
    def begin(table: TrackTable, kin: Kin) -> _Learning:
        """From the sizes of changes."""
        empty = Trace(*np.zeros((3, *table.days.shape)))
        strays = PLAIN_STRAY_SHARE * _tests(table)
        noise_var, step_var = _first_guess(table, kin)
        return _Learning(table, kin, noise_var, step_var, strays, empty)

    @property
    def noise(self) -> TrackNoise:
        """The numbers so far; jumps as often as before any are seen."""
        quotes = _tests(self.table)
        strays = self.kin.draw(
            self.strays, quotes, prior=PLAIN_STRAY_SHARE, strength=_PRIOR_STRAY_QUOTES
        )
        jumps = np.full(len(quotes), PLAIN_JUMPS_A_DAY)
        return TrackNoise(self.noise_var, self.step_var, jumps, np.minimum(strays, 0.5))

    def with_strays_told(self, which: Ints) -> TrackTable:
        """Some of the tracks, where what hindsight takes for a stray is told to be one."""
        part = self.table.columns(which)
        strays = strays_in_hindsight(part, self.trace.columns(which), self.noise.columns(which))
        told = np.where(strays & (part.stray_share != SURE), STRAY_ONCE_TOLD, part.stray_share)
        return replace(part, stray_share=told)

    def step(self, part: TrackTable, which: Ints, *, reach: Floats) -> Floats:
        """One Newton step in log noise and log step variance, towards likelihood and family.

        The likelihood is taken at the numbers so far and a reach to each side of them.

        Args:
            part: The tracks that take the step.
            which: Their columns.
        Returns: How far each of them went, the longer way of the two.
        """
        quotes, centre = _tests(self.table), np.log(np.vstack([self.noise_var, self.step_var]))
        points = centre[:, which] + (_STAR * reach)[:, :, None]
        habits = self.noise.columns(which)
        star = weigh_settings(part, np.exp(points[:, 0]), np.exp(points[:, 1]), habits=habits)
        likely = star.log_likelihood
        level, up, down = likely[0], likely[1::2], likely[2::2]
        width, kin_var = reach[:, None], _KIN_SD[:, None] ** 2
        middle = np.vstack(
            [
                self.kin.mean(row * quotes, quotes, prior=plain, strength=_PRIOR_QUOTES)[which]
                for row, plain in zip(centre, _PLAIN, strict=True)
            ]
        )
        slope = (up - down) / (2.0 * width) - (centre[:, which] - middle) / kin_var
        bend = np.maximum((2.0 * level - up - down) / width**2, 0.0) + 1.0 / kin_var
        step = np.clip(slope / bend, -_LONGEST_STEP * width, _LONGEST_STEP * width)
        better = np.clip(centre[:, which] + step, _LEAST_LOG_VAR, 0.0)
        self.noise_var[which], self.step_var[which] = np.exp(better)
        self.strays[which] = star.strays[0]
        self.trace.put(which, star.trace)
        moved: Floats = np.abs(better - centre[:, which]).max(axis=0)
        return moved


def _first_guess(table: TrackTable, kin: Kin) -> list[Floats]:
    """Noise and step variance of each track."""
    quotes = _tests(table)
    return [
        np.exp(kin.draw(np.log(row) * quotes, quotes, prior=plain, strength=_PRIOR_QUOTES))
        for row, plain in zip(_from_differences(table), _PLAIN, strict=True)
    ]


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
