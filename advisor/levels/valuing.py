"""All quotes of a market in one flat table, each valued in the workspace money."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.levels.rates import Rates
from advisor.levels.series import Bools, Floats, Ints, QuoteSeries

SIDES_PER_ITEM = 3


@dataclass(frozen=True, eq=False)
class ValuedQuotes:
    """Quotes up to the moment of the answer, sorted by track (item, then side), then time.

    Attributes:
        items: Names; `track // 3` points into them, `track % 3` is the side.
        ids, track, at_us, money, trader: ints, one per quote; `money` points into `moneys`.
        moneys: Names of the moneys that quotes are in.
        price: Unit price in the quote's own money.
        log_value: Log of the unit price in the workspace money; 0 where not `valued`.
        rate_var: Variance of the log rate it was converted at.
        qty: Units, nan where not said.
        valued: Whether the price is a number above zero and its money has a rate.
        priced: Whether the price is a number above zero.
    """

    items: tuple[str, ...]
    moneys: tuple[str, ...]
    ids: Ints
    track: Ints
    at_us: Ints
    money: Ints
    trader: Ints
    price: Floats
    log_value: Floats
    rate_var: Floats
    qty: Floats
    valued: Bools
    priced: Bools

    @property
    def item(self) -> Ints:
        """Index into `items`, per quote."""
        return self.track // SIDES_PER_ITEM

    @property
    def side(self) -> Ints:
        """0 ask, 1 bid, 2 deal, per quote."""
        return self.track % SIDES_PER_ITEM

    def unreachable(self) -> tuple[str, ...]:
        """Items with a priced quote that no rate values."""
        lost = self.priced & ~self.valued
        return tuple(self.items[k] for k in np.unique(self.item[lost]))

    def rows_of(self, chosen: Ints) -> Ints:
        """Where the quotes of some items are."""
        starts = self._starts
        parts = [np.arange(starts[k], starts[k + 1]) for k in chosen.tolist()]
        return np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)

    @cached_property
    def _starts(self) -> Ints:
        """The first row of each item, and the end."""
        return np.searchsorted(self.track, np.arange(len(self.items) + 1) * SIDES_PER_ITEM)

    def of_items(self, chosen: Ints) -> ValuedQuotes:
        """The quotes of some items alone, given in ascending order."""
        number = np.full(len(self.items), -1)
        number[chosen] = np.arange(len(chosen))
        rows = self.rows_of(chosen)
        columns = {name: getattr(self, name)[rows] for name in _BY_QUOTE}
        columns["track"] = number[self.item[rows]] * SIDES_PER_ITEM + self.side[rows]
        names = tuple(self.items[k] for k in chosen.tolist())
        return ValuedQuotes(items=names, moneys=self.moneys, **columns)


_BY_QUOTE = (
    "ids",
    "track",
    "at_us",
    "money",
    "trader",
    "price",
    "log_value",
    "rate_var",
    "qty",
    "valued",
    "priced",
)


def value_quotes(
    series: Mapping[str, QuoteSeries], items: Sequence[str], *, rates: Rates
) -> ValuedQuotes:
    """One flat table of the items' quotes with their values at the rates of their own times."""
    chosen = [series[item] for item in items]
    moneys = rates.moneys
    number = {name: k for k, name in enumerate(moneys)}

    def joined(name: str, dtype: type) -> np.ndarray:
        columns = [getattr(each, name) for each in chosen]
        return np.concatenate(columns) if columns else np.zeros(0, dtype=dtype)

    item = np.repeat(np.arange(len(chosen)), [len(each) for each in chosen])
    money = (
        np.concatenate([_recode(each, number) for each in chosen])
        if chosen
        else np.zeros(0, dtype=np.int64)
    )
    at_us, price = joined("at_us", np.int64), joined("price", np.float64)
    track = item * SIDES_PER_ITEM + joined("side", np.int64)
    known = at_us <= rates.as_of_us
    in_order = np.diff(track) + (np.diff(at_us) >= 0)  # > 0: a later track, or no earlier time
    order = np.arange(len(at_us)) if np.all(in_order > 0) else np.lexsort((at_us, track))
    if not known.all():
        order = order[known[order]]
    at_us, price, money, track = at_us[order], price[order], money[order], track[order]
    with np.errstate(invalid="ignore"):
        priced = np.isfinite(price) & (price > 0)
    log_value = np.log(np.where(priced, price, 1.0))
    rate_var = np.zeros(len(price))
    for code in np.unique(money):
        if moneys[code] != rates.money:
            rows = np.flatnonzero(money == code)
            log_rate, variance = rates.log_rate(moneys[code], at_us[rows])
            log_value[rows] += log_rate
            rate_var[rows] = variance
    valued = priced & np.isfinite(rate_var)
    return ValuedQuotes(
        items=tuple(items),
        moneys=moneys,
        ids=joined("ids", np.int64)[order],
        track=track.astype(np.int64),
        at_us=at_us,
        money=money,
        trader=joined("trader", np.int64)[order],
        price=price,
        log_value=np.where(valued, log_value, 0.0),
        rate_var=np.where(valued, rate_var, 0.0),
        qty=joined("qty", np.float64)[order],
        valued=valued,
        priced=priced,
    )


def _recode(series: QuoteSeries, number: Mapping[str, int]) -> Ints:
    if len(series.money_names) == 1:
        return np.full(len(series), number.get(series.money_names[0], 0), dtype=np.int64)
    codes = np.array([number.get(name, 0) for name in series.money_names] or [0], dtype=np.int64)
    return codes[series.money]


def find_money_gaps(quotes: ValuedQuotes, rates: Rates) -> Floats:
    """(moneys, quotes), what each quote's log value would gain if it were in another money.

    At the newest rates quoted before it, so that later ones change nothing.
    """
    knots = np.unique(np.concatenate([pair.at_us for pair in rates.pairs] or [np.zeros(0, int)]))
    if len(knots) == 0:
        return np.zeros((0, len(quotes.at_us)))
    log_rate = np.vstack([rates.log_rate(money, knots)[0] for money in rates.moneys])
    knot = np.maximum(np.searchsorted(knots, quotes.at_us, side="right") - 1, 0)
    gaps: Floats = log_rate[:, knot] - log_rate[quotes.money, knot]
    return np.nan_to_num(gaps)
