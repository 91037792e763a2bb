"""The model of one track that all filters share: noise, strays, echoes, steps and jumps.

With log price y seen at times t_1 < t_2 < ...:

    y_k = x_k + e_k       e_k ~ N(0, r g_k), or, with chance s_k, a stray
    x_k = x_{k-1} + d_k + u_k    u_k ~ N(0, q dt), plus, at rate j a day, N(0, JUMP_SD^2): a jump

r noise variance, g_k scale of this observation, q step variance a day, d_k a
change expected from elsewhere. A stray says nothing of the level; it lies at a
distance v from it with density v^2 / c N(v; c), c about STRAY_SD^2: seldom near.

A stray is seldom alone: offers planted to fix a price come within hours and at one
price. So with chance ECHO times what the quote before was thought a stray, fading
over hours, the next one is its echo: y_k ~ N(y_{k-1}, ECHO_SD^2). Echoes within
hours prove nothing; the same price a day later does.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from advisor.levels.series import Floats, Ints
from advisor.levels.tracks import TrackTable

STRAY_SD = 0.8
"""Spread of a quote that says nothing of the level, on the log scale."""

JUMP_SD = 0.6
"""Spread of a sudden change, on the log scale: half or double is nothing unheard of."""

ECHO = 0.9
ECHO_SD = 0.05
ECHO_DAYS = 0.25
"""A quote right after a stray is its echo with this chance, so near, for about so long."""

SMALLEST_GAP_DAYS = 0.05
"""A jump has at least this long to happen, however close two quotes are."""

LEAST_STRAY_DENSITY = 1e-9
"""However far off a quote is, it may be a stray."""


@dataclass(frozen=True, eq=False)
class TrackNoise:
    """The numbers a track's filter runs with, each of shape (n,).

    Attributes:
        noise_var: Variance of a plain observation about the level, log scale. [r]
        step_var: Variance the level gathers in a day. [q]
        jumps_a_day: Rate of sudden changes. [j]
        stray_share: Chance that an observation is a stray. [s]
    """

    noise_var: Floats
    step_var: Floats
    jumps_a_day: Floats
    stray_share: Floats

    def columns(self, which: slice | Ints) -> TrackNoise:
        """The numbers of some of the tracks."""
        return TrackNoise(
            **{field.name: getattr(self, field.name)[which] for field in fields(self)}
        )

    def jump_chance(self, table: TrackTable) -> Floats:
        """(T, n), chance that the level jumped since the row before."""
        gaps = np.maximum(table.gap_days, SMALLEST_GAP_DAYS)
        chance: Floats = -np.expm1(-self.jumps_a_day * gaps)
        return chance


def echo_chance(table: TrackTable) -> Floats:
    """(T, n), chance that a row echoes the row before, if that was a stray."""
    chance: Floats = ECHO * np.exp(-((table.gap_days / ECHO_DAYS) ** 2))
    return chance


@dataclass(frozen=True, eq=False)
class Trace:
    """What a filter knew after each row.

    Attributes:
        mean, var: (T, n), log level after the observation of this row.
        stray: (T, n), chance that it was a stray.
    """

    mean: Floats
    var: Floats
    stray: Floats

    def columns(self, which: slice | Ints) -> Trace:
        """The rows of some of the tracks."""
        return Trace(self.mean[:, which], self.var[:, which], self.stray[:, which])

    def put(self, which: Ints, new: Trace) -> None:
        """Set the rows of some of the tracks."""
        self.mean[:, which], self.var[:, which] = new.mean, new.var
        self.stray[:, which] = new.stray
