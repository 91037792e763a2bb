"""The level of every track at once: a local level filter that knows stray quotes and jumps.

Model of one track, with log price y at times t_1 < t_2 < ...:

    y_k = x_k + e_k       e_k ~ N(0, r g_k), or, with chance s_k, N(0, STRAY_SD^2): a stray
    x_k = x_{k-1} + d_k + u_k    u_k ~ N(0, q dt), plus, at rate j a day, N(0, JUMP_SD^2): a jump

r noise variance, g_k scale of this observation, q step variance a day, d_k a
change expected from elsewhere. The exact posterior is a mixture that doubles
with every quote; two of its parts are kept: the story so far and its best
rival ("the last quotes were a jump, not strays"). So one wild quote moves
nothing, and two or three that agree move the level at once.

Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed.,
chapter 2 (local level, exact diffuse start); Alspach & Sorenson (1972), IEEE
Trans. Automatic Control 17:439-448 (mixtures of normals in filtering).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Floats
from advisor.levels.tracks import TrackTable

STRAY_SD = 0.8
"""Spread of a quote that says nothing of the level, on the log scale."""

JUMP_SD = 0.4
"""Spread of a sudden change, on the log scale: a third up or down is usual."""

SMALLEST_GAP_DAYS = 0.05
"""A jump has at least this long to happen, however close two quotes are."""

_TINY = 1e-300


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


@dataclass(frozen=True, eq=False)
class Smoothed:
    """What the filter knows after each row, and at the end.

    Attributes:
        mean, var: (T, n), log level after the observation of this row.
        ahead, ahead_var: (T, n), level expected just before the observation; in the first
            row the observation itself, with variance 0.
        stray, jump: (T, n), chance that it was a stray, that the level jumped to it.
        part_mean, part_var, part_weight: (2, n), the two stories after the last row.
        log_likelihood: (n,), of every row but the first.
    """

    mean: Floats
    var: Floats
    ahead: Floats
    ahead_var: Floats
    stray: Floats
    jump: Floats
    part_mean: Floats
    part_var: Floats
    part_weight: Floats
    log_likelihood: Floats


def filter_tracks(table: TrackTable, noise: TrackNoise) -> Smoothed:
    """Run the two-story filter over every track of a table, row by row."""
    rows, n = table.log_price.shape
    trace = {name: np.zeros((rows, n)) for name in _TRACED}
    parts = _Parts(np.zeros((2, n)), np.ones((2, n)), np.zeros((2, n)))
    log_likelihood = np.zeros(n)
    gaps = table.gap_days
    for k in range(rows):
        live = slice(0, int(table.reach[k]))
        y = table.log_price[k, live]
        plain_var = noise.noise_var[live] * table.noise_scale[k, live]
        share = 1.0 - (1.0 - table.stray_share[k, live]) * (1.0 - noise.stray_share[live])
        before = parts.of(live)
        if k == 0:
            after = _open_stories(y, plain_var, stray_share=share)
            trace["ahead"][k, live], trace["stray"][k, live] = y, share
        else:
            ahead = _Parts(
                before.mean + table.drift[k, live],
                before.var + noise.step_var[live] * gaps[k, live],
                before.weight,
            )
            spell = np.maximum(gaps[k, live], SMALLEST_GAP_DAYS)
            step = _weigh_ways(
                ahead,
                y,
                plain_var=plain_var,
                stray_share=share,
                jump_chance=-np.expm1(-noise.jumps_a_day[live] * spell),
            )
            after = _keep_two(step.ways)
            log_likelihood[live] += np.log(step.total)
            trace["ahead"][k, live], trace["ahead_var"][k, live] = ahead.mixed()
            trace["stray"][k, live], trace["jump"][k, live] = step.stray, step.ways.weight[2]
        parts.put(live, after)
        trace["mean"][k, live], trace["var"][k, live] = after.mixed()
    return Smoothed(
        **trace,
        part_mean=parts.mean,
        part_var=parts.var,
        part_weight=parts.weight,
        log_likelihood=log_likelihood,
    )


_TRACED = ("mean", "var", "ahead", "ahead_var", "stray", "jump")


@dataclass(frozen=True, eq=False)
class _Parts:
    """A mixture of normals for each track; the first axis runs over its parts."""

    mean: Floats
    var: Floats
    weight: Floats

    def of(self, live: slice) -> _Parts:
        return _Parts(self.mean[:, live], self.var[:, live], self.weight[:, live])

    def put(self, live: slice, new: _Parts) -> None:
        self.mean[:, live], self.var[:, live] = new.mean, new.var
        self.weight[:, live] = new.weight

    def mixed(self) -> tuple[Floats, Floats]:
        """Mean and variance of the whole mixture."""
        middle = (self.weight * self.mean).sum(axis=0)
        return middle, (self.weight * (self.var + (self.mean - middle) ** 2)).sum(axis=0)


@dataclass(frozen=True, eq=False)
class _Step:
    """Three ways on (story 0 goes on, story 1 goes on, a jump) and what the quote said."""

    ways: _Parts
    stray: Floats
    total: Floats


def _open_stories(y: Floats, plain_var: Floats, *, stray_share: Floats) -> _Parts:
    """Exact diffuse start: the level is the first observation, give or take its noise."""
    return _Parts(
        np.vstack([y, y]),
        np.vstack([plain_var, np.full_like(y, STRAY_SD**2)]),
        np.vstack([1.0 - stray_share, stray_share]),
    )


def _weigh_ways(
    ahead: _Parts, y: Floats, *, plain_var: Floats, stray_share: Floats, jump_chance: Floats
) -> _Step:
    """Bayes over: a plain quote, a stray, a jump, under each of the two stories."""
    surprise = y - ahead.mean
    square = surprise * surprise
    plain_all, stray_all = ahead.var + plain_var, ahead.var + STRAY_SD**2
    jump_all = plain_all + JUMP_SD**2
    calm = ahead.weight * (1.0 - jump_chance)
    plain = calm * (1.0 - stray_share) * _density(square, plain_all)
    stray = calm * stray_share * _density(square, stray_all)
    jump = ahead.weight * (jump_chance * (1.0 - stray_share)) * _density(square, jump_all)
    going_on = plain + stray + _TINY
    jumping = jump.sum(axis=0) + _TINY
    total = going_on.sum(axis=0) + jumping

    plain_part = plain / going_on
    plain_gain, stray_gain = ahead.var / plain_all, ahead.var / stray_all
    gain = plain_part * plain_gain + (1.0 - plain_part) * stray_gain
    apart = plain_part * (1.0 - plain_part) * (plain_gain - stray_gain) ** 2 * square

    # after a jump the level is near the quote, whichever story it jumped from
    share = jump / jumping
    short = plain_var / jump_all
    landing = -(share * short * surprise).sum(axis=0)
    landing_var = (share * ((1.0 - short) * plain_var + (short * surprise + landing) ** 2)).sum(0)

    ways = _Parts(
        np.vstack([ahead.mean + gain * surprise, (y + landing)[None]]),
        np.vstack([ahead.var * (1.0 - gain) + apart, landing_var[None]]),
        np.vstack([going_on, jumping[None]]) / total,
    )
    return _Step(ways, stray.sum(axis=0) / total, total)


def _density(square: Floats, variance: Floats) -> Floats:
    density: Floats = np.exp(-0.5 * square / variance) / np.sqrt(2.0 * np.pi * variance)
    return density


def _keep_two(ways: _Parts) -> _Parts:
    """The two likelier of three ways on, their weights made to sum to 1."""
    first, second, jump = ways.weight
    replace = np.vstack([(first < jump) & (first <= second), (second < jump) & (second < first)])
    mean = np.where(replace, ways.mean[2], ways.mean[:2])
    var = np.where(replace, ways.var[2], ways.var[:2])
    weight = np.where(replace, jump, ways.weight[:2])
    return _Parts(mean, var, weight / weight.sum(axis=0))
