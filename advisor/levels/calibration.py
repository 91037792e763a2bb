"""How wide intervals must be to hold what they say: learned from past forecasts, walking forward.

Each past row made a forecast of later rows; the surprises, in units of the sd
that was stated, are counted against a ladder of bounds. Where 80 % of them
would have lain within c times the stated 80 % bound, c is the factor from now
on; likewise at 95 %. A track's own counts are drawn towards its family's, and
those towards the normal law. Overlapping forecasts count as one. n tests bear out
a share of p only as p (1 + 1/n): the bound is taken there. Where the far bound is far
out, because prices jump now and then, a few jumps more or less decide where the bound
is: it is taken one standard deviation of the share further out.

Source: Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed.,
sections 5.5 and 5.10 (empirical intervals, rolling origins); Lei, G'Sell, Rinaldo,
Tibshirani & Wasserman (2018), JASA 113:1094-1111 (the share p (1 + 1/n)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.drift import Drift
from advisor.levels.kin import Kin
from advisor.levels.looking_ahead import Ahead, look_ahead, strays_in_hindsight
from advisor.levels.paths import normal_quantile
from advisor.levels.series import Floats
from advisor.levels.track_model import Trace, TrackNoise
from advisor.levels.tracks import TrackTable

HORIZON_DAYS = (1.0, 3.0, 7.0, 14.0)

_BOUNDS = np.array([0.2, 0.4, 0.6, 0.8, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.4, 3.0, 4.0, 6.0, 10.0])
_NORMAL_TESTS = 10.0
_FAMILY_TESTS = 40.0
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
    smoothed: Trace,
    noise: TrackNoise,
    *,
    drift: Drift,
    kin: Kin,
) -> Calibration:
    """The factors by which each track's stated spread was off, by horizon."""
    n = len(table.length)
    within = np.zeros((len(HORIZON_DAYS), len(_BOUNDS), n))
    tests = np.zeros((len(HORIZON_DAYS), n))
    for which in table.blocks():
        parts = table.columns(which), smoothed.columns(which), noise.columns(which)
        strays = strays_in_hindsight(*parts)
        for h, days in enumerate(HORIZON_DAYS):
            ahead = look_ahead(*parts, strays=strays, days=days)
            said = drift.columns(which).said(parts[0], ahead)
            within[h, :, which], tests[h, which] = _count_within(ahead, said)
    factors = [_factors(*counts, kin=kin) for counts in zip(within, tests, strict=True)]
    return Calibration(*(np.vstack(rows) for rows in zip(*factors, strict=True)))


def _count_within(ahead: Ahead, said: Floats) -> tuple[Floats, Floats]:
    """How many surprises lay within each bound, (B, n), and how many there were, (n,)."""
    sound = ahead.target >= 0
    sound[:_WARM_UP_ROWS] = False
    off = np.abs(ahead.change - said) / np.sqrt(ahead.variance)
    off = np.where(sound, off, np.inf)
    counts = np.vstack([np.count_nonzero(off <= bound, axis=0) for bound in _BOUNDS])
    return counts / ahead.rows_on, np.count_nonzero(sound, axis=0) / ahead.rows_on


def _factors(within: Floats, own: Floats, *, kin: Kin) -> tuple[Floats, Floats]:
    """Central and far factor of each track at one horizon."""
    share = _lean_on_kin(within, own, kin=kin)
    seen = kin.total(own)
    tests = own + _FAMILY_TESTS + np.minimum(seen, _MOST_KIN_TESTS)

    def factor_at(chance: float, caution: Floats | float) -> Floats:
        spread = np.sqrt(chance * (1.0 - chance) / (seen + _NORMAL_TESTS))
        goal = chance * (1.0 + 1.0 / tests) + caution * spread
        return _bound_of(share, np.minimum(goal, _MOST)) / normal_quantile(0.5 + chance / 2)

    central, far = factor_at(0.8, 0.0), factor_at(0.95, 0.0)
    heavy = np.clip(far / central - 1.0, 0.0, 1.0)
    return factor_at(0.8, heavy), factor_at(0.95, heavy)


def _lean_on_kin(within: Floats, tests: Floats, *, kin: Kin) -> Floats:
    """(B, n), share of surprises within each bound: own, leaning on kin, leaning on normal."""
    shares = np.zeros_like(within)
    for row, bound in enumerate(_BOUNDS):
        normal = 2.0 * (1.0 - normal_above(bound)) - 1.0
        shared = kin.mean(within[row], tests, prior=normal, strength=_NORMAL_TESTS)
        shares[row] = (within[row] + _FAMILY_TESTS * shared) / (tests + _FAMILY_TESTS)
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
