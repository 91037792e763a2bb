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

from advisor.levels.series import Floats
from advisor.levels.smoothing import (
    ECHO,
    ECHO_DAYS,
    ECHO_SD,
    JUMP_SD,
    SMALLEST_GAP_DAYS,
    STRAY_SD,
    Trace,
)
from advisor.levels.tracks import TrackTable

_BLOCK_CELLS = 8192
"""Cells of the grid worked on at a time, so that they stay in the processor's cache."""

_WORK = np.float32
Work = NDArray[np.float32]
_JUMP_VAR, _STRAY_VAR = _WORK(JUMP_SD**2), _WORK(STRAY_SD**2)
_TINY = _WORK(1e-30)
_TWO_PI = _WORK(2.0 * np.pi)
_LEAST_STRAY_DENSITY = _WORK(1e-9)


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
    table: TrackTable,
    noise_var: Floats,
    step_var: Floats,
    *,
    jumps_a_day: Floats,
    stray_share: Floats,
) -> SettingsLikelihood:
    """The likelihood of every track under every setting of its grid.

    Args:
        table: The observations, (T, n).
        noise_var, step_var: shape (G, n).
        jumps_a_day, stray_share: shape (n,).
    """
    settings, n = noise_var.shape
    block = max(_BLOCK_CELLS // settings, 1)
    sums = np.zeros((2, settings, n))
    trace = np.zeros((3, len(table.days), n))
    for start in range(0, n, block):
        which = slice(start, min(start + block, n))
        sums[:, :, which], rows = _weigh_block(
            table.columns(which),
            noise_var=noise_var[:, which].astype(_WORK),
            step_var=step_var[:, which].astype(_WORK),
            jumps_a_day=jumps_a_day[which],
            stray_share=stray_share[which],
        )
        trace[:, : rows.shape[1], which] = rows
        trace[0, :, which] += table.log_price[0, which]
    return SettingsLikelihood(sums[0], sums[1], Trace(*trace))


def _weigh_block(
    table: TrackTable,
    *,
    noise_var: Work,
    step_var: Work,
    jumps_a_day: Floats,
    stray_share: Floats,
) -> tuple[Work, Work]:
    """Log likelihood and strays of a run of tracks, (2, G, n), and the first setting's trace."""
    settings, width = noise_var.shape
    rows = int((table.reach > 0).sum())
    # from each track's first price on, single precision is plenty
    y = (table.log_price[:rows] - table.log_price[0]).astype(_WORK)
    scale, gaps, drift, restart, stray_chance = (
        part[:rows].astype(_WORK)
        for part in (
            table.noise_scale,
            table.gap_days,
            table.drift,
            table.restart_var,
            table.stray_chance(stray_share),
        )
    )
    jump_chance = -np.expm1(-jumps_a_day.astype(_WORK) * np.maximum(gaps, _WORK(SMALLEST_GAP_DAYS)))
    echo_chance = _WORK(ECHO) * np.exp(-((gaps / _WORK(ECHO_DAYS)) ** 2))
    echo_density = _density(np.diff(y, axis=0, prepend=y[:1]) ** 2, _WORK(ECHO_SD**2))
    strayed = np.broadcast_to(stray_chance[0], (settings, width)).copy()
    mean = np.zeros((settings, width), dtype=_WORK)
    var = noise_var * scale[0]
    sums = np.zeros((2, settings, width), dtype=_WORK)
    trace = np.zeros((3, rows, width), dtype=_WORK)
    trace[1:, 0] = var[0], strayed[0]
    for k in range(1, rows):
        live = slice(0, int(table.reach[k]))
        ahead = var[:, live] + step_var[:, live] * gaps[k, live] + restart[k, live]
        surprise = y[k, live] - drift[k, live] - mean[:, live]
        square = surprise * surprise
        plain_all = ahead + noise_var[:, live] * scale[k, live]
        jump_all, stray_all = plain_all + _JUMP_VAR, ahead + _STRAY_VAR
        echo = echo_chance[k, live] * strayed[:, live]
        calm = 1.0 - jump_chance[k, live]
        sound = (1.0 - stray_chance[k, live]) * (1.0 - 0.5 * echo)
        plain = (calm * sound) * _density(square, plain_all)
        wild = (1.0 - echo) * _hollow_density(square, stray_all) + echo * echo_density[k, live]
        stray = calm * (1.0 - sound) * wild
        jump = ((1.0 - calm) * sound) * _density(square, jump_all)
        total = plain + stray + jump + _TINY
        stray /= total
        jump /= total
        # the jump's gain is all but 1; the others' are ahead / all
        plain_gain, stray_gain = ahead / plain_all, ahead / stray_all
        jump_gain = (ahead + _JUMP_VAR) / jump_all
        plain = 1.0 - stray - jump
        gain = plain * plain_gain + stray * stray_gain + jump * jump_gain
        apart = plain * plain_gain**2 + stray * stray_gain**2 + jump * jump_gain**2 - gain * gain
        mean[:, live] += drift[k, live] + gain * surprise
        var[:, live] = (
            ahead * (1.0 - plain * plain_gain - stray * stray_gain - jump)
            + jump * jump_gain * noise_var[:, live] * scale[k, live]
            + np.maximum(apart, 0.0) * square
        )
        strayed[:, live] = stray
        sums[0, :, live] += np.log(total)
        sums[1, :, live] += stray
        trace[:, k, live] = mean[0, live], var[0, live], stray[0]
    return sums, trace


def _density(square: Work, variance: Work | np.float32) -> Work:
    density: Work = np.exp(_WORK(-0.5) * square / variance) / np.sqrt(_TWO_PI * variance)
    return density


def _hollow_density(square: Work, variance: Work) -> Work:
    return square / variance * _density(square, variance) + _LEAST_STRAY_DENSITY
