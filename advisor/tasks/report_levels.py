"""The ask level day by day, of this season and of the one before, for pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.pricing import Pricing
from advisor.times import us_to_rfc3339
from reports.pages_data import EarlierSeason, LevelDot

WIDTH_95 = 1.959963984540054
DAYS_WITHOUT_SEASON = 120
LONGEST_SILENCE_DAYS = 21
"""Where nobody asked for so long, the line of an earlier season breaks off."""

Stretch = tuple[int, int]


@dataclass(frozen=True)
class LevelHistory:
    """Every item's ask level as the filter followed it from look to look.

    The spread of single quotes is the one learned by now; what the level was is taken from
    the looks up to each day alone.
    """

    pricing: Pricing

    def days(self, item: str) -> list[LevelDot]:
        """The level on each evening of the present season that has one, oldest first."""
        begin, end = self._present()
        return [
            LevelDot(us_to_rfc3339(at), *_band(middle, sd))
            for at, middle, sd in self._evenings(item, (begin, end))
        ]

    def earlier(self, item: str) -> list[EarlierSeason]:
        """The level of the season before, on the days of this one; none outside a season."""
        seasons = self.pricing.settings.seasons
        now = self.pricing.market.as_of_us
        place = next((k for k, s in enumerate(seasons) if s.start_us <= now < s.end_us), 0)
        if place == 0:
            return []
        own, before = seasons[place], seasons[place - 1]
        shift = own.start_us - before.start_us
        last = min(before.end_us, before.start_us + own.end_us - own.start_us)
        dots = self._evenings(item, (before.start_us, last))
        if not dots:
            return []
        at = [us_to_rfc3339(moment + shift) for moment, _, _ in dots]
        return [EarlierSeason(before.name, at, [float(np.exp(middle)) for _, middle, _ in dots])]

    def _present(self) -> Stretch:
        now = self.pricing.market.as_of_us
        for season in self.pricing.settings.seasons:
            if season.start_us <= now < season.end_us:
                return season.start_us, now
        return now - DAYS_WITHOUT_SEASON * MICROSECONDS_A_DAY, now

    def _evenings(self, item: str, stretch: Stretch) -> list[tuple[int, float, float]]:
        """(time, log level, its standard deviation) once a day, as of the looks by then."""
        market = self.pricing.market
        looks = market.items.looks(item) if item in market.items else None
        if looks is None:
            return []
        seen, mean, var = looks.at_us, looks.level, looks.level_var
        step_var = looks.step_sd**2
        begin, end = stretch
        evenings = np.arange(end, begin, -MICROSECONDS_A_DAY)[::-1]
        last = np.searchsorted(seen, evenings, side="right") - 1
        found = []
        for at, row in zip(evenings.tolist(), last.tolist(), strict=True):
            if row < 0 or seen[row] < begin:
                continue  # nothing of this season was seen yet
            age_days = (at - int(seen[row])) / MICROSECONDS_A_DAY
            if age_days <= LONGEST_SILENCE_DAYS or end == self.pricing.market.as_of_us:
                found.append((at, float(mean[row]), float(np.sqrt(var[row] + step_var * age_days))))
        return found


def _band(middle: float, sd: float) -> tuple[float, float, float]:
    level, low, high = np.exp([middle, middle - WIDTH_95 * sd, middle + WIDTH_95 * sd]).tolist()
    return level, low, high
