"""Day of season, and the curve that earlier seasons drew by it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Floats, Ints, Season
from advisor.levels.tracks import TrackTable, sum_rows
from advisor.quotes import MICROSECONDS_A_DAY

LONGEST_CURVE_DAYS = 400

RESTART_SD = 0.5
"""How far prices may lie, when a season begins, from where the season before left them."""

_FEWEST_QUOTES = 5
_FAMILY_QUOTES = 20.0
_SMOOTH_DAYS = 5


@dataclass(frozen=True, eq=False)
class Calendar:
    """The seasons in the order of time."""

    start_us: Ints
    end_us: Ints

    @staticmethod
    def of(seasons: Sequence[Season]) -> Calendar:
        """The calendar of some seasons, given in any order."""
        ordered = sorted(seasons, key=lambda season: season.start_us)
        return Calendar(
            np.array([s.start_us for s in ordered], dtype=np.int64),
            np.array([s.end_us for s in ordered], dtype=np.int64),
        )

    def season_of(self, at_us: Ints) -> Ints:
        """Number of the season that each moment is in or after; -1 before the first."""
        return np.searchsorted(self.start_us, at_us, side="right") - 1

    def day_of(self, at_us: Ints) -> Floats:
        """Days since the start of that season; 0 before the first."""
        if len(self.start_us) == 0:
            return np.zeros(np.shape(at_us))
        season = self.season_of(at_us)
        days = (at_us - self.start_us[np.maximum(season, 0)]) / MICROSECONDS_A_DAY
        return np.where(season >= 0, days, 0.0)

    def day_number(self, at_us: int) -> int | None:
        """1 on the first day of a season; None outside every season."""
        season = int(self.season_of(np.array([at_us]))[0])
        if season < 0 or at_us >= self.end_us[season]:
            return None
        return int((at_us - self.start_us[season]) // MICROSECONDS_A_DAY) + 1


@dataclass(frozen=True, eq=False)
class SeasonCurves:
    """For each season and track, the mean log level of earlier seasons by day.

    Attributes:
        calendar: The seasons.
        curve: (seasons, LONGEST_CURVE_DAYS, n); only differences along the days mean
            anything; 0 where no earlier season tells.
    """

    calendar: Calendar
    curve: Floats

    def change(self, season: Ints, from_day: Floats, to_day: Floats, *, column: Ints) -> Floats:
        """Log change that earlier seasons saw between two days of a season."""
        known = np.maximum(season, 0)
        change: Floats = self._at(known, to_day, column) - self._at(known, from_day, column)
        return np.where(season >= 0, change, 0.0)

    def columns(self, which: slice) -> SeasonCurves:
        """The curves of some of the tracks."""
        return SeasonCurves(self.calendar, self.curve[:, :, which])

    def said_before_rows(self, table: TrackTable) -> Floats:
        """(T, n), change by the curve from the row before to each row."""
        said = np.zeros(table.days.shape)
        for column, (season, day) in enumerate(self._rows_of(table)):
            said[1 : len(day), column] = self.change(
                season[1:], day[:-1], day[1:], column=np.full(len(day) - 1, column)
            )
        return said

    def said_between(self, table: TrackTable, target: Ints) -> Floats:
        """(T, n), change by the curve from each row to its target row; 0 without one."""
        said = np.zeros(table.days.shape)
        for column, (season, day) in enumerate(self._rows_of(table)):
            later = target[: len(day), column]
            told = (later >= 0) & (season[later] == season)
            name = np.full(len(day), column)
            change = self.change(season, day, day[later], column=name)
            said[: len(day), column] = np.where(told, change, 0.0)
        return said

    def _rows_of(self, table: TrackTable) -> Iterator[tuple[Ints, Floats]]:
        for column in range(len(table.length)):
            at_us = table.times_us(column)
            yield self.calendar.season_of(at_us), self.calendar.day_of(at_us)

    def _at(self, season: Ints, day: Floats, column: Ints) -> Floats:
        day = np.clip(day, 0.0, LONGEST_CURVE_DAYS - 1.001)
        low = day.astype(np.int64)
        part = day - low
        first, second = self.curve[season, low, column], self.curve[season, low + 1, column]
        level: Floats = (1.0 - part) * first + part * second
        return level


def draw_curves(
    table: TrackTable, mean: Floats, *, calendar: Calendar, family: Ints
) -> SeasonCurves | None:
    """Curves by day of season from the smoothed levels; None with no earlier season.

    A track's own curve counts as much as it has quotes, its family's as much as
    `_FAMILY_QUOTES`. The curve of a season is the mean over the seasons before it.

    Args:
        table: The observations.
        mean: (T, n), smoothed log levels.
        calendar: The seasons.
        family: Per track; kin share a curve.
    """
    seasons, n = len(calendar.start_us), len(table.length)
    if seasons < 2 or n == 0:
        return None
    own = np.full((seasons, LONGEST_CURVE_DAYS, n), np.nan)
    quotes = np.zeros((seasons, n))
    for column in range(n):
        rows = slice(0, int(table.length[column]))
        at_us = table.times_us(column)
        season, day = calendar.season_of(at_us), calendar.day_of(at_us)
        for s in np.unique(season[season >= 0]):
            here = season == s
            quotes[s, column] = here.sum()
            if here.sum() >= _FEWEST_QUOTES:
                own[s, :, column] = _daily(day[here], mean[rows, column][here])
    if not np.any(np.isfinite(own[:-1])):
        return None
    shape = own - np.array([np.nan_to_num(_mean_of_days(each)) for each in own])[:, None]
    drawn = _lean_on_family(shape, quotes, family=family)
    curve = np.zeros_like(own)
    for s in range(1, seasons):
        before = _mean_known(drawn[:s], axis=0)
        curve[s] = np.nan_to_num(before)
    return SeasonCurves(calendar, curve)


def _daily(day: Floats, level: Floats) -> Floats:
    """A level for each day of a season from irregular ones, smoothed over some days."""
    grid = np.arange(LONGEST_CURVE_DAYS)
    line = np.interp(grid, day, level)
    ends = np.pad(line, _SMOOTH_DAYS // 2, mode="edge")
    smooth: Floats = np.convolve(ends, np.full(_SMOOTH_DAYS, 1.0 / _SMOOTH_DAYS), mode="valid")
    return smooth


def _lean_on_family(shape: Floats, quotes: Floats, *, family: Ints) -> Floats:
    """Curves drawn towards the mean of their family's; nan where neither tells."""
    drawn = shape.copy()
    kinds, sizes = np.unique(family, return_counts=True)
    for kin in kinds[sizes > 1]:
        members = np.flatnonzero(family == kin)
        shared = _mean_known(shape[:, :, members], axis=2)[:, :, None]
        own = shape[:, :, members]
        weight = (quotes[:, members] / (quotes[:, members] + _FAMILY_QUOTES))[:, None, :]
        both = weight * own + (1.0 - weight) * shared
        drawn[:, :, members] = np.where(np.isfinite(own), both, shared)
    return drawn


def _mean_of_days(levels: Floats) -> Floats:
    known = np.isfinite(levels)
    mean: Floats = sum_rows(np.where(known, levels, 0.0)) / np.maximum(known.sum(axis=0), 1)
    return mean


def _mean_known(values: Floats, axis: int) -> Floats:
    known = np.isfinite(values)
    total = np.where(known, values, 0.0).sum(axis=axis)
    count = known.sum(axis=axis)
    mean: Floats = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean
