"""What is known of one item's price: three levels, where they go, the ladder, the marks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.errors import CannotAnswer
from advisor.levels.ladders import Ladder
from advisor.levels.paths import PathLaw
from advisor.levels.series import Floats, Ints


@dataclass(frozen=True, slots=True)
class PriceLevel:
    """A price now and how sure it is, in the workspace money.

    Attributes:
        level: The price itself: as likely too high as too low.
        sd: `level * log_sd`, its standard deviation in money.
        low_95, high_95: It lies between these with a chance of 95 %.
        log_sd: Standard deviation of its logarithm.
    """

    level: float
    sd: float
    low_95: float
    high_95: float
    log_sd: float


@dataclass(frozen=True, slots=True, eq=False)
class SideLooks:
    """What the filter saw of one side of an item, oldest first, and how it reads it.

    Attributes:
        at_us, days: Times of the looks; days since the first of them.
        log_price: Log of the unit price of the usual quantity, in the workspace money.
        noise_scale: Variance of this look against a plain one.
        stray: Chance that it says nothing of the level.
        level, level_var: Log of the level as known after each look, and its variance.
        noise_sd: How far a plain look lies from the level, log scale.
        step_sd: How far the level wanders in a day, log scale.
    """

    at_us: Ints
    days: Floats
    log_price: Floats
    noise_scale: Floats
    stray: Floats
    level: Floats
    level_var: Floats
    noise_sd: float
    step_sd: float


Forecast = tuple[tuple[int, Mapping[str, float]], ...]
"""(days ahead, price by quantile key "0.05" ... "0.99"), nearest day first."""


@dataclass(frozen=True, slots=True, eq=False)
class ItemLevels:
    """One item's prices at one moment.

    Attributes:
        item, family: Names; family None where none is set.
        ask: What buying the usual quantity costs now; None: no ask was ever believed.
        bid: What selling at once brings, net of the sale fee; None: nobody bids.
        sale: What a listing brings in its usual time, net of the sale fee.
        quotes: Quotes known, marked ones included.
        screened: Why a quote is left out, by id; words of `screening.REASONS`.
        newest_us: Time of the newest quote that is not one's own listing; None without one.
        trend_per_day: Expected log change of the ask level (else of the sale level) over
            the coming day: 0.01 is about 1 % up.
        day_of_season: 1 on the first day; None outside every season.
        forecast, sale_forecast: Quantiles of the ask and of the sale level ahead.
        ladder: What stands, and what N units cost; None without an ask level.
        values: Unit price in the workspace money by quote id; absent where it has no rate.
        ask_path, sale_path: The law of the level from day to day, as plain numbers.
    """

    item: str
    family: str | None
    ask: PriceLevel | None
    bid: PriceLevel | None
    sale: PriceLevel | None
    quotes: int
    screened: Mapping[int, str]
    newest_us: int | None
    trend_per_day: float
    day_of_season: int | None
    forecast: Forecast
    sale_forecast: Forecast
    ladder: Ladder | None
    values: Mapping[int, float]
    ask_path: PathLaw | None
    sale_path: PathLaw | None

    @property
    def screened_quotes(self) -> int:
        """How many quotes are left out."""
        return len(self.screened)

    def chance_below(self, price: float, days: int) -> float:
        """Chance that the ask level is at or below `price` on some day within `days`.

        Raises: CannotAnswer: the item has no ask level.
        """
        if self.ask_path is None:
            raise CannotAnswer(
                "nobody has asked a price for it", right="quote an ask", item=self.item
            )
        return self.ask_path.chance_below(price, days)
