"""How likely a track is under several settings at once: a filter with one story.

The same model as in `smoothing`, but the posterior is one normal: after each
quote the three ways (plain, stray, jump) are averaged. That is quick enough to
try several settings for every track of a large book.

Source: Bar-Shalom, Li & Kirubarajan, Estimation with Applications to Tracking
and Navigation (Wiley 2001), section 11.6.3 (generalised pseudo-Bayes, first order).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.levels.series import Floats, Ints
from advisor.levels.track_model import (
    ECHO_SD,
    JUMP_SD,
    LEAST_STRAY_DENSITY,
    STRAY_SD,
    Trace,
    TrackNoise,
    echo_chance,
)
from advisor.levels.tracks import TrackTable

_BLOCK_CELLS = 8192
"""Cells of the grid worked on at a time, so that they stay in the processor's cache."""

_WORK = np.float32
Work = NDArray[np.float32]
_JUMP_VAR, _STRAY_VAR = _WORK(JUMP_SD**2), _WORK(STRAY_SD**2)
_TINY = _WORK(1e-30)
_TWO_PI = _WORK(2.0 * np.pi)
_LEAST_STRAY = _WORK(LEAST_STRAY_DENSITY)


@dataclass(frozen=True, eq=False)
class SettingsLikelihood:
    """What each of G settings makes of each of n tracks, (G, n).

    Attributes:
        log_likelihood: Of every row but the first.
        strays: Expected number of strays.
        trace: What the filter of the first setting knew after each row.
    """

    log_likelihood: Floats
    strays: Floats
    trace: Trace


def weigh_settings(
    table: TrackTable, noise_var: Floats, step_var: Floats, *, habits: TrackNoise
) -> SettingsLikelihood:
    """The likelihood of every track under every setting of its star.

    Args:
        table: The observations, (T, n).
        noise_var, step_var: shape (G, n).
        habits: How often each track jumps and strays, the same in every setting.
    """
    settings, n = noise_var.shape
    block = max(_BLOCK_CELLS // settings, 1)
    sums = np.zeros((2, settings, n))
    trace = np.zeros((3, len(table.days), n))
    for start in range(0, n, block):
        which = slice(start, min(start + block, n))
        rows = _Rows.of(table.columns(which), habits.columns(which))
        spreads = noise_var[:, which].astype(_WORK), step_var[:, which].astype(_WORK)
        sums[:, :, which], read = _weigh_block(rows, *spreads)
        trace[:, : read.shape[1], which] = read
        trace[0, :, which] += table.log_price[0, which]
    return SettingsLikelihood(sums[0], sums[1], Trace(*trace))


@dataclass(frozen=True, eq=False)
class _Rows:
    """The observations of a run of tracks in single precision, (T, n)."""

    y: Work
    scale: Work
    gap: Work
    drift: Work
    restart: Work
    stray: Work
    jump: Work
    echo: Work
    echo_density: Work
    reach: Ints

    @staticmethod
    def of(table: TrackTable, habits: TrackNoise) -> _Rows:
        # from each track's first price on, single precision is plenty
        y = (table.log_price - table.log_price[0]).astype(_WORK)
        return _Rows(
            y=y,
            scale=table.noise_scale.astype(_WORK),
            gap=table.gap_days.astype(_WORK),
            drift=table.drift.astype(_WORK),
            restart=table.restart_var.astype(_WORK),
            stray=table.stray_chance(habits.stray_share).astype(_WORK),
            jump=habits.jump_chance(table).astype(_WORK),
            echo=echo_chance(table).astype(_WORK),
            echo_density=_density(np.diff(y, axis=0, prepend=y[:1]) ** 2, _WORK(ECHO_SD**2)),
            reach=table.reach[table.reach > 0],
        )


def _weigh_block(rows: _Rows, noise_var: Work, step_var: Work) -> tuple[Work, Work]:
    """Log likelihood and strays of a run of tracks, (2, G, n), and the first setting's trace."""
    shape = noise_var.shape
    mean, var = np.zeros(shape, dtype=_WORK), noise_var * rows.scale[0]
    strayed = np.broadcast_to(rows.stray[0], shape).copy()
    sums = np.zeros((2, *shape), dtype=_WORK)
    trace = np.zeros((3, len(rows.reach), shape[1]), dtype=_WORK)
    trace[1:, 0] = var[0], strayed[0]
    for k in range(1, len(rows.reach)):
        live = slice(0, int(rows.reach[k]))
        ahead = var[:, live] + step_var[:, live] * rows.gap[k, live] + rows.restart[k, live]
        plain_var = noise_var[:, live] * rows.scale[k, live]
        surprise = rows.y[k, live] - rows.drift[k, live] - mean[:, live]
        square = surprise * surprise
        plain, stray, jump, total = _weigh_ways(
            rows, k, live, square=square, ahead=ahead, plain_var=plain_var, strayed=strayed
        )
        plain_gain = ahead / (ahead + plain_var)
        jump_gain = (ahead + _JUMP_VAR) / (ahead + _JUMP_VAR + plain_var)
        gain = plain * plain_gain + jump * jump_gain
        apart = plain * plain_gain * plain_gain + jump * jump_gain * jump_gain - gain * gain
        mean[:, live] += rows.drift[k, live] + gain * surprise
        var[:, live] = (plain * plain_gain + jump * jump_gain) * plain_var + stray * ahead
        var[:, live] += np.maximum(apart, _WORK(0.0)) * square
        strayed[:, live] = stray
        sums[0, :, live] += np.log(total)
        sums[1, :, live] += stray
        trace[:, k, live] = mean[0, live], var[0, live], stray[0]
    return sums, trace


def _weigh_ways(
    rows: _Rows,
    k: int,
    live: slice,
    *,
    square: Work,
    ahead: Work,
    plain_var: Work,
    strayed: Work,
) -> tuple[Work, Work, Work, Work]:
    """Chances that row k is plain, a stray, a jump; and its density."""
    echo = rows.echo[k, live] * strayed[:, live]
    calm = 1.0 - rows.jump[k, live]
    sound = (1.0 - rows.stray[k, live]) * (1.0 - 0.5 * echo)
    plain_all, away = ahead + plain_var, ahead + _STRAY_VAR
    wild = square / away * _density(square, away) + _LEAST_STRAY
    wild += echo * (rows.echo_density[k, live] - wild)
    stray = calm * (1.0 - sound) * wild
    jump = (1.0 - calm) * sound * _density(square, plain_all + _JUMP_VAR)
    total = calm * sound * _density(square, plain_all) + stray + jump + _TINY
    stray /= total
    jump /= total
    return 1.0 - stray - jump, stray, jump, total


def _density(square: Work, variance: Work | np.float32) -> Work:
    density: Work = np.exp(_WORK(-0.5) * square / variance) / np.sqrt(_TWO_PI * variance)
    return density
