"""Observations of many tracks as time-major tables, so that one loop over time serves all.

A track is one side of one item, or one rate between two moneys: a run of
log prices at irregular times. Row k of a table holds the k-th observation of
every track; tracks are sorted by length, longest first, so that the tracks
that reach row k are the first `reach[k]` columns.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from advisor.levels.series import Floats, Ints
from advisor.quotes import MICROSECONDS_A_DAY

SURE = -1.0
"""A stray share that stands for: the user vouches for this observation."""

BLOCK_TRACKS = 1000

LONGEST_TRACK = 1000
"""Observations of one track that are looked at, the newest ones; older ones have no say."""


@dataclass(frozen=True, eq=False)
class TrackTable:
    """Observations of n tracks over at most T rows.

    Attributes:
        log_price: (T, n); 0 past a track's end.
        days: (T, n), days since the track's first observation kept here.
        gap_days: (T, n), days since the observation before; 0 in the first row.
        noise_scale: (T, n), variance of this observation against a plain one, > 0.
        stray_share: (T, n), chance before looking that it says nothing, in [0, 1), on top
            of the track's own; SURE: it is no stray whatever the track is like.
        drift: (T, n), log change expected since the observation before, known from elsewhere.
        restart_var: (T, n), variance the level gathered at once before this observation,
            because a season began.
        reach: (T,), how many tracks have a row k.
        length: (n,), rows of each track.
        origin_us: (n,), time of each track's first row.
        track: (n,), the caller's number of each column.
        source: (T, n), index into the caller's flat observations, -1 past the end.
    """

    log_price: Floats
    days: Floats
    gap_days: Floats
    noise_scale: Floats
    stray_share: Floats
    drift: Floats
    restart_var: Floats
    reach: Ints
    length: Ints
    origin_us: Ints
    track: Ints
    source: Ints

    def blocks(self) -> list[slice]:
        """Runs of tracks that are quickest worked on together: they fit the processor's cache."""
        starts = range(0, len(self.length), BLOCK_TRACKS)
        return [slice(start, start + BLOCK_TRACKS) for start in starts]

    def columns(self, which: slice | Ints) -> TrackTable:
        """The same table with some of its tracks, in the same order."""
        inside = np.arange(len(self.reach))[:, None] < self.length[which]
        names = [field.name for field in fields(self) if field.name != "reach"]
        parts = {name: getattr(self, name)[..., which] for name in names}
        return TrackTable(**parts, reach=inside.sum(axis=1))

    def times_us(self, column: int) -> Ints:
        """When the rows of one track were seen."""
        days = self.days[: int(self.length[column]), column]
        times: Ints = self.origin_us[column] + np.rint(days * MICROSECONDS_A_DAY).astype(np.int64)
        return times

    def stray_chance(self, of_track: Floats, columns: slice = slice(None)) -> Floats:
        """(T, n), chance that each observation is a stray, given each track's own share."""
        here = self.stray_share[:, columns]
        return np.where(here == SURE, 0.0, 1.0 - (1.0 - here) * (1.0 - of_track))


def tabulate_tracks(
    track: Ints,
    at_us: Ints,
    *,
    log_price: Floats,
    noise_scale: Floats,
    stray_share: Floats,
) -> TrackTable:
    """Tables from flat observations that are sorted by track, then time.

    Args:
        track: The track each observation belongs to, ascending.
        at_us: Times, ascending inside a track.
        log_price, noise_scale, stray_share: As in `TrackTable`, one per observation.
    """
    names, first, count = np.unique(track, return_index=True, return_counts=True)
    length = np.minimum(count, LONGEST_TRACK)
    order = np.argsort(-length, kind="stable")
    first, count, length = first[order], count[order], length[order]
    rows = int(length.max(initial=0))
    row = np.arange(rows)[:, None]
    inside = row < length
    source = np.where(inside, first + count - length + row, -1)
    origin_us = at_us[first + count - length] if rows else np.zeros(0, dtype=np.int64)

    def spread(flat: Floats, missing: float) -> Floats:
        return np.where(inside, flat[source], missing) if rows else np.zeros((0, 0))

    days = spread(at_us.astype(np.float64), 0.0)
    if rows:
        days = np.where(inside, (at_us[source] - origin_us) / MICROSECONDS_A_DAY, 0.0)
    gap_days = np.zeros_like(days)
    np.maximum(days[1:] - days[:-1], 0.0, out=gap_days[1:])
    return TrackTable(
        log_price=spread(log_price, 0.0),
        days=days,
        gap_days=gap_days,
        noise_scale=spread(noise_scale, 1.0),
        stray_share=spread(stray_share, 0.0),
        drift=np.zeros(source.shape),
        restart_var=np.zeros(source.shape),
        reach=inside.sum(axis=1).astype(np.int64),
        length=length.astype(np.int64),
        origin_us=origin_us.astype(np.int64),
        track=names[order].astype(np.int64),
        source=source.astype(np.int64),
    )


def sum_rows(values: Floats) -> Floats:
    """The sum of each column, row by row.

    `values.sum(axis=0)` would add in another order where there is one column alone, and
    no track's numbers may hang on which others are followed beside it.
    """
    if len(values) == 0:
        return np.zeros(values.shape[1])
    total: Floats = np.cumsum(values, axis=0)[-1]
    return total
