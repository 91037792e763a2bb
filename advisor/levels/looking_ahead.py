"""What came some days after each row of each track: the test of every forecast."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.levels.series import Bools, Floats, Ints
from advisor.levels.track_model import Trace, TrackNoise
from advisor.levels.tracks import TrackTable

_HINDSIGHT_ROWS = 4
_BORNE_OUT_SDS = 3.0


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


def look_ahead(
    table: TrackTable, smoothed: Trace, noise: TrackNoise, *, strays: Bools, days: float
) -> Ahead:
    """What came about `days` after each row; strays, (T, n), are no test of a forecast."""
    rows = len(table.days)
    span = table.days.max(axis=0, initial=0.0) / np.maximum(table.length - 1, 1)
    rows_on = np.maximum(np.rint(days / np.maximum(span, 1e-6)), 1).astype(np.int64)
    later = _Later(rows_on, rows)
    sound = np.arange(rows)[:, None] + rows_on < table.length
    sound &= ~later(strays)
    gap = np.where(sound, later(table.days) - table.days, 0.0)
    variance = smoothed.var + noise.step_var * gap + noise.noise_var * later(table.noise_scale)
    return Ahead(
        target=np.where(sound, np.arange(rows)[:, None] + rows_on, -1),
        days=gap,
        change=np.where(sound, later(table.log_price) - smoothed.mean, 0.0),
        variance=np.where(sound, variance, 1.0),
        rows_on=rows_on,
    )


def strays_in_hindsight(table: TrackTable, smoothed: Trace, noise: TrackNoise) -> Bools:
    """(T, n), what looks like a stray once the next rows are known.

    The first quotes after a jump were taken for strays; if the level has gone to
    where they were, forecasts are to be judged by them. And a quote that was
    believed is a stray if it lies far from the level both before and after.
    """
    rows, n = table.days.shape
    stray: Bools = (smoothed.stray >= 0.5).copy()
    after = _Later(np.full(n, _HINDSIGHT_ROWS), rows)
    usual = after(smoothed.var) + noise.noise_var * table.noise_scale
    usual += noise.step_var * (after(table.days) - table.days)
    far = (table.log_price - after(smoothed.mean)) ** 2 > _BORNE_OUT_SDS**2 * usual
    known = np.arange(rows)[:, None] + _HINDSIGHT_ROWS < table.length
    stray[known & ~far] = False
    row, column = np.nonzero(known & far & ~stray)
    before = np.maximum(row - 1, 0)
    usual_before = smoothed.var[before, column] + noise.noise_var[column]
    usual_before += noise.step_var[column] * table.gap_days[row, column]
    away = table.log_price[row, column] - smoothed.mean[before, column]
    stray[row, column] = away**2 > _BORNE_OUT_SDS**2 * usual_before
    return stray


class _Later:
    """Reads a table some rows on; one slice where every track is read as many rows on."""

    def __init__(self, rows_on: Ints, rows: int) -> None:
        self._alike = len(rows_on) > 0 and bool(np.all(rows_on == rows_on[0]))
        self._step = min(int(rows_on[0]), rows) if self._alike else 0
        self._column = np.arange(len(rows_on))
        if not self._alike:
            self._row = np.minimum(np.arange(rows)[:, None] + rows_on, max(rows - 1, 0))

    def __call__(self, values: Any) -> Any:
        if not self._alike:
            return values[self._row, self._column]
        read = np.zeros_like(values)
        read[: len(values) - self._step] = values[self._step :]
        return read
