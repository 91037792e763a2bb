"""Put one item's levels together from the tracks that were followed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.errors import BadInput
from advisor.levels.following import FollowedMarket, reason_words
from advisor.levels.item_levels import Forecast, ItemLevels, PriceLevel, SideLooks
from advisor.levels.ladders import Ladder, depth_of_ladders, standing_ladder
from advisor.levels.outlook import LONGEST_PATH_DAYS, law_of_track
from advisor.levels.paths import QUANTILE_KEYS, QUANTILES, PathLaw
from advisor.levels.rates import STEP_SD_A_DAY, Rates
from advisor.levels.sale_habits import SaleHabits, learn_sale_habits
from advisor.levels.screening import NOT_MARKED
from advisor.levels.selling import sale_law
from advisor.levels.series import ASK, BID, DEAL, Ints, MarketSettings
from advisor.levels.valuing import SIDES_PER_ITEM
from advisor.names import did_you_mean


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
        ask, bid, deal = (self._law(k, side) for side in (ASK, BID, DEAL))
        if ask is bid is deal is None:
            ask = bid = sale = self._from_rate(item)
        else:
            habit = self._sale_habits.of(int(self.followed.family[k]))
            sale = sale_law(self.followed, k, ask=ask, bid=bid, deal=deal, habit=habit)
        fee = 0.0 if item == self.settings.money else math.log1p(-self.settings.sale_fee)
        sale = None if sale is None else sale.moved(fee)
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
            trend_per_day=_trend(ask or sale),
            day_of_season=self.followed.calendar.day_number(self.rates.as_of_us),
            forecast=self._forecast(ask),
            sale_forecast=self._forecast(sale),
            ladder=None if ask is None else self._ladder(k, math.exp(ask.start_log)),
            values=self._values(rows),
            ask_path=ask,
            sale_path=sale,
        )

    def _rows(self, k: int) -> Ints:
        tracks = np.array([k, k + 1]) * SIDES_PER_ITEM
        ends = np.searchsorted(self.followed.quotes.track, tracks)
        return np.arange(*ends) if k >= 0 else np.arange(0)

    def _law(self, k: int, side: int) -> PathLaw | None:
        """The law of one side of an item, from now on."""
        column = int(self.followed.column[k * SIDES_PER_ITEM + side]) if k >= 0 else -1
        if column < 0:
            return None
        return law_of_track(self.followed, column, as_of_us=self.rates.as_of_us)

    def looks(self, item: str, side: int) -> SideLooks | None:
        """What the filter saw of one side of an item; None if nothing."""
        k = self.number.get(item, -1)
        column = int(self.followed.column[k * SIDES_PER_ITEM + side]) if k >= 0 else -1
        if column < 0:
            return None
        table = self.followed.table
        rows = slice(0, int(table.length[column]))
        return SideLooks(
            days=table.days[rows, column],
            log_price=table.log_price[rows, column],
            noise_scale=table.noise_scale[rows, column],
            stray=self.followed.smoothed.stray[rows, column],
            noise_sd=float(np.sqrt(self.followed.noise.noise_var[column])),
            step_sd=float(np.sqrt(self.followed.noise.step_var[column])),
        )

    def _from_rate(self, item: str) -> PathLaw | None:
        """A money without quotes of its own: worth what the rates say."""
        rate = self.rates.now(item) if item in self.rates.moneys else None
        if rate is None:
            return None
        step_sd = 0.0 if item == self.rates.money else STEP_SD_A_DAY
        return PathLaw(
            part_log=np.array([math.log(rate.value)]),
            part_sd=np.array([rate.log_sd]),
            part_weight=np.ones(1),
            drift=np.zeros(LONGEST_PATH_DAYS),
            day_sd=np.full(LONGEST_PATH_DAYS, step_sd),
            far=np.ones(LONGEST_PATH_DAYS + 1),
            quote_sd=rate.log_sd,
        )

    @cached_property
    def _sale_habits(self) -> SaleHabits:
        return learn_sale_habits(self.followed)

    def _values(self, rows: Ints) -> dict[int, float]:
        quotes = self.followed.quotes
        rows = rows[quotes.valued[rows]]
        values = np.exp(quotes.log_value[rows]).tolist()
        home = np.array([name == self.rates.money for name in quotes.moneys])
        at_home = home[quotes.money[rows]]
        # A price in the workspace money is its own value; others are as exact as a rate is.
        exact = [
            price if same else float(f"{value:.12g}")
            for price, same, value in zip(
                quotes.price[rows].tolist(), at_home.tolist(), values, strict=True
            )
        ]
        return dict(zip(quotes.ids[rows].tolist(), exact, strict=True))

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
        for row in rows[~quotes.valued[rows]]:
            words[int(quotes.ids[row])] = "no rate" if quotes.priced[row] else "no price"
        if self.settings.dropped:
            words |= {i: "dropped" for i in quotes.ids[rows].tolist() if i in self.settings.dropped}
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

    def _forecast(self, path: PathLaw | None) -> Forecast:
        if path is None:
            return ()
        return tuple((days, _quantiles(path, days)) for days in self.days)


def _quantiles(path: PathLaw, days: int) -> dict[str, float]:
    prices = np.exp(path.log_quantiles(QUANTILES, days)).tolist()
    return dict(zip(QUANTILE_KEYS, prices, strict=True))


def _price_level(law: PathLaw | None) -> PriceLevel | None:
    if law is None:
        return None
    low, level, high = np.exp(law.log_quantiles((0.025, 0.5, 0.975), 0)).tolist()
    log_sd = law.start_sd
    return PriceLevel(
        level=level,
        sd=level * log_sd,
        low_95=low,
        high_95=high,
        log_sd=log_sd,
    )


def _trend(law: PathLaw | None) -> float:
    return 0.0 if law is None else float(law.drift[0])
