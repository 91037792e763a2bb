"""Put one item's levels together from the tracks that were followed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.errors import BadInput
from advisor.levels.followed import FollowedMarket
from advisor.levels.following import reason_words
from advisor.levels.item_levels import Forecast, ItemLevels, PriceLevel, SideLooks
from advisor.levels.ladders import Ladder, depth_of_ladders, standing_ladder
from advisor.levels.outlook import LONGEST_PATH_DAYS, law_of_track
from advisor.levels.paths import QUANTILE_KEYS, QUANTILES, PathLaw
from advisor.levels.rates import STEP_SD_A_DAY, Rates
from advisor.levels.sale_habits import SaleHabit, learn_sale_habits
from advisor.levels.screening import NOT_MARKED, OWN_STALL
from advisor.levels.seasons import Calendar
from advisor.levels.selling import sale_law
from advisor.levels.series import ASK, BID, DEAL, Ints, MarketSettings
from advisor.levels.valuing import SIDES_PER_ITEM
from advisor.names import did_you_mean


@dataclass(frozen=True, eq=False)
class _Place:
    """Where one item is: the part it was followed in, its number there, how its kin sell."""

    part: FollowedMarket
    k: int
    habit: SaleHabit

    @cached_property
    def rows(self) -> Ints:
        """Its quotes, as rows of the part's."""
        tracks = np.array([self.k, self.k + 1]) * SIDES_PER_ITEM
        return np.arange(*np.searchsorted(self.part.quotes.track, tracks))


@dataclass(frozen=True, eq=False)
class Assembly:
    """Makes `ItemLevels` by name from what was followed, in parts of whole families."""

    parts: Sequence[FollowedMarket]
    settings: MarketSettings
    rates: Rates
    days: tuple[int, ...]
    names: Sequence[str]

    @cached_property
    def known(self) -> Mapping[str, _Place | None]:
        """Where each followed item is; the workspace money and bare moneys at None."""
        places: dict[str, _Place | None] = dict.fromkeys(self.rates.moneys)
        for part in self.parts:
            habits = learn_sale_habits(part)
            for k, name in enumerate(part.quotes.items):
                places[name] = _Place(part, k, habits.of(int(part.family[k])))
        return places

    def item_levels(self, item: str) -> ItemLevels:
        """All that is known of one item.

        Raises: BadInput: neither quoted nor a money.
        """
        if item not in self.known:
            raise BadInput(
                "no price of it was ever quoted",
                right=did_you_mean(item, self.known) or f'quote "{item}" first',
                item=item,
            )
        place = self.known[item]
        ask, bid, deal = (self._law(place, side) for side in (ASK, BID, DEAL))
        if place is None or ask is bid is deal is None:
            ask = bid = sale = self._from_rate(item)
        else:
            sale = sale_law(place.part, place.k, ask=ask, bid=bid, deal=deal, habit=place.habit)
        fee = 0.0 if item == self.settings.money else math.log1p(-self.settings.sale_fee)
        sale = None if sale is None else sale.moved(fee)
        rows = np.arange(0) if place is None else place.rows
        return ItemLevels(
            item=item,
            family=self.settings.of(item).family,
            ask=_price_level(ask),
            bid=None if bid is None else _price_level(bid.moved(fee)),
            sale=_price_level(sale),
            quotes=len(rows),
            screened={} if place is None else self._screened(place),
            newest_us=None if place is None else self._newest_us(place),
            trend_per_day=_trend(ask or sale),
            day_of_season=Calendar.of(self.settings.seasons).day_number(self.rates.as_of_us),
            forecast=self._forecast(ask),
            sale_forecast=self._forecast(sale),
            ladder=None if ask is None else self._ladder(item, math.exp(ask.start_log)),
            values={} if place is None else self._values(place),
            ask_path=ask,
            sale_path=sale,
        )

    def _newest_us(self, place: _Place) -> int | None:
        """When somebody else's quote was last seen."""
        quotes, rows = place.part.quotes, place.rows
        if self.settings.own:
            rows = rows[~np.isin(quotes.ids[rows], list(self.settings.own))]
        return int(quotes.at_us[rows].max()) if len(rows) else None

    def _law(self, place: _Place | None, side: int) -> PathLaw | None:
        """The law of one side of an item, from now on."""
        column = -1 if place is None else place.part.column(place.k, side)
        if place is None or column < 0:
            return None
        return law_of_track(place.part, column, as_of_us=self.rates.as_of_us)

    def looks(self, item: str, side: int) -> SideLooks | None:
        """What the filter saw of one side of an item; None if nothing."""
        place = self.known.get(item)
        column = -1 if place is None else place.part.column(place.k, side)
        if place is None or column < 0:
            return None
        tracks = place.part.tracks
        rows = slice(0, int(tracks.length[column]))
        return SideLooks(
            at_us=tracks.times_us(column),
            days=tracks.days[rows, column],
            log_price=tracks.log_price[rows, column],
            noise_scale=tracks.noise_scale[rows, column],
            stray=tracks.stray[rows, column],
            level=tracks.mean[rows, column],
            level_var=tracks.var[rows, column],
            noise_sd=float(np.sqrt(tracks.noise_var[column])),
            step_sd=float(np.sqrt(tracks.step_var[column])),
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

    def _values(self, place: _Place) -> dict[int, float]:
        quotes, rows = place.part.quotes, place.rows
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

    def _screened(self, place: _Place) -> dict[int, str]:
        """Reasons by quote id, in the order of time."""
        quotes, part, rows = place.part.quotes, place.part, place.rows
        if len(rows) == 0:
            return {}
        begin, end = np.searchsorted(part.rows, [rows[0], rows[-1] + 1])
        words = dict(
            zip(
                quotes.ids[part.rows[begin:end]].tolist(),
                reason_words(part.code[begin:end]),
                strict=True,
            )
        )
        for row in rows[~quotes.valued[rows]]:
            words[int(quotes.ids[row])] = "no rate" if quotes.priced[row] else "no price"
        if self.settings.left_out:
            for quote in self.settings.left_out.intersection(quotes.ids[rows].tolist()):
                words[quote] = "dropped" if quote in self.settings.dropped else OWN_STALL
        return {i: word for i, word in words.items() if word}

    def _ladder(self, item: str, level: float) -> Ladder:
        place, lots_of = self.known[item], self.settings.of(item).lots_of
        if place is None:
            return Ladder((), None, level, 1.0, 0.0, 1)
        part, quotes, usual = place.part, place.part.quotes, float(place.part.usual_qty[place.k])
        track = place.k * SIDES_PER_ITEM + ASK
        rows = part.rows
        mine = np.arange(*np.searchsorted(quotes.track[rows], [track, track + 1]))
        honoured = mine[part.code[mine] == NOT_MARKED]
        if len(honoured) == 0:
            return Ladder((), None, level, usual, 0.0, lots_of)
        newest = honoured[part.group[honoured] == part.group[honoured[-1]]]
        steps, seen_us = standing_ladder(
            quotes.at_us[rows[newest]],
            np.exp(quotes.log_value[rows[newest]]),
            qty=part.qty[newest],
            trader=quotes.trader[rows[newest]],
            honoured=np.ones(len(newest), dtype=bool),
            guessed=~(quotes.qty[rows[newest]] > 0),
        )
        depth = depth_of_ladders(
            part.group[honoured],
            quotes.log_value[rows[honoured]],
            qty=part.qty[honoured],
            usual_qty=usual,
            at_us=quotes.at_us[rows[honoured]],
        )
        return Ladder(steps, seen_us, level, usual, depth, lots_of)

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
