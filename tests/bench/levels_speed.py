"""All levels of a large book at once, against one fit a series.

    python tests/bench/levels_speed.py [--items 10000] [--fits 40]

Prints, from one run on one machine: seconds of processor time per series of
120 daily observations for our whole way (screening, learned spread, levels,
forecast calibration), for statsmodels' local level fit, and for the compiled
smoothers of statsforecast where it is installed; then the ratios.
"""

from __future__ import annotations

import argparse
import time
import warnings

import numpy as np

from advisor.levels.market import level_market
from advisor.levels.series import MarketSettings, make_series
from advisor.quotes import MICROSECONDS_A_DAY

DAYS = 120


def invent(items: int) -> np.ndarray:
    rng = np.random.default_rng(1)
    walk = np.cumsum(rng.normal(0, 0.03, (items, DAYS)), axis=1)
    return 1.0 + walk + rng.normal(0, 0.05, (items, DAYS))


def best_of(work, rounds: int = 3) -> float:
    """Least processor seconds of some rounds: what the work needs when nobody else is about."""
    spent = []
    for _ in range(rounds):
        begin = time.process_time()
        work()
        spent.append(time.process_time() - begin)
    return min(spent)


def ours(logs: np.ndarray) -> float:
    at_us = np.arange(DAYS) * MICROSECONDS_A_DAY
    series = {
        f"item {k}": make_series(
            f"item {k}", np.exp(row), at_us=at_us, money="shell", first_id=1000 * k
        )
        for k, row in enumerate(logs)
    }
    settings = MarketSettings("shell")
    now = DAYS * MICROSECONDS_A_DAY
    return best_of(lambda: level_market(series, settings=settings, as_of_us=now)) / len(logs)


def statsmodels_fits(logs: np.ndarray) -> float:
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    def fit_all() -> None:
        for row in logs:
            UnobservedComponents(row, "llevel").fit(disp=0)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return best_of(fit_all) / len(logs)


def compiled_smoothers(logs: np.ndarray) -> dict[str, float]:
    try:
        from statsforecast.models import AutoETS, SimpleExponentialSmoothingOptimized
    except ImportError:
        return {}
    models = {
        "statsforecast ETS(A,N,N)": lambda: AutoETS(model="ANN"),
        "statsforecast optimised simple smoothing": SimpleExponentialSmoothingOptimized,
    }
    spent = {}
    for name, make in models.items():
        make().fit(logs[0])

        def fit_all(make=make) -> None:
            for row in logs:
                make().fit(row)

        spent[name] = best_of(fit_all) / len(logs)
    return spent


def answer_time(logs: np.ndarray, items: int = 50) -> float:
    """Levels, forecasts and ladders of a book of fifty items, every one looked at."""
    at_us = np.arange(DAYS) * MICROSECONDS_A_DAY
    series = {
        f"item {k}": make_series(
            f"item {k}", np.exp(logs[k]), at_us=at_us, money="shell", first_id=1000 * k
        )
        for k in range(items)
    }

    def answer() -> None:
        market = level_market(
            series, settings=MarketSettings("shell"), as_of_us=DAYS * MICROSECONDS_A_DAY
        )
        for item in market.items:
            market.items[item]

    return best_of(answer)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=10_000)
    parser.add_argument("--fits", type=int, default=40)
    chosen = parser.parse_args()
    logs = invent(chosen.items)
    us = ours(logs)
    print(f"ours, {chosen.items} items at once: {1e6 * us:.0f} us a series")
    others = {"statsmodels local level": statsmodels_fits(logs[: chosen.fits])}
    others |= compiled_smoothers(logs[: chosen.fits])
    for name, spent in others.items():
        print(f"{name}: {1e6 * spent:.0f} us a series, {spent / us:.1f} times ours")
    print(f"fifty items, every one looked at: {1e3 * answer_time(logs):.0f} ms")


if __name__ == "__main__":
    main()
