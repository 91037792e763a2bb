"""How likely a track is under many settings at once: a one-story filter, run on a grid.

The same model as in `smoothing`, but the posterior is one normal: after each
quote the three ways (plain, stray, jump) are averaged. That is quick enough to
try several settings for every track of a large book.

Source: Bar-Shalom, Li & Kirubarajan, Estimation with Applications to Tracking
and Navigation (Wiley 2001), section 11.6.3 (generalised pseudo-Bayes, first order).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Floats
from advisor.levels.smoothing import (
    ECHO,
    ECHO_DAYS,
    ECHO_SD,
    JUMP_SD,
    SMALLEST_GAP_DAYS,
    STRAY_SD,
    hollow_density,
)
from advisor.levels.tracks import TrackTable

_BLOCK_CELLS = 8192
"""Cells of the grid worked on at a time, so that they stay in the processor's cache."""

_TINY = 1e-300


@dataclass(frozen=True, eq=False)
class GridLikelihood:
    """What each of G settings makes of each of n tracks, all of shape (G, n).

    Attributes:
        log_likelihood: Of every row but the first.
        strays: Expected number of strays.
    """

    log_likelihood: Floats
    strays: Floats


def weigh_settings(
    table: TrackTable,
    noise_var: Floats,
    step_var: Floats,
    *,
    jumps_a_day: Floats,
    stray_share: Floats,
) -> GridLikelihood:
    """The likelihood of every track under every setting of its grid.

    Args:
        table: The observations, (T, n).
        noise_var, step_var: shape (G, n).
        jumps_a_day, stray_share: shape (n,).
    """
    settings, n = noise_var.shape
    block = max(_BLOCK_CELLS // settings, 1)
    sums = np.zeros((2, settings, n))
    for start in range(0, n, block):
        columns = slice(start, min(start + block, n))
        sums[:, :, columns] = _weigh_block(
            table,
            columns,
            noise_var=noise_var[:, columns],
            step_var=step_var[:, columns],
            jumps_a_day=jumps_a_day[columns],
            stray_share=stray_share[columns],
        )
    return GridLikelihood(*sums)


def _weigh_block(
    table: TrackTable,
    columns: slice,
    *,
    noise_var: Floats,
    step_var: Floats,
    jumps_a_day: Floats,
    stray_share: Floats,
) -> Floats:
    """Log likelihood and strays of a run of tracks: (2, G, columns)."""
    settings, width = noise_var.shape
    length = table.length[columns]
    rows = int(length.max(initial=0))
    y = table.log_price[:rows, columns]
    scale, gaps = table.noise_scale[:rows, columns], table.gap_days[:rows, columns]
    drift, restart = table.drift[:rows, columns], table.restart_var[:rows, columns]
    stray_chance = table.stray_chance(stray_share, columns)[:rows]
    jump_chance = -np.expm1(-jumps_a_day * np.maximum(gaps, SMALLEST_GAP_DAYS))
    echo_chance = ECHO * np.exp(-((gaps / ECHO_DAYS) ** 2))
    echo_density = _density(np.diff(y, axis=0, prepend=y[:1]) ** 2, ECHO_SD**2)
    strayed = np.broadcast_to(stray_chance[0], (settings, width)).copy()
    mean = np.broadcast_to(y[0], (settings, width)).copy()
    var = noise_var * scale[0]
    sums = np.zeros((2, settings, width))
    for k in range(1, rows):
        live = slice(0, int(np.searchsorted(-length, -k)))
        ahead = var[:, live] + step_var[:, live] * gaps[k, live] + restart[k, live]
        surprise = y[k, live] - drift[k, live] - mean[:, live]
        square = surprise * surprise
        plain_all = ahead + noise_var[:, live] * scale[k, live]
        jump_all, stray_all = plain_all + JUMP_SD**2, ahead + STRAY_SD**2
        echo = echo_chance[k, live] * strayed[:, live]
        calm = 1.0 - jump_chance[k, live]
        sound = (1.0 - stray_chance[k, live]) * (1.0 - 0.5 * echo)
        plain = (calm * sound) * _density(square, plain_all)
        wild = (1.0 - echo) * hollow_density(square, stray_all) + echo * echo_density[k, live]
        stray = calm * (1.0 - sound) * wild
        jump = ((1.0 - calm) * sound) * _density(square, jump_all)
        total = plain + stray + jump + _TINY
        stray /= total
        jump /= total
        # the jump's gain is all but 1; the others' are ahead / all
        plain_gain, stray_gain = ahead / plain_all, ahead / stray_all
        jump_gain = (ahead + JUMP_SD**2) / jump_all
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
    return sums


def _density(square: Floats, variance: Floats | float) -> Floats:
    density: Floats = np.exp(-0.5 * square / variance) / np.sqrt(2.0 * np.pi * variance)
    return density
