"""The usual ways to a price from its quotes, to hold our levels against.

Each takes the days and the log prices of one item's quotes up to now and says
where the level is, and quantiles of one honest quote some days ahead.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

_NORMAL = NormalDist()
_FEWEST_ERRORS = 5


@dataclass(frozen=True)
class Opinion:
    """A log level now, and a function (chance, days) -> log quantile of one quote ahead."""

    log_level: float
    quantile: Callable[[float, int], float]


def last_quote(days: np.ndarray, logs: np.ndarray) -> Opinion:
    return _with_past_errors(days, logs, lambda k: logs[k])


def median_of_five(days: np.ndarray, logs: np.ndarray) -> Opinion:
    return _with_past_errors(days, logs, lambda k: np.median(logs[max(k - 4, 0) : k + 1]))


def rolling_median(days: np.ndarray, logs: np.ndarray) -> Opinion:
    """Median of the last ten days."""

    def level(k: int) -> float:
        first = np.searchsorted(days, days[k] - 10.0)
        return float(np.median(logs[first : k + 1]))

    return _with_past_errors(days, logs, level)


def exponential_smoothing(days: np.ndarray, logs: np.ndarray) -> Opinion:
    """ETS(A,N,N) of statsmodels on the run of quotes, as if they came at even steps."""
    from statsmodels.tsa.exponential_smoothing.ets import ETSModel

    if len(logs) < 6:
        return last_quote(days, logs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = ETSModel(logs, error="add", trend=None).fit(disp=False)
    gap = max((days[-1] - days[0]) / (len(days) - 1), 1e-6)
    alpha, sigma = float(fit.smoothing_level), float(np.sqrt(fit.mse))
    level = float(fit.level[-1])

    def quantile(chance: float, ahead: int) -> float:
        steps = max(ahead / gap, 1.0)
        sd = sigma * np.sqrt(1.0 + (steps - 1.0) * alpha**2)
        return level + sd * _NORMAL.inv_cdf(chance)

    return Opinion(level, quantile)


def local_level(days: np.ndarray, logs: np.ndarray) -> Opinion:
    """The local level model of statsmodels on a daily grid, days without a quote missing."""
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    day = np.floor(days - days[0]).astype(int)
    grid = np.full(day[-1] + 1, np.nan)
    for each in np.unique(day):
        grid[each] = logs[day == each].mean()
    if np.isfinite(grid).sum() < 6:
        return last_quote(days, logs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = UnobservedComponents(grid, "llevel", use_exact_diffuse=True).fit(disp=0)
    noise_var, step_var = (float(each) for each in fit.params)
    level, var = float(fit.filtered_state[0, -1]), float(fit.filtered_state_cov[0, 0, -1])

    def quantile(chance: float, ahead: int) -> float:
        return level + np.sqrt(var + step_var * ahead + noise_var) * _NORMAL.inv_cdf(chance)

    return Opinion(level, quantile)


def _with_past_errors(days: np.ndarray, logs: np.ndarray, level: Callable[[int], float]) -> Opinion:
    """A level with the quantiles of its own past errors at that many days, walking forward."""
    levels = np.array([level(k) for k in range(len(logs))])

    def quantile(chance: float, ahead: int) -> float:
        later = np.searchsorted(days, days + ahead)
        sound = later < len(days)
        errors = logs[later[sound]] - levels[sound]
        if len(errors) < _FEWEST_ERRORS:
            return float(levels[-1] + 0.2 * _NORMAL.inv_cdf(chance))
        return float(levels[-1] + np.quantile(errors, chance))

    return Opinion(float(levels[-1]), quantile)


RIVALS = {
    "last quote": last_quote,
    "median of five": median_of_five,
    "rolling median": rolling_median,
    "ETS": exponential_smoothing,
    "local level": local_level,
}
