"""What was advised on the morning of one day, as plain values that a cache can hold.

Everything here was worked out from what was known before that day began. Each sum of
money is in the workspace money.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

BUYING = "buy"


@dataclass(frozen=True, slots=True)
class ForecastSaid:
    """What was said of one item's price.

    Attributes:
        usual_qty: Units whose unit price is meant.
        last_quote: That price at the asks last seen before the day, all of them believed.
        ahead: (days, quantiles 0.025, 0.1, 0.5, 0.9, 0.975 of one honest look); 1 day
            ahead is the day itself.
    """

    item: str
    usual_qty: float
    last_quote: float
    ahead: Sequence[tuple[int, Sequence[float]]]


@dataclass(frozen=True, slots=True)
class WayToHave:
    """One way to come by a piece: a route, or buying it.

    Attributes:
        units: Mean units bought of each item.
        gives: Mean units that come back.
        other: What it costs besides, such as the worth of one's time.
    """

    name: str
    units: Mapping[str, float]
    gives: Mapping[str, float]
    other: float = 0.0


@dataclass(frozen=True, slots=True)
class CraftSaid:
    """Make or buy of one piece: the ways, which was advised, which the plain habit takes."""

    piece: str
    ways: Sequence[WayToHave]
    followed: int
    plain: int


@dataclass(frozen=True, slots=True)
class StockSaid:
    """How many of one item to buy for some pieces.

    Attributes:
        needs: The need as equally likely whole numbers, ascending.
        buy_now: Units to buy on the day itself.
        plain_qty: The mean need in whole lots, which the plain habit buys.
        reserve: (days after, unit price of the usual quantity) up to which to buy more.
        days: After so many the need is known.
        leftover: Part of a leftover's worth that the season's end leaves, 0 to 1.
    """

    route: str
    item: str
    needs: Sequence[int]
    lots_of: int
    usual_qty: float
    buy_now: int
    plain_qty: int
    reserve: Sequence[tuple[int, float]]
    days: int
    leftover: float = 1.0


@dataclass(frozen=True, slots=True)
class SaleSaid:
    """How to sell some pieces.

    Attributes:
        asks: asks[d][left]: what to ask on the d-th day with so many left.
        kept: kept[d][left]: how many are left once what is better sold to bidders is.
        a_day: Units that the market takes in a day.
        last_price: The cheapest ask last seen before the day; the plain habit asks it.
    """

    piece: str
    count: int
    asks: Sequence[Sequence[float]]
    kept: Sequence[Sequence[int]]
    a_day: float
    last_price: float


@dataclass(frozen=True, slots=True)
class DayAdvice:
    """All that was advised on one morning.

    Attributes:
        day: Date, year first.
        left_out: What had no answer that day, in sentences.
    """

    day: str
    forecasts: Sequence[ForecastSaid] = ()
    crafts: Sequence[CraftSaid] = ()
    stocks: Sequence[StockSaid] = ()
    sales: Sequence[SaleSaid] = ()
    left_out: Sequence[str] = ()


def as_plain(advice: DayAdvice) -> dict[str, Any]:
    """The same as dictionaries, lists, texts and numbers."""
    return asdict(advice)


def from_plain(said: Mapping[str, Any]) -> DayAdvice:
    """What `as_plain` gave, after it went through JSON."""
    return DayAdvice(
        day=said["day"],
        forecasts=[ForecastSaid(**each) for each in said["forecasts"]],
        crafts=[
            CraftSaid(**(each | {"ways": [WayToHave(**way) for way in each["ways"]]}))
            for each in said["crafts"]
        ],
        stocks=[StockSaid(**each) for each in said["stocks"]],
        sales=[SaleSaid(**each) for each in said["sales"]],
        left_out=said["left_out"],
    )
