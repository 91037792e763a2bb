"""Put one item's levels together from the tracks that were followed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.errors import BadInput
from advisor.levels.following import FollowedMarket, reason_words
from advisor.levels.item_levels import Forecast, ItemLevels, PriceLevel
from advisor.levels.ladders import Ladder, depth_of_ladders, standing_ladder
from advisor.levels.paths import QUANTILE_KEYS, QUANTILES, PathLaw, normal_quantile
from advisor.levels.rates import Rates
from advisor.levels.screening import NOT_MARKED
from advisor.levels.series import ASK, BID, DEAL, Ints, MarketSettings
from advisor.levels.valuing import SIDES_PER_ITEM
from advisor.names import did_you_mean
from advisor.quotes import MICROSECONDS_A_DAY

SALE_UNDER_ASK = 0.05
"""Log distance at which listings sell below the ask level, where nothing tells: about 5 %."""

SALE_OVER_BID = 0.10
"""Log distance at which they sell above the bid level, where there is no ask either."""

SALE_GUESS_SD = 0.08
"""How unsure such a guess is, log scale."""

LONGEST_PATH_DAYS = 120


@dataclass(frozen=True, slots=True)
class _LogLevel:
    """A level now on the log scale, the spread of tomorrow's change and of one quote."""

    log: float
    sd: float
    step_var: float
    quote_sd: float

    def moved(self, by: float, *, extra_sd: float = 0.0) -> _LogLevel:
        return _LogLevel(self.log + by, math.hypot(self.sd, extra_sd), self.step_var, self.quote_sd)


@dataclass(frozen=True, eq=False)
class Assembly:
    """Makes `ItemLevels` by name from what was followed."""

    followed: FollowedMarket
    settings: MarketSettings
    rates: Rates
    days: tuple[int, ...]
    names: Sequence[str]

    @cached_property
    def number(self) -> dict[str, int]:
        """Where each followed item stands; the workspace money and bare moneys at -1."""
        known = {name: k for k, name in enumerate(self.followed.quotes.items)}
        return known | {name: -1 for name in self.rates.moneys if name not in known}

    def item_levels(self, item: str) -> ItemLevels:
        """All that is known of one item.

        Raises: BadInput: neither quoted nor a money.
        """
        if item not in self.number:
            raise BadInput(
                "no price of it was ever quoted",
                right=did_you_mean(item, self.number) or f'quote "{item}" first',
                item=item,
            )
        k = self.number[item]
        ask, bid, deal = (self._log_level(k, side) for side in (ASK, BID, DEAL))
        if k < 0 or (ask is bid is deal is None):
            ask = bid = deal = self._from_rate(item)
        fee = 0.0 if item == self.settings.money else math.log1p(-self.settings.sale_fee)
        sale = self._sale(ask, bid, deal=deal)
        sale = None if sale is None else sale.moved(fee)
        ask_path, sale_path = _path_of(ask), _path_of(sale)
        rows = self._rows(k)
        quotes = self.followed.quotes
        return ItemLevels(
            item=item,
            family=self.settings.of(item).family,
            ask=_price_level(ask),
            bid=None if bid is None else _price_level(bid.moved(fee)),
            sale=_price_level(sale),
            quotes=len(rows),
            screened=self._screened(rows),
            newest_us=int(quotes.at_us[rows].max()) if len(rows) else None,
            trend_per_day=0.0,
            day_of_season=self._day_of_season(),
            forecast=self._forecast(ask_path),
            sale_forecast=self._forecast(sale_path),
            ladder=None if ask is None else self._ladder(k, math.exp(ask.log)),
            values={
                int(i): float(v)
                for i, v in zip(
                    quotes.ids[rows][quotes.valued[rows]],
                    np.exp(quotes.log_value[rows][quotes.valued[rows]]),
                    strict=True,
                )
            },
            ask_path=ask_path,
            sale_path=sale_path,
        )

    def _rows(self, k: int) -> Ints:
        tracks = np.array([k, k + 1]) * SIDES_PER_ITEM
        ends = np.searchsorted(self.followed.quotes.track, tracks)
        return np.arange(*ends) if k >= 0 else np.arange(0)

    def _log_level(self, k: int, side: int) -> _LogLevel | None:
        column = int(self.followed.column[k * SIDES_PER_ITEM + side]) if k >= 0 else -1
        if column < 0:
            return None
        smoothed, noise, table = self.followed.smoothed, self.followed.noise, self.followed.table
        mean, var = smoothed.part_mean[:, column], smoothed.part_var[:, column]
        weight = smoothed.part_weight[:, column]
        middle = float(weight @ mean)
        spread = float(weight @ (var + (mean - middle) ** 2))
        main = int(np.argmax(weight))
        last = table.origin_us[column] + (
            table.days[table.length[column] - 1, column] * MICROSECONDS_A_DAY
        )
        age_days = max(float(self.rates.as_of_us - last) / MICROSECONDS_A_DAY, 0.0)
        step_var = float(noise.step_var[column])
        log = middle if abs(mean[0] - mean[1]) < 0.02 else float(mean[main])
        return _LogLevel(
            log,
            math.sqrt(spread + step_var * age_days),
            step_var,
            math.sqrt(float(noise.noise_var[column])),
        )

    def _from_rate(self, item: str) -> _LogLevel | None:
        """A money without quotes of its own: worth what the rates say."""
        rate = self.rates.now(item) if item in self.rates.moneys else None
        if rate is None:
            return None
        step_var = 0.0 if item == self.rates.money else 0.02**2
        return _LogLevel(math.log(rate.value), rate.log_sd, step_var, rate.log_sd)

    def _sale(
        self, ask: _LogLevel | None, bid: _LogLevel | None, *, deal: _LogLevel | None
    ) -> _LogLevel | None:
        """From deals; else between bid and ask; else a stated distance from the one there is."""
        if deal is not None:
            return deal
        if ask is not None and bid is not None and bid.log < ask.log:
            width = ask.log - bid.log
            return ask.moved(-0.5 * width, extra_sd=0.25 * width)
        if ask is not None:
            return ask.moved(-SALE_UNDER_ASK, extra_sd=SALE_GUESS_SD)
        if bid is not None:
            return bid.moved(SALE_OVER_BID, extra_sd=SALE_GUESS_SD)
        return None

    def _screened(self, rows: Ints) -> dict[int, str]:
        """Reasons by quote id, in the order of time."""
        quotes, observations = self.followed.quotes, self.followed.observations
        if len(rows) == 0:
            return {}
        begin, end = np.searchsorted(observations.rows, [rows[0], rows[-1] + 1])
        words = dict(
            zip(
                quotes.ids[observations.rows[begin:end]].tolist(),
                reason_words(self.followed.code[begin:end]),
                strict=True,
            )
        )
        for row in rows:
            i = int(quotes.ids[row])
            if not quotes.priced[row]:
                words[i] = "no price"
            elif not quotes.valued[row]:
                words[i] = "no rate"
            elif i in self.settings.dropped:
                words[i] = "dropped"
        return {i: word for i, word in words.items() if word}

    def _ladder(self, k: int, level: float) -> Ladder:
        quotes, observations = self.followed.quotes, self.followed.observations
        lots_of = self.settings.of(quotes.items[k]).lots_of if k >= 0 else 1
        track = k * SIDES_PER_ITEM + ASK
        rows = observations.rows
        mine = np.arange(*np.searchsorted(quotes.track[rows], [track, track + 1]))
        honoured = mine[self.followed.code[mine] == NOT_MARKED]
        if len(honoured) == 0:
            return Ladder((), None, level, self._usual(k), 0.0, lots_of)
        newest = honoured[observations.group[honoured] == observations.group[honoured[-1]]]
        steps, seen_us = standing_ladder(
            quotes.at_us[rows[newest]],
            np.exp(quotes.log_value[rows[newest]]),
            qty=observations.qty[newest],
            trader=quotes.trader[rows[newest]],
            honoured=np.ones(len(newest), dtype=bool),
        )
        usual = self._usual(k)
        depth = depth_of_ladders(
            observations.group[honoured],
            quotes.log_value[rows[honoured]],
            qty=observations.qty[honoured],
            usual_qty=usual,
            at_us=quotes.at_us[rows[honoured]],
        )
        return Ladder(steps, seen_us, level, usual, depth, lots_of)

    def _usual(self, k: int) -> float:
        return float(self.followed.observations.usual_qty[k]) if k >= 0 else 1.0

    def _day_of_season(self) -> int | None:
        for season in self.settings.seasons:
            if season.start_us <= self.rates.as_of_us < season.end_us:
                return int((self.rates.as_of_us - season.start_us) // MICROSECONDS_A_DAY) + 1
        return None

    def _forecast(self, path: PathLaw | None) -> Forecast:
        if path is None:
            return ()
        rows = []
        for days in self.days:
            mean, sd = path.log_law(days)
            prices = [math.exp(mean + sd * normal_quantile(p)) for p in QUANTILES]
            rows.append((days, dict(zip(QUANTILE_KEYS, prices, strict=True))))
        return tuple(rows)


def _price_level(log_level: _LogLevel | None) -> PriceLevel | None:
    if log_level is None:
        return None
    level, width = math.exp(log_level.log), normal_quantile(0.975) * log_level.sd
    return PriceLevel(
        level=level,
        sd=level * log_level.sd,
        low_95=level * math.exp(-width),
        high_95=level * math.exp(width),
        log_sd=log_level.sd,
    )


def _path_of(log_level: _LogLevel | None) -> PathLaw | None:
    if log_level is None:
        return None
    return PathLaw(
        start_log=log_level.log,
        start_sd=log_level.sd,
        drift=np.zeros(LONGEST_PATH_DAYS),
        day_sd=np.full(LONGEST_PATH_DAYS, math.sqrt(log_level.step_var)),
        quote_sd=log_level.quote_sd,
    )
