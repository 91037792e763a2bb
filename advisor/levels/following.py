"""Follow every track of a market: from quotes to smoothed levels, all items at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from advisor.levels.calibration import Calibration, calibrate
from advisor.levels.context import LEAST_BAND
from advisor.levels.drift import Drift, learn_drift
from advisor.levels.kin import Kin
from advisor.levels.observing import Observations, observe
from advisor.levels.rates import Rates
from advisor.levels.screening import BAIT, CODE_WORDS, FAR_OFF, NOT_MARKED, STALE
from advisor.levels.seasons import RESTART_SD, Calendar, draw_curves
from advisor.levels.series import ASK, BID, DEAL, Floats, Ints, MarketSettings, QuoteSeries
from advisor.levels.smoothing import Smoothed, filter_tracks
from advisor.levels.spread import learn_noise
from advisor.levels.track_model import TrackNoise
from advisor.levels.tracks import TrackTable, tabulate_tracks
from advisor.levels.valuing import SIDES_PER_ITEM, ValuedQuotes, value_quotes


@dataclass(frozen=True, eq=False)
class FollowedMarket:
    """Everything learned of every track; columns of the tables are tracks.

    Attributes:
        column: shape (3 * items,), the table column of each track, -1 without one.
        family: shape (items,), a number per family; -1: none set.
        code: The final mark of each row of `observations.rows`.
    """

    quotes: ValuedQuotes
    observations: Observations
    table: TrackTable
    noise: TrackNoise
    smoothed: Smoothed
    drift: Drift
    calibration: Calibration
    calendar: Calendar
    column: Ints
    family: Ints
    code: Ints

    def rate_var_now(self, column: int) -> float:
        """Variance of the log rate behind a track's last observation."""
        row = int(self.table.length[column]) - 1
        return float(self.observations.rate_var[self.table.source[row, column]])

    def unreachable(self) -> tuple[str, ...]:
        """Items with a priced quote that no rate values."""
        lost = self.quotes.priced & ~self.quotes.valued
        return tuple(self.quotes.items[k] for k in np.unique(self.quotes.item[lost]))


def follow_market(
    series: Mapping[str, QuoteSeries], *, settings: MarketSettings, rates: Rates
) -> FollowedMarket:
    """Value, screen, observe and filter every quote known at the moment of the rates."""
    names = sorted(name for name in series if name != settings.money)
    quotes = value_quotes(series, names, rates=rates)
    family = _number_families(names, settings)
    observations = observe(quotes, settings, rates=rates, family=family)
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
    column = np.full(SIDES_PER_ITEM * len(names), -1)
    column[table.track] = np.arange(len(table.track))
    return FollowedMarket(
        quotes=quotes,
        observations=observations,
        table=table,
        noise=noise,
        smoothed=smoothed,
        drift=drift,
        calibration=calibration,
        calendar=calendar,
        column=column,
        family=family,
        code=_last_word(observations, table, smoothed, log_value=quotes.log_value),
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


def _number_families(names: list[str], settings: MarketSettings) -> Ints:
    spelled = [settings.of(name).family for name in names]
    numbers = {name: k for k, name in enumerate(sorted({f for f in spelled if f is not None}))}
    return np.array([-1 if f is None else numbers[f] for f in spelled], dtype=np.int64)


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
