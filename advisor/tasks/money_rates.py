"""Rates of the moneys of a workspace, from the quotes of moneys alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from advisor.book.series import read_series
from advisor.tasks.pricing import as_series, market_settings

if TYPE_CHECKING:
    from advisor.book.settings import Settings
    from advisor.book.store import Store
    from advisor.levels.rates import Rates

EVER_US = 2**62


def read_money_rates(store: Store, settings: Settings, *, until_us: int = EVER_US) -> Rates:
    """Every money's rate to the workspace money, as known at a moment."""
    from advisor.levels.rates import read_rates

    names = [
        name
        for (name,) in store.connection.execute(
            """SELECT name FROM items WHERE id IN
                   (SELECT money_id FROM quotes UNION SELECT money_id FROM trades
                    UNION SELECT money_id FROM orders)"""
        )
    ]
    stored = read_series(store, names, until_us=until_us)
    series = as_series(stored)
    left_out = market_settings(store, settings, series).left_out
    home = next((name for name in names if name.casefold() == settings.money.casefold()), None)
    return read_rates(series, home or settings.money, as_of_us=until_us, left_out=left_out)


def rate_at(rates: Rates, money: str, at_us: int) -> float | None:
    """One unit of a money in the workspace money at a moment; None where no road leads."""
    return rates_at(rates, money, [at_us])[0]


def rates_at(rates: Rates, money: str, moments: Sequence[int]) -> list[float | None]:
    """As `rate_at`, for many moments at once."""
    import numpy as np

    value, variance = rates.log_rate(money, np.array(moments, dtype=np.int64))
    return [
        float(np.exp(each)) if np.isfinite(spread) else None
        for each, spread in zip(value.tolist(), variance.tolist(), strict=True)
    ]
