"""Where a price is heading: its slopes and earlier seasons, trusted as far as they forecast well.

    expected change over h days =  sum over paces  a * slope * (f + f^2 + ... + f^h)
                                 + b * (C(d + h) - C(d))

A slope is the recent change a day, over days or over weeks; f is what is left of
it after a day; C is the season curve. Each trust a, b is learned by regressing
past changes on what it would have said at the time, drawn towards the family's
and from there towards a prior, and kept in [0, 1].

Source: Gardner & McKenzie (1985), Management Science 31:1237-1246 (damped trend).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.levels.kin import Kin
from advisor.levels.looking_ahead import Ahead, look_ahead, strays_in_hindsight
from advisor.levels.seasons import SeasonCurves
from advisor.levels.series import Floats
from advisor.levels.track_model import Trace, TrackNoise
from advisor.levels.tracks import TrackTable, sum_rows


@dataclass(frozen=True, slots=True)
class Pace:
    """One way of looking at a slope.

    Attributes:
        days: How far it looks back, about.
        damping: Share of it that is left after a day.
        calm_days: Days of no change it starts from.
    """

    days: float
    damping: float
    calm_days: float

    def damped(self, days: Floats) -> Floats:
        """f + f^2 + ... + f^days, also for parts of a day."""
        sum_: Floats = np.exp(days * math.log(self.damping))
        np.subtract(1.0, sum_, out=sum_)
        sum_ *= self.damping / (1.0 - self.damping)
        return sum_


PACES = (Pace(60.0, 0.98, 10.0), Pace(5.0, 0.9, 1.0))

TREND_PRIOR = (0.0, 0.3)
SEASON_PRIOR = (0.4, 0.3)
"""Mean and sd of how far a slope, and an earlier season, can be trusted, before any test."""

_KIN_SD = 0.2
_TEST_DAYS = 3.0
_CALM_SDS = 2.5


@dataclass(frozen=True, eq=False)
class Drift:
    """Slopes and how far they and the seasons are trusted.

    Attributes:
        slopes: (paces, T, n), log change a day about each row, from rows up to it.
        trusts: (paces, n).
        season_trust: (n,).
        curves: Of earlier seasons, None without.
    """

    slopes: Floats
    trusts: Floats
    season_trust: Floats
    curves: SeasonCurves | None

    def columns(self, which: slice) -> Drift:
        """The drift of some of the tracks."""
        curves = None if self.curves is None else self.curves.columns(which)
        return Drift(
            self.slopes[:, :, which], self.trusts[:, which], self.season_trust[which], curves
        )

    def said(self, table: TrackTable, ahead: Ahead) -> Floats:
        """(T, n), the change that was expected from each row to its later row."""
        change = np.zeros(table.days.shape)
        for pace, trust, slope in zip(PACES, self.trusts, self.slopes, strict=True):
            change += trust * slope * pace.damped(ahead.days)
        if self.curves is not None:
            change += self.season_trust * self.curves.said_between(table, ahead.target)
        return change

    def said_before_rows(self, table: TrackTable) -> Floats:
        """(T, n), the change that was expected from the row before to each row."""
        change = np.zeros(table.days.shape)
        for pace, trust, slope in zip(PACES, self.trusts, self.slopes, strict=True):
            change[1:] += trust * slope[:-1] * pace.damped(table.gap_days[1:])
        if self.curves is not None:
            change += self.season_trust * self.curves.said_before_rows(table)
        return change


def learn_drift(
    table: TrackTable,
    smoothed: Trace,
    noise: TrackNoise,
    *,
    curves: SeasonCurves | None,
    kin: Kin,
) -> Drift:
    """Slopes of every track, and the trust that slopes and seasons have earned, in turn."""
    slopes = _measure_slopes(table, smoothed, noise)
    strays = strays_in_hindsight(table, smoothed, noise)
    ahead = look_ahead(table, smoothed, noise, strays=strays, days=_TEST_DAYS)
    season_trust, surprise = np.zeros(len(table.length)), ahead.change
    if curves is not None:
        said = curves.said_between(table, ahead.target)
        season_trust = _learn_trust(surprise, said, ahead=ahead, kin=kin, prior=SEASON_PRIOR)
        surprise = surprise - season_trust * said
    trusts = []
    for pace, slope in zip(PACES, slopes, strict=True):
        said = slope * pace.damped(ahead.days)
        trusts.append(_learn_trust(surprise, said, ahead=ahead, kin=kin, prior=TREND_PRIOR))
        surprise = surprise - trusts[-1] * said
    return Drift(slopes, np.vstack(trusts), season_trust, curves)


def _measure_slopes(table: TrackTable, smoothed: Trace, noise: TrackNoise) -> Floats:
    """(paces, T, n), log change a day about each row, from rows up to it; jumps are cut down."""
    rows, n = table.log_price.shape
    slopes = np.zeros((len(PACES), rows, n))
    sums = np.zeros((len(PACES), 2, n))
    for k in range(1, rows):
        live = slice(0, int(table.reach[k]))
        gap = table.gap_days[k, live]
        most = _CALM_SDS * np.sqrt(noise.step_var[live] * gap + smoothed.var[k, live])
        change = np.clip(smoothed.mean[k, live] - smoothed.mean[k - 1, live], -most, most)
        for pace, slope, (changes, days) in zip(PACES, slopes, sums, strict=True):
            kept = np.exp(-gap / pace.days)
            changes[live] = kept * changes[live] + change
            days[live] = kept * days[live] + gap
            slope[k, live] = changes[live] / (days[live] + pace.calm_days)
    return slopes


def _learn_trust(
    change: Floats, said: Floats, *, ahead: Ahead, kin: Kin, prior: tuple[float, float]
) -> Floats:
    """Regression of changes on what was said, (n,); overlapping tests count once."""
    sound = ahead.target >= 0
    calm = np.clip(change, -3.0 * np.sqrt(ahead.variance), 3.0 * np.sqrt(ahead.variance))
    weight = np.where(sound, 1.0 / (ahead.variance * ahead.rows_on), 0.0)
    told = sum_rows(weight * said * calm)
    known = sum_rows(weight * said * said)
    mean, sd = prior
    shared = kin.mean(told, known, prior=mean, strength=sd**-2)
    own = (told + shared * _KIN_SD**-2) / (known + _KIN_SD**-2)
    trust: Floats = np.clip(own, 0.0, 1.0)
    return trust
