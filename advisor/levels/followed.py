"""What following a market leaves behind: all that levels at any later moment are made from."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from advisor.levels.seasons import Calendar, SeasonCurves
from advisor.levels.series import Floats, Ints
from advisor.levels.valuing import SIDES_PER_ITEM, ValuedQuotes
from advisor.quotes import MICROSECONDS_A_DAY


@dataclass(frozen=True, eq=False)
class FollowedTracks:
    """What was learned of n tracks over at most T rows; the last axis runs over the tracks.

    Attributes:
        track: (n,), item times `SIDES_PER_ITEM` plus side; longest track first.
        length, origin_us: (n,), as in `TrackTable`.
        days, log_price, noise_scale: (T, n), as in `TrackTable`.
        mean, var, stray: (T, n), as in `Trace`.
        part_mean, part_var, part_weight: (STORIES, n), the stories after the last row.
        noise_var, step_var: (n,), as in `TrackNoise`.
        rate_var: (n,), variance of the log rate behind the last row.
        slope, trust: (paces, n), after the last row.
        season_trust: (n,), how far earlier seasons are trusted.
        curve: (seasons, days, n) as in `SeasonCurves`; (0, 0, n) without.
        central, far: (horizons, n), as in `Calibration`.
    """

    track: Ints
    length: Ints
    origin_us: Ints
    days: Floats
    log_price: Floats
    noise_scale: Floats
    mean: Floats
    var: Floats
    stray: Floats
    part_mean: Floats
    part_var: Floats
    part_weight: Floats
    noise_var: Floats
    step_var: Floats
    rate_var: Floats
    slope: Floats
    trust: Floats
    season_trust: Floats
    curve: Floats
    central: Floats
    far: Floats

    def times_us(self, column: int) -> Ints:
        """When the rows of one track were seen."""
        days = self.days[: int(self.length[column]), column]
        times: Ints = self.origin_us[column] + np.rint(days * MICROSECONDS_A_DAY).astype(np.int64)
        return times

    def columns(self, which: Ints) -> FollowedTracks:
        """Some of the tracks, in the same order; no more rows than they have."""
        rows = int(self.length[which].max(initial=0))
        parts = {field.name: getattr(self, field.name)[..., which] for field in fields(self)}
        for name in _BY_ROW:
            parts[name] = parts[name][:rows]
        return FollowedTracks(**parts)


_BY_ROW = ("days", "log_price", "noise_scale", "mean", "var", "stray")


@dataclass(frozen=True, eq=False)
class FollowedMarket:
    """Everything learned of some items.

    Attributes:
        quotes: Theirs.
        family: (items,), a number per family; below zero: none set.
        rows: Rows of the quotes that are in a look: valued and not left out.
        group: Their looks, numbered from 0.
        code: Their final marks.
        qty: Their units, guessed where not said.
        usual_qty: (items,), units one buys at a time.
    """

    quotes: ValuedQuotes
    calendar: Calendar
    family: Ints
    tracks: FollowedTracks
    rows: Ints
    group: Ints
    code: Ints
    qty: Floats
    usual_qty: Floats

    def column(self, k: int, side: int) -> int:
        """Where the track of one side of an item stands; -1 without one."""
        return int(self._columns[k * SIDES_PER_ITEM + side])

    @cached_property
    def _columns(self) -> Ints:
        columns = np.full(len(self.family) * SIDES_PER_ITEM, -1)
        columns[self.tracks.track] = np.arange(len(self.tracks.track))
        return columns

    def curves(self) -> SeasonCurves | None:
        """What earlier seasons tell; None without."""
        return SeasonCurves(self.calendar, self.tracks.curve) if len(self.tracks.curve) else None

    def of_items(self, chosen: Ints) -> FollowedMarket:
        """What was learned of some items alone, given in ascending order."""
        number = np.full(len(self.quotes.items), -1)
        number[chosen] = np.arange(len(chosen))
        item = self.tracks.track // SIDES_PER_ITEM
        tracks = self.tracks.columns(np.flatnonzero(number[item] >= 0))
        renumbered = number[tracks.track // SIDES_PER_ITEM] * SIDES_PER_ITEM
        renumbered += tracks.track % SIDES_PER_ITEM
        theirs = self.quotes.rows_of(chosen)
        first, last = (
            np.searchsorted(self.rows, theirs),
            np.searchsorted(self.rows, theirs, "right"),
        )
        mine = first[last > first]
        return FollowedMarket(
            quotes=self.quotes.of_items(chosen),
            calendar=self.calendar,
            family=self.family[chosen],
            tracks=replace(tracks, track=renumbered),
            rows=np.flatnonzero(last > first),
            group=np.unique(self.group[mine], return_inverse=True)[1],
            code=self.code[mine],
            qty=self.qty[mine],
            usual_qty=self.usual_qty[chosen],
        )
