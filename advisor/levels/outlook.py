"""From a followed track to the law of its price from now on."""

from __future__ import annotations

import math

import numpy as np

from advisor.levels.calibration import HORIZON_DAYS
from advisor.levels.drift import PACES
from advisor.levels.followed import FollowedMarket
from advisor.levels.paths import PathLaw
from advisor.levels.seasons import RESTART_SD
from advisor.levels.series import Floats
from advisor.quotes import MICROSECONDS_A_DAY

LONGEST_PATH_DAYS = 120
"""How far ahead a law reaches."""

_FAINT = 0.002
"""A rival story less likely than this is not told."""

_LEAST_SHARE = 0.3
_LEAST_STEP_SHARE = 0.1
"""Calibration may narrow the variance ahead, and that of a day's step, so far."""


def law_of_track(followed: FollowedMarket, column: int, *, as_of_us: int) -> PathLaw:
    """The level at a moment after the track's last row, and the walk from there.

    The spread has grown with the days since; slope and season have gone on.
    """
    tracks = followed.tracks
    last_us = int(tracks.times_us(column)[-1])
    age_days = max((as_of_us - last_us) / MICROSECONDS_A_DAY, 0.0)
    step_var, quote_var = float(tracks.step_var[column]), float(tracks.noise_var[column])
    since = step_var * age_days
    seasons = followed.calendar.season_of(np.array([last_us, as_of_us]))
    if seasons[1] > seasons[0]:
        since += RESTART_SD**2
    since += float(tracks.rate_var[column])
    # copied, so that sums never hang on how the tables lie in memory
    mean, weight = tracks.part_mean[:, column].copy(), tracks.part_weight[:, column].copy()
    var = tracks.part_var[:, column] + since
    middle = float(weight @ mean)
    spread = float(weight @ (var + (mean - middle) ** 2))
    told = weight >= _FAINT
    mean, var, weight = mean[told], var[told], weight[told] / weight[told].sum()
    central, far = _factors(followed, column)
    changes = _changes(followed, column, age_days=age_days, as_of_us=as_of_us)
    stated: Floats = spread + step_var * np.arange(LONGEST_PATH_DAYS + 1.0)
    calibrated = _calibrated(stated, quote_var, factor=central)
    steps = np.maximum(np.diff(calibrated), _LEAST_STEP_SHARE * step_var)
    ahead = np.sqrt(calibrated[0] + np.concatenate([[0.0], np.cumsum(steps)]) + quote_var)
    return PathLaw(
        part_log=mean + changes[0],
        part_sd=central[0] * np.sqrt(var),
        part_weight=weight,
        drift=changes[1:],
        day_sd=np.sqrt(steps),
        far=np.maximum.accumulate(ahead * far) / ahead,  # no interval is narrower a day later
        quote_sd=math.sqrt(quote_var),
    )


def _calibrated(stated: Floats, noise_var: float, *, factor: Floats) -> Floats:
    """Variance of the level by day ahead, once past errors have been heard.

    The factor was learned on quotes, level and noise together. What the noise does
    not explain is the level's; today's level is too near to tell them apart.
    """
    of_level = factor**2 * (stated + noise_var) - noise_var
    calibrated = np.maximum(of_level, _LEAST_SHARE * stated)
    calibrated[0] = factor[0] ** 2 * stated[0]
    return np.maximum.accumulate(calibrated)


def _factors(followed: FollowedMarket, column: int) -> tuple[Floats, Floats]:
    """Calibration by day ahead, 0 to the longest: on the spread, and far against central."""
    days = np.maximum(np.arange(LONGEST_PATH_DAYS + 1), HORIZON_DAYS[0])
    at = np.log(HORIZON_DAYS)
    central = np.interp(np.log(days), at, followed.tracks.central[:, column])
    far = np.interp(np.log(days), at, followed.tracks.far[:, column])
    return central, far / central


def _changes(followed: FollowedMarket, column: int, *, age_days: float, as_of_us: int) -> Floats:
    """Expected log change from the last row to now, then in each coming day."""
    ages = np.concatenate([[0.0], age_days + np.arange(LONGEST_PATH_DAYS + 1)])
    tracks, curves = followed.tracks, followed.curves()
    changes = np.zeros(len(ages) - 1)
    for pace, trust, slope in zip(PACES, tracks.trust, tracks.slope, strict=True):
        spent = pace.damped(ages[1:]) - pace.damped(ages[:-1])
        changes += trust[column] * slope[column] * spent
    if curves is None:
        return changes
    calendar = followed.calendar
    moments = np.array([as_of_us - int(age_days * MICROSECONDS_A_DAY), as_of_us])
    season, day = calendar.season_of(moments), calendar.day_of(moments)
    days = np.concatenate([day[:1], day[1] + np.arange(LONGEST_PATH_DAYS + 1)])
    name = np.full(len(days) - 1, column)
    seasons = np.full(len(days) - 1, season[1])
    said = curves.change(seasons, days[:-1], days[1:], column=name)
    both: Floats = changes + tracks.season_trust[column] * said
    return both
