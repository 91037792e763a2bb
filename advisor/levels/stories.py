"""The stories a filter follows at once: the one so far, and its rivals.

The exact posterior of the model is a mixture that grows with every quote. Three
of its parts are kept: the story so far and its best rivals ("the last quotes
were a jump, not strays"). So one wild quote moves nothing, and two or three
that agree move the level at once.

Source: Alspach & Sorenson (1972), IEEE Transactions on Automatic Control
17:439-448 (mixtures of normals in filtering).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Floats
from advisor.levels.track_model import ECHO_SD, JUMP_SD, LEAST_STRAY_DENSITY, STRAY_SD

STORIES = 3
_PAIRS = ((0, 1), (0, 2), (1, 2))

_ALIKE = 1.0
"""Stories whose means differ by less than their spread are one."""

_TINY = 1e-290
_TINIER = 1e-305


@dataclass(frozen=True, eq=False)
class Parts:
    """A mixture of normals for each track; the first axis runs over its parts."""

    mean: Floats
    var: Floats
    weight: Floats

    def of(self, live: slice) -> Parts:
        """The parts of some of the tracks."""
        return Parts(self.mean[:, live], self.var[:, live], self.weight[:, live])

    def put(self, live: slice, new: Parts) -> None:
        """Set the parts of some of the tracks."""
        self.mean[:, live], self.var[:, live] = new.mean, new.var
        self.weight[:, live] = new.weight

    def mixed(self) -> tuple[Floats, Floats]:
        """Mean and variance of the whole mixture."""
        middle = (self.weight * self.mean).sum(axis=0)
        return middle, (self.weight * (self.var + (self.mean - middle) ** 2)).sum(axis=0)


@dataclass(frozen=True, eq=False)
class Step:
    """The ways on (each story goes on, or the level jumps) and what the quote said."""

    ways: Parts
    stray: Floats
    total: Floats


def open_stories(y: Floats, plain_var: Floats, *, stray_share: Floats) -> Parts:
    """Exact diffuse start: the level is the first observation, give or take its noise."""
    return Parts(
        np.vstack([y, y, y]),
        np.vstack([plain_var, np.full_like(y, STRAY_SD**2), plain_var]),
        np.vstack([1.0 - stray_share, stray_share, np.zeros_like(y)]),
    )


def weigh_ways(
    ahead: Parts,
    y: Floats,
    *,
    plain_var: Floats,
    stray_share: Floats,
    echo: Floats,
    before: Floats,
    jump_chance: Floats,
) -> Step:
    """Bayes over: a plain quote, a stray, a jump, under each of the stories.

    Args:
        ahead: The stories, carried on to this row.
        y: The observation.
        echo: Chance that it echoes the observation `before`, which was a stray.
    """
    # an honest quote may well come between: half of the echoes are taken on trust
    stray_share = stray_share + 0.5 * echo * (1.0 - stray_share)
    echo_density = _density((y - before) ** 2, ECHO_SD**2)
    surprise = y - ahead.mean
    square = surprise * surprise
    plain_all = ahead.var + plain_var
    jump_all = plain_all + JUMP_SD**2
    calm = ahead.weight * (1.0 - jump_chance)
    # where every density vanishes, the quote is taken for a plain one
    plain = calm * ((1.0 - stray_share) * _density(square, plain_all) + _TINY)
    wild = (1.0 - echo) * _hollow_density(square, ahead.var + STRAY_SD**2) + echo * echo_density
    stray = calm * stray_share * wild
    jump = ahead.weight * (jump_chance * (1.0 - stray_share)) * _density(square, jump_all)
    going_on = plain + stray
    jumping = jump.sum(axis=0)
    total = going_on.sum(axis=0) + jumping

    plain_part = plain / np.maximum(going_on, _TINIER)
    plain_gain = ahead.var / plain_all
    gain = plain_part * plain_gain
    apart = plain_part * (1.0 - plain_part) * plain_gain**2 * square

    # after a jump the level is near the quote, whichever story it jumped from
    share = jump / np.maximum(jumping, _TINIER)
    short = plain_var / jump_all
    landing = -(share * short * surprise).sum(axis=0)
    landing_var = (share * ((1.0 - short) * plain_var + (short * surprise + landing) ** 2)).sum(0)

    ways = Parts(
        np.vstack([ahead.mean + gain * surprise, (y + landing)[None]]),
        np.vstack([ahead.var * (1.0 - gain) + apart, landing_var[None]]),
        np.vstack([going_on, jumping[None]]) / total,
    )
    return Step(ways, stray.sum(axis=0) / total, total)


def _density(square: Floats, variance: Floats | float) -> Floats:
    density: Floats = np.exp(-0.5 * square / variance) / np.sqrt(2.0 * np.pi * variance)
    return density


def keep_stories(ways: Parts) -> Parts:
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
    return Parts(mean, var, weight / weight.sum(axis=0))


def _hollow_density(square: Floats, variance: Floats) -> Floats:
    """A normal law weighted by the squared distance: a quote near the level is no stray."""
    return square / variance * _density(square, variance) + LEAST_STRAY_DENSITY
