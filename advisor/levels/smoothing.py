"""The level of every track at once: a local level filter that knows stray quotes and jumps.

Model of one track, with log price y at times t_1 < t_2 < ...:

    y_k = x_k + e_k       e_k ~ N(0, r g_k), or, with chance s_k, N(0, STRAY_SD^2): a stray
    x_k = x_{k-1} + d_k + u_k    u_k ~ N(0, q dt), plus, at rate j a day, N(0, JUMP_SD^2): a jump

r noise variance, g_k scale of this observation, q step variance a day, d_k a
change expected from elsewhere.

A stray is seldom alone: offers planted to fix a price come within hours and at one
price. So with chance ECHO times what the quote before was thought a stray, fading
over hours, the next one is its echo: y_k ~ N(y_{k-1}, ECHO_SD^2). Echoes within
hours prove nothing; the same price a day later does.

The exact posterior is a mixture that doubles
with every quote; three of its parts are kept: the story so far and its best
rivals ("the last quotes were a jump, not strays"). So one wild quote moves
nothing, and two or three that agree move the level at once.

Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed.,
chapter 2 (local level, exact diffuse start); Alspach & Sorenson (1972), IEEE
Trans. Automatic Control 17:439-448 (mixtures of normals in filtering).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from advisor.levels.series import Floats
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

STORIES = 3
_PAIRS = ((0, 1), (0, 2), (1, 2))

_LEAST_STRAY_DENSITY = 1e-9
"""However far off a quote is, it may be a stray."""

STORIES = 3
_PAIRS = ((0, 1), (0, 2), (1, 2))

_LEAST_STRAY_DENSITY = 1e-9
"""However far off a quote is, it may be a stray."""

_BLOCK_TRACKS = 1000
"""Tracks worked on at a time, so that they stay in the processor's cache."""

_ALIKE = 1.0
"""Stories whose means differ by less than their spread are one."""

_TINY = 1e-290
_TINIER = 1e-305


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

    def columns(self, which: slice) -> TrackNoise:
        """The numbers of some of the tracks."""
        return TrackNoise(
            **{field.name: getattr(self, field.name)[which] for field in fields(self)}
        )


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

    def columns(self, which: slice) -> Trace:
        """The rows of some of the tracks."""
        return Trace(self.mean[:, which], self.var[:, which], self.stray[:, which])


@dataclass(frozen=True, eq=False)
class Smoothed(Trace):
    """What the filter knows after each row, and at the end.

    Attributes:
        ahead: (T, n), log level expected just before the observation; in the first row
            the observation itself.
        part_mean, part_var, part_weight: (STORIES, n), the stories after the last row.
        log_likelihood: (n,), of every row but the first.
    """

    ahead: Floats
    part_mean: Floats
    part_var: Floats
    part_weight: Floats
    log_likelihood: Floats


def filter_tracks(table: TrackTable, noise: TrackNoise) -> Smoothed:
    """Run the filter over every track of a table, row by row."""
    blocks = table.blocks()
    done = [_filter_block(table.columns(block), noise.columns(block)) for block in blocks]
    if len(done) == 1:
        return done[0]
    if not done:
        return _filter_block(table, noise)
    return Smoothed(
        **{
            field.name: np.concatenate([getattr(each, field.name) for each in done], axis=-1)
            for field in fields(Smoothed)
        }
    )


def _filter_block(table: TrackTable, noise: TrackNoise) -> Smoothed:
    rows, n = table.log_price.shape
    trace = {name: np.zeros((rows, n)) for name in _TRACED}
    parts = _Parts(np.zeros((STORIES, n)), np.ones((STORIES, n)), np.zeros((STORIES, n)))
    log_likelihood = np.zeros(n)
    gaps, stray_chance = table.gap_days, table.stray_chance(noise.stray_share)
    jump_chance = -np.expm1(-noise.jumps_a_day * np.maximum(gaps, SMALLEST_GAP_DAYS))
    echo_chance = ECHO * np.exp(-((gaps / ECHO_DAYS) ** 2))
    for k in range(int((table.reach > 0).sum())):
        live = slice(0, int(table.reach[k]))
        y, share = table.log_price[k, live], stray_chance[k, live]
        plain_var = noise.noise_var[live] * table.noise_scale[k, live]
        if k == 0:
            after = _open_stories(y, plain_var, stray_share=share)
            trace["ahead"][k, live], trace["stray"][k, live] = y, share
        else:
            before = parts.of(live)
            gathered = noise.step_var[live] * gaps[k, live] + table.restart_var[k, live]
            ahead = _Parts(before.mean + table.drift[k, live], before.var + gathered, before.weight)
            step = _weigh_ways(
                ahead,
                y,
                plain_var=plain_var,
                stray_share=share,
                echo_chance=echo_chance[k, live] * trace["stray"][k - 1, live],
                before=table.log_price[k - 1, live],
                jump_chance=jump_chance[k, live],
            )
            after = _keep_stories(step.ways)
            log_likelihood[live] += np.log(step.total)
            trace["ahead"][k, live] = (ahead.weight * ahead.mean).sum(axis=0)
            trace["stray"][k, live] = step.stray
        parts.put(live, after)
        trace["mean"][k, live], trace["var"][k, live] = after.mixed()
    return Smoothed(
        **trace,
        part_mean=parts.mean,
        part_var=parts.var,
        part_weight=parts.weight,
        log_likelihood=log_likelihood,
    )


_TRACED = ("mean", "var", "ahead", "stray")


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
    """The ways on (each story goes on, or the level jumps) and what the quote said."""

    ways: _Parts
    stray: Floats
    total: Floats


def _open_stories(y: Floats, plain_var: Floats, *, stray_share: Floats) -> _Parts:
    """Exact diffuse start: the level is the first observation, give or take its noise."""
    return _Parts(
        np.vstack([y, y, y]),
        np.vstack([plain_var, np.full_like(y, STRAY_SD**2), plain_var]),
        np.vstack([1.0 - stray_share, stray_share, np.zeros_like(y)]),
    )


def _weigh_ways(
    ahead: _Parts,
    y: Floats,
    *,
    plain_var: Floats,
    stray_share: Floats,
    echo_chance: Floats,
    before: Floats,
    jump_chance: Floats,
) -> _Step:
    """Bayes over: a plain quote, a stray, a jump, under each of the stories.

    Args:
        ahead: The stories, carried on to this row.
        y: The observation.
        echo_chance: That it echoes the observation `before`, which was a stray.
    """
    # an honest quote may well come between: half of the echoes are taken on trust
    stray_share = stray_share + 0.5 * echo_chance * (1.0 - stray_share)
    echo_density = _density((y - before) ** 2, ECHO_SD**2)
    surprise = y - ahead.mean
    square = surprise * surprise
    plain_all, stray_all = ahead.var + plain_var, ahead.var + STRAY_SD**2
    jump_all = plain_all + JUMP_SD**2
    calm = ahead.weight * (1.0 - jump_chance)
    # where every density vanishes, the quote is taken for a plain one
    plain = calm * ((1.0 - stray_share) * _density(square, plain_all) + _TINY)
    wild = (1.0 - echo_chance) * hollow_density(square, stray_all) + echo_chance * echo_density
    stray = calm * stray_share * wild
    jump = ahead.weight * (jump_chance * (1.0 - stray_share)) * _density(square, jump_all)
    going_on = plain + stray
    jumping = jump.sum(axis=0)
    total = going_on.sum(axis=0) + jumping

    plain_part = plain / np.maximum(going_on, _TINIER)
    plain_gain, stray_gain = ahead.var / plain_all, ahead.var / stray_all
    gain = plain_part * plain_gain + (1.0 - plain_part) * stray_gain
    apart = plain_part * (1.0 - plain_part) * (plain_gain - stray_gain) ** 2 * square

    # after a jump the level is near the quote, whichever story it jumped from
    share = jump / np.maximum(jumping, _TINIER)
    short = plain_var / jump_all
    landing = -(share * short * surprise).sum(axis=0)
    landing_var = (share * ((1.0 - short) * plain_var + (short * surprise + landing) ** 2)).sum(0)

    ways = _Parts(
        np.vstack([ahead.mean + gain * surprise, (y + landing)[None]]),
        np.vstack([ahead.var * (1.0 - gain) + apart, landing_var[None]]),
        np.vstack([going_on, jumping[None]]) / total,
    )
    return _Step(ways, stray.sum(axis=0) / total, total)


def _density(square: Floats, variance: Floats | float) -> Floats:
    density: Floats = np.exp(-0.5 * square / variance) / np.sqrt(2.0 * np.pi * variance)
    return density


def _keep_stories(ways: _Parts) -> _Parts:
    """Three stories out of four ways on; weights sum to 1.

    Stories that have become one are told as one; then the jump takes the place of
    the least likely story, if it is likelier.
    """
    mean, var, weight = (part[:STORIES].copy() for part in (ways.mean, ways.var, ways.weight))
    for i, j in _PAIRS:
        gap = mean[j] - mean[i]
        alike = gap * gap < _ALIKE * (var[i] + var[j])
        both = weight[i] + weight[j]
        share = np.where(alike, weight[j] / np.maximum(both, _TINY), 0.0)
        var[i] += share * (var[j] - var[i] + (1.0 - share) * gap * gap)
        mean[i] += share * gap
        weight[i] = np.where(alike, both, weight[i])
        weight[j] = np.where(alike, 0.0, weight[j])
    jump = ways.weight[STORIES]
    least = weight.min(axis=0)
    replace = (weight == least) & (least < jump)
    replace[1] &= ~replace[0]
    replace[2] &= ~(replace[0] | replace[1])
    mean = np.where(replace, ways.mean[STORIES], mean)
    var = np.where(replace, ways.var[STORIES], var)
    weight = np.where(replace, jump, weight)
    return _Parts(mean, var, weight / weight.sum(axis=0))


def hollow_density(square: Floats, variance: Floats) -> Floats:
    """A normal law weighted by the squared distance: a quote near the level is no stray."""
    return square / variance * _density(square, variance) + _LEAST_STRAY_DENSITY
