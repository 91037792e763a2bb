"""Follow every track of a market: from quotes to smoothed levels, all items at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from advisor.levels.calibration import Calibration, calibrate
from advisor.levels.context import LEAST_BAND
from advisor.levels.drift import Drift, learn_drift
from advisor.levels.followed import FollowedMarket, FollowedTracks
from advisor.levels.kin import Kin
from advisor.levels.observing import Observations, observe
from advisor.levels.screening import BAIT, CODE_WORDS, FAR_OFF, NOT_MARKED, STALE
from advisor.levels.seasons import RESTART_SD, Calendar, draw_curves
from advisor.levels.series import ASK, BID, DEAL, Floats, Ints, MarketSettings
from advisor.levels.smoothing import Smoothed, filter_tracks
from advisor.levels.spread import learn_noise
from advisor.levels.track_model import TrackNoise
from advisor.levels.tracks import TrackTable, tabulate_tracks
from advisor.levels.valuing import SIDES_PER_ITEM, ValuedQuotes


def follow_market(
    quotes: ValuedQuotes, money_gaps: Floats, *, settings: MarketSettings
) -> FollowedMarket:
    """Screen, observe and filter quotes; what comes of an item hangs on its family alone.

    Args:
        money_gaps: Of every quote, as `find_money_gaps` has them.
    """
    family = number_families(quotes.items, settings)
    observations = observe(quotes, settings, money_gaps=money_gaps, family=family)
    table = _tabulate(observations)
    calendar = Calendar.of(settings.seasons)
    table = replace(table, restart_var=_restart_var(table, calendar))
    side = table.track % SIDES_PER_ITEM
    relation = family[table.track // SIDES_PER_ITEM] * SIDES_PER_ITEM + side
    kin = Kin.of(relation)
    noise, first = learn_noise(table, kin)
    curves = draw_curves(table, first.mean, calendar=calendar, family=relation)
    drift = learn_drift(table, first, noise, curves=curves, kin=kin)
    table = replace(table, drift=drift.said_before_rows(table))
    smoothed = filter_tracks(table, noise)
    calibration = calibrate(table, smoothed, noise, drift=drift, kin=kin)
    tracks = _keep_tracks(
        table, smoothed, noise, drift=drift, calibration=calibration, rate_var=observations.rate_var
    )
    return FollowedMarket(
        quotes=quotes,
        calendar=calendar,
        family=family,
        tracks=tracks,
        rows=observations.rows,
        group=observations.group,
        code=_last_word(observations, table, smoothed, log_value=quotes.log_value),
        qty=observations.qty,
        usual_qty=observations.usual_qty,
    )


def _keep_tracks(
    table: TrackTable,
    smoothed: Smoothed,
    noise: TrackNoise,
    *,
    drift: Drift,
    calibration: Calibration,
    rate_var: Floats,
) -> FollowedTracks:
    last, column = table.length - 1, np.arange(len(table.length))
    n = len(column)
    return FollowedTracks(
        track=table.track,
        length=table.length,
        origin_us=table.origin_us,
        days=table.days,
        log_price=table.log_price,
        noise_scale=table.noise_scale,
        mean=smoothed.mean,
        var=smoothed.var,
        stray=smoothed.stray,
        part_mean=smoothed.part_mean,
        part_var=smoothed.part_var,
        part_weight=smoothed.part_weight,
        noise_var=noise.noise_var,
        step_var=noise.step_var,
        rate_var=rate_var[table.source[last, column]] if n else np.zeros(0),
        slope=drift.slopes[:, last, column] if n else np.zeros((len(drift.slopes), 0)),
        trust=drift.trusts,
        season_trust=drift.season_trust,
        curve=np.zeros((0, 0, n)) if drift.curves is None else drift.curves.curve,
        central=calibration.central,
        far=calibration.far,
    )


def _tabulate(observations: Observations) -> TrackTable:
    """The tables of all looks but those that say nothing of their side."""
    rows = np.flatnonzero(~observations.apart)
    table = tabulate_tracks(
        observations.track[rows],
        observations.at_us[rows],
        log_price=observations.log_price[rows],
        noise_scale=observations.noise_scale[rows],
        stray_share=observations.stray_share[rows],
    )
    if len(rows) == len(observations.apart):
        return table
    return replace(table, source=np.where(table.source >= 0, rows[table.source], -1))


def _restart_var(table: TrackTable, calendar: Calendar) -> Floats:
    """Where a row is the first of a season that the row before was not in."""
    fresh = np.zeros(table.days.shape)
    if len(calendar.start_us) == 0:
        return fresh
    for column in range(len(table.length)):
        season = calendar.season_of(table.times_us(column))
        fresh[1 : len(season), column] = np.where(np.diff(season) > 0, RESTART_SD**2, 0.0)
    return fresh


def number_families(names: Sequence[str], settings: MarketSettings) -> Ints:
    """A number for each item's family; below zero, each its own, where none is set."""
    spelled = [settings.of(name).family for name in names]
    numbers = {name: k for k, name in enumerate(sorted({f for f in spelled if f is not None}))}
    alone = (-1 - k if f is None else numbers[f] for k, f in enumerate(spelled))
    return np.fromiter(alone, dtype=np.int64, count=len(spelled))


def _last_word(
    observations: Observations, table: TrackTable, smoothed: Smoothed, *, log_value: Floats
) -> Ints:
    """Marks after the filter: what it takes for a stray is marked, what it follows is not."""
    n = len(observations.track)
    stray, away = np.full(n, np.nan), np.zeros(n)
    inside = table.source >= 0
    stray[table.source[inside]] = smoothed.stray[inside]
    away[table.source[inside]] = (table.log_price - smoothed.ahead)[inside]
    group = observations.group
    strayed = stray[group] > 0.5
    followed = (stray[group] < 0.5) & observations.used
    side = observations.track[group] % SIDES_PER_ITEM
    up = away[group] > 0
    taken_in = (side != DEAL) & (((side == ASK) & ~up) | ((side == BID) & up))
    code = np.where(followed, NOT_MARKED, observations.code)
    # left out beside a price that is believed, and near it: no worse than that one
    near = np.abs(log_value[observations.rows] - observations.log_price[group]) < LEAST_BAND
    code[(stray[group] < 0.5) & near & (code != STALE)] = NOT_MARKED
    plain = strayed & (code == NOT_MARKED) & observations.used
    return np.where(plain, np.where(taken_in, BAIT, FAR_OFF), code)


def reason_words(code: Ints) -> list[str]:
    """The words of marks."""
    return [CODE_WORDS[each] for each in code.tolist()]
