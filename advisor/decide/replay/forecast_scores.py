"""How good forecasts were: how often what came was inside, and how far off they were.

Source: Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed. (OTexts
    2018), section 3.4: mean absolute percentage error, here as a share.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class ForecastCame:
    """One forecast and what came.

    Attributes:
        said: Quantiles 0.025, 0.1, 0.5, 0.9, 0.975.
        last_quote: What somebody would say who takes the last quote for the next.
        came: The price that was seen, > 0.
    """

    days: int
    said: tuple[float, ...]
    last_quote: float
    came: float


@dataclass(frozen=True, slots=True)
class ForecastScore:
    """All forecasts for so many days ahead; None where none could be settled.

    Attributes:
        inside_80, inside_95: Share of the prices that came inside the central interval.
        error, error_last_quote: Mean of |came - forecast| / came, of the median and of
            the last quote.
    """

    days: int
    n: int
    inside_80: float | None
    inside_95: float | None
    error: float | None
    error_last_quote: float | None


def score_forecasts(came: Iterable[ForecastCame], *, days: int) -> ForecastScore:
    """The score of the forecasts of one horizon."""
    own = [each for each in came if each.days == days]
    if not own:
        return ForecastScore(days, 0, None, None, None, None)
    said = np.array([each.said for each in own])
    seen = np.array([each.came for each in own])
    last = np.array([each.last_quote for each in own])
    return ForecastScore(
        days,
        len(own),
        inside_80=float(np.mean((said[:, 1] <= seen) & (seen <= said[:, 3]))),
        inside_95=float(np.mean((said[:, 0] <= seen) & (seen <= said[:, 4]))),
        error=mean_share_off(said[:, 2], seen),
        error_last_quote=mean_share_off(last, seen),
    )


def mean_share_off(said: np.ndarray, came: np.ndarray) -> float:
    """Mean of |came - said| / came."""
    return float(np.mean(np.abs(came - said) / came))
