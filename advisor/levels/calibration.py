"""How wide intervals must be to hold what they say: learned from past forecasts, walking forward.

Each past row made a forecast of later rows; the surprises, in units of the sd
that was stated, are counted against a ladder of bounds. Where 80 % of them
would have lain within c times the stated 80 % bound, c is the factor from now
on; likewise at 95 %. A track's own counts are drawn towards its family's, and
those towards the normal law. Overlapping forecasts count as one. n tests bear out
a share of p only as p (1 + 1/n): the bound is taken there.

Source: Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed.,
sections 5.5 and 5.10 (empirical intervals, rolling origins); Lei, G'Sell, Rinaldo,
Tibshirani & Wasserman (2018), JASA 113:1094-1111 (the share p (1 + 1/n)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.drift import Drift, damped_days, look_ahead
from advisor.levels.kin import Kin
from advisor.levels.paths import normal_quantile
from advisor.levels.series import Bools, Floats, Ints
from advisor.levels.smoothing import Smoothed, TrackNoise
from advisor.levels.tracks import TrackTable

HORIZON_DAYS = (1.0, 3.0, 7.0, 14.0)

_BOUNDS = np.array([0.2, 0.4, 0.6, 0.8, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.4, 3.0, 4.0, 6.0, 10.0])
_NORMAL_TESTS = 10.0
_FAMILY_TESTS = 15.0
_WARM_UP_ROWS = 4
_MOST = 0.985
_MOST_KIN_TESTS = 100.0


@dataclass(frozen=True, eq=False)
class Calibration:
    """Factors on the stated sd, by horizon: central (80 %) and far (95 %), each (H, n)."""

    central: Floats
    far: Floats


def calibrate(
    table: TrackTable,
    smoothed: Smoothed,
    noise: TrackNoise,
    *,
    drift: Drift,
    slopes: Floats,
    kin: Kin,
) -> Calibration:
    """The factors by which each track's stated spread was off, by horizon."""
    central: list[Floats] = []
    far: list[Floats] = []
    for days in HORIZON_DAYS:
        ahead = look_ahead(table, smoothed, noise, days=days)
        expected = drift.trend_trust * slopes * damped_days(ahead.days)
        if drift.curves is not None:
            expected = expected + drift.season_trust * drift.curves.said_between(
                table, ahead.target
            )
        sound = ahead.target >= 0
        sound[:_WARM_UP_ROWS] = False
        off = np.abs(ahead.change - expected) / np.sqrt(ahead.variance)
        share = _share_within(np.where(sound, off, np.inf), ahead.rows_on, sound=sound, kin=kin)
        own = sound.sum(axis=0) / ahead.rows_on
        tests = own + _FAMILY_TESTS + np.minimum(kin.total(own), _MOST_KIN_TESTS)
        for factors, chance in ((central, 0.8), (far, 0.95)):
            bound = _bound_of(share, np.minimum(chance * (1.0 + 1.0 / tests), _MOST))
            factors.append(bound / normal_quantile(0.5 + chance / 2))
    return Calibration(np.vstack(central), np.vstack(far))


def _share_within(off: Floats, rows_on: Ints, *, sound: Bools, kin: Kin) -> Floats:
    """(B, n), share of surprises within each bound: own, leaning on kin, leaning on normal."""
    tests = sound.sum(axis=0) / rows_on
    shares = np.zeros((len(_BOUNDS), len(rows_on)))
    for row, bound in enumerate(_BOUNDS):
        normal = 2.0 * (1.0 - normal_above(bound)) - 1.0
        within = (off <= bound).sum(axis=0) / rows_on
        shared = kin.mean(within, tests, prior=normal, strength=_NORMAL_TESTS)
        shares[row] = (within + _FAMILY_TESTS * shared) / (tests + _FAMILY_TESTS)
    return np.maximum.accumulate(shares, axis=0)


def normal_above(bound: float) -> float:
    """Chance that a standard normal lies above."""
    from statistics import NormalDist

    return 1.0 - NormalDist().cdf(bound)


def _bound_of(share: Floats, chance: Floats) -> Floats:
    """The bound within which this share lies, by straight lines between bounds."""
    row = np.clip((share < chance).sum(axis=0), 1, len(_BOUNDS) - 1)
    column = np.arange(share.shape[1])
    low, high = share[row - 1, column], share[row, column]
    part = np.clip((chance - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    bound: Floats = _BOUNDS[row - 1] + part * (_BOUNDS[row] - _BOUNDS[row - 1])
    return bound
