"""Where a price is heading: its slope and earlier seasons, trusted as far as they forecast well.

    expected change over h days = a * slope * (f + f^2 + ... + f^h) + b * (C(d + h) - C(d))

slope is the recent change a day, f = DAMPING, C the season curve. a and b are
learned by regressing past changes on what each would have said at the time,
drawn towards the family's and from there towards a prior, and kept in [0, 1].

Source: Gardner & McKenzie (1985), Management Science 31:1237-1246 (damped trend).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.kin import Kin
from advisor.levels.seasons import SeasonCurves
from advisor.levels.series import Floats, Ints
from advisor.levels.smoothing import Trace, TrackNoise
from advisor.levels.tracks import TrackTable

DAMPING = 0.9
"""Share of a slope that is left after a day."""

SLOPE_DAYS = 5.0
"""A slope looks back about this long."""

TREND_PRIOR = (0.0, 0.3)
SEASON_PRIOR = (0.4, 0.3)
"""Mean and sd of how far a slope, and an earlier season, can be trusted, before any test."""

_KIN_SD = 0.2
_TEST_DAYS = 3.0
_CALM_SDS = 2.5


@dataclass(frozen=True, eq=False)
class Drift:
    """Slopes now, and how far slope and season are trusted; each (n,)."""

    slope: Floats
    trend_trust: Floats
    season_trust: Floats
    curves: SeasonCurves | None

    def trend_change(self, from_days: Floats, to_days: Floats, *, column: int) -> Floats:
        """Log change by one track's slope between two ages, in days after its last row."""
        spent = damped_days(to_days) - damped_days(from_days)
        change: Floats = self.trend_trust[column] * self.slope[column] * spent
        return change


def damped_days(days: Floats) -> Floats:
    """f + f^2 + ... + f^days, also for parts of a day."""
    sum_: Floats = DAMPING * (1.0 - DAMPING**days) / (1.0 - DAMPING)
    return sum_


def measure_slopes(table: TrackTable, smoothed: Trace, noise: TrackNoise) -> Floats:
    """(T, n), log change a day about each row, from rows up to it; jumps are cut down."""
    rows, n = table.log_price.shape
    slopes = np.zeros((rows, n))
    change_sum, day_sum = np.zeros(n), np.zeros(n)
    gaps = table.gap_days
    for k in range(1, rows):
        live = slice(0, int(table.reach[k]))
        gap = gaps[k, live]
        kept = np.exp(-gap / SLOPE_DAYS)
        most = _CALM_SDS * np.sqrt(noise.step_var[live] * gap + smoothed.var[k, live])
        change = np.clip(smoothed.mean[k, live] - smoothed.mean[k - 1, live], -most, most)
        change_sum[live] = kept * change_sum[live] + change
        day_sum[live] = kept * day_sum[live] + gap
        slopes[k, live] = change_sum[live] / (day_sum[live] + 1.0)
    return slopes


def learn_drift(
    table: TrackTable,
    smoothed: Trace,
    noise: TrackNoise,
    *,
    slopes: Floats,
    curves: SeasonCurves | None,
    kin: Kin,
) -> tuple[Drift, Floats]:
    """Trust in slope and season, and the change they expected before each row, (T, n)."""
    ahead = look_ahead(table, smoothed, noise, days=_TEST_DAYS)
    season_trust = np.zeros(len(table.length))
    expected, surprise = np.zeros_like(slopes), ahead.change
    if curves is not None:
        said = curves.said_between(table, ahead.target)
        season_trust = _learn_trust(surprise, said, ahead=ahead, kin=kin, prior=SEASON_PRIOR)
        surprise = surprise - season_trust * said
        expected = season_trust * curves.said_before_rows(table)
    trend_said = slopes * damped_days(ahead.days)
    trend_trust = _learn_trust(surprise, trend_said, ahead=ahead, kin=kin, prior=TREND_PRIOR)
    expected[1:] += trend_trust * slopes[:-1] * damped_days(table.gap_days[1:])
    last = (np.maximum(table.length - 1, 0), np.arange(len(table.length)))
    return Drift(slopes[last], trend_trust, season_trust, curves), expected


@dataclass(frozen=True, eq=False)
class Ahead:
    """For each row, a later row about so many days on, and how far it was from here; (T, n).

    Attributes:
        target: The later row, -1 where there is none that can be trusted.
        days: Days until then, 0 without one.
        change: Its log price less the level here.
        variance: Expected variance of that.
        rows_on: (n,), how many rows on the later row is.
    """

    target: Ints
    days: Floats
    change: Floats
    variance: Floats
    rows_on: Ints


def look_ahead(table: TrackTable, smoothed: Trace, noise: TrackNoise, *, days: float) -> Ahead:
    """What came about `days` after each row; strays are no test of a forecast."""
    rows = len(table.days)
    span = table.days.max(axis=0, initial=0.0) / np.maximum(table.length - 1, 1)
    rows_on = np.maximum(np.rint(days / np.maximum(span, 1e-6)), 1).astype(np.int64)
    later = _Later(rows_on, rows)
    sound = np.arange(rows)[:, None] + rows_on < table.length
    sound &= later(smoothed.stray) < 0.5
    gap = np.where(sound, later(table.days) - table.days, 0.0)
    variance = smoothed.var + noise.step_var * gap + noise.noise_var * later(table.noise_scale)
    return Ahead(
        target=np.where(sound, np.arange(rows)[:, None] + rows_on, -1),
        days=gap,
        change=np.where(sound, later(table.log_price) - smoothed.mean, 0.0),
        variance=np.where(sound, variance, 1.0),
        rows_on=rows_on,
    )


class _Later:
    """Reads a table some rows on; one slice where every track is read as many rows on."""

    def __init__(self, rows_on: Ints, rows: int) -> None:
        self._alike = len(rows_on) > 0 and bool(np.all(rows_on == rows_on[0]))
        self._step = min(int(rows_on[0]), rows) if self._alike else 0
        self._column = np.arange(len(rows_on))
        if not self._alike:
            self._row = np.minimum(np.arange(rows)[:, None] + rows_on, max(rows - 1, 0))

    def __call__(self, values: Floats) -> Floats:
        if not self._alike:
            picked: Floats = values[self._row, self._column]
            return picked
        read = np.zeros_like(values)
        read[: len(values) - self._step] = values[self._step :]
        return read


def _learn_trust(
    change: Floats, said: Floats, *, ahead: Ahead, kin: Kin, prior: tuple[float, float]
) -> Floats:
    """Regression of changes on what was said, (n,); overlapping tests count once."""
    sound = ahead.target >= 0
    calm = np.clip(change, -3.0 * np.sqrt(ahead.variance), 3.0 * np.sqrt(ahead.variance))
    weight = np.where(sound, 1.0 / (ahead.variance * ahead.rows_on), 0.0)
    told = (weight * said * calm).sum(axis=0)
    known = (weight * said * said).sum(axis=0)
    mean, sd = prior
    shared = kin.mean(told, known, prior=mean, strength=sd**-2)
    own = (told + shared * _KIN_SD**-2) / (known + _KIN_SD**-2)
    trust: Floats = np.clip(own, 0.0, 1.0)
    return trust
