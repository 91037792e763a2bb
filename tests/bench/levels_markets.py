"""Invented markets of five kinds whose true price is known, and real series to hold against.

Everything is seeded; the same seed gives the same market. One time step is a
day. A market is one family of items; its quotes are asks with now and then a
stray, its truth is the price that would have been honoured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import QuoteSeries, make_series
from advisor.quotes import MICROSECONDS_A_DAY

REGIMES = ("calm", "volatile", "thin", "manipulated", "crash")
HISTORY_DAYS = 120
AHEAD_DAYS = 14
START_US = 1_700_000_000_000_000 // MICROSECONDS_A_DAY * MICROSECONDS_A_DAY


@dataclass(frozen=True)
class InventedItem:
    """Quotes, and the truth on each day (log scale), `HISTORY_DAYS + AHEAD_DAYS` long."""

    series: QuoteSeries
    true_log: np.ndarray
    quote_sd: float


def invent_market(regime: str, items: int, *, seed: int) -> dict[str, InventedItem]:
    """A family of items of one kind of market."""
    rng = np.random.default_rng([seed, REGIMES.index(regime)])
    return {
        name: _invent_item(name, regime, rng=rng, first_id=100_000 * k)
        for k, name in enumerate(f"{regime} {k}" for k in range(items))
    }


def _invent_item(name: str, regime: str, *, rng, first_id: int) -> InventedItem:
    days = HISTORY_DAYS + AHEAD_DAYS
    true_log = _true_path(regime, days, rng)
    quote_sd = {"calm": 0.04, "thin": 0.08}.get(regime, 0.05)
    at_days, logs, traders = [], [], []
    wait = 5.0 if regime == "thin" else 0.9
    t = rng.exponential(wait)
    while t < HISTORY_DAYS:
        middle = np.interp(t, np.arange(days), true_log)
        at_days.append(t)
        logs.append(middle + rng.normal(0, quote_sd) + _stray(regime, rng))
        traders.append(int(rng.integers(0, 12)))
        if regime == "manipulated" and rng.random() < 0.04:
            _plant_cluster(t, middle, rng=rng, into=(at_days, logs, traders))
        t += rng.exponential(wait)
    order = np.argsort(at_days, kind="stable")
    at_us = START_US + (np.array(at_days)[order] * MICROSECONDS_A_DAY).astype(np.int64)
    series = make_series(
        name,
        np.exp(np.array(logs)[order]),
        at_us=at_us,
        money="shell",
        trader=np.array(traders)[order],
        first_id=first_id,
    )
    return InventedItem(series, true_log, quote_sd)


def _true_path(regime: str, days: int, rng) -> np.ndarray:
    start = rng.uniform(0, 5)
    sd = {"calm": 0.008, "volatile": 0.05, "thin": 0.025, "manipulated": 0.02, "crash": 0.025}
    steps = rng.normal(0, sd[regime], days)
    if regime == "volatile":
        steps = sd[regime] * rng.standard_t(4, days) / np.sqrt(2.0)
    if regime == "crash":
        for _ in range(int(rng.integers(1, 4))):
            day = int(rng.integers(10, days))
            steps[day] += rng.choice([-1.0, -1.0, 1.0]) * rng.uniform(0.5, 1.1)
            after = np.arange(days - day)
            steps[day:] += rng.choice([-1.0, 1.0]) * 0.03 * 0.85**after
    return start + np.cumsum(steps)


def _stray(regime: str, rng) -> float:
    """A wrong digit, bait or a hopeful price, on the log scale; mostly none."""
    chance = {"manipulated": 0.14, "thin": 0.04}.get(regime, 0.02)
    if rng.random() >= chance:
        return 0.0
    kind = rng.random()
    if kind < 0.2:
        return float(rng.choice([-1, 1]) * np.log(10))
    if kind < 0.75:
        return -float(rng.uniform(0.3, 1.2))
    return float(rng.uniform(0.3, 1.0))


def _plant_cluster(t: float, middle: float, *, rng, into) -> None:
    """Three to five quotes within some hours at one wrong price, by one trader or by many."""
    at_days, logs, traders = into
    wrong = middle + rng.choice([-1.0, 1.0]) * rng.uniform(0.35, 0.8)
    one = int(rng.integers(0, 12))
    for _ in range(int(rng.integers(3, 6))):
        at_days.append(min(t + rng.uniform(0.0, 0.3), HISTORY_DAYS - 1e-6))
        logs.append(wrong + rng.normal(0, 0.01))
        traders.append(one if rng.random() < 0.7 else int(rng.integers(0, 12)))


def real_series() -> dict[str, np.ndarray]:
    """Positive series of the statsmodels package, one value a step.

    The flow of a river, a gas in the air, sea temperatures, a metal's price and
    use, and figures of an economy; none of them is a market of asks.
    """
    from statsmodels import datasets

    macro = datasets.macrodata.load_pandas().data
    copper = datasets.copper.load_pandas().data
    co2 = datasets.co2.load_pandas().data["co2"].ffill().to_numpy()
    elnino = datasets.elnino.load_pandas().data.drop(columns="YEAR").to_numpy().ravel()
    chosen = {
        "river flow": datasets.nile.load_pandas().data["volume"],
        "air co2, weekly": co2[-400:],
        "sea temperature": elnino[-400:],
        "copper price": copper["COPPERPRICE"],
        "copper use": copper["WORLDCONSUMPTION"],
        "consumer prices": macro["cpi"],
        "national product": macro["realgdp"],
        "money supply": macro["m1"],
        "unemployment": macro["unemp"],
        "bill rate": macro["tbilrate"],
    }
    return {name: np.asarray(values, dtype=float) for name, values in chosen.items()}
