"""Said chances happen as often as they are said: make or buy in a market of known truth.

Each evening three supplies and a piece have true prices that wander by the day;
only noisy asks of some days are seen. The advice sees the asks; the truth tells
which way was really the cheaper on average.
"""

from __future__ import annotations

import numpy as np

from advisor.decide.craft import BuyOption, RouteOption, weigh_craft
from advisor.decide.price_risk import PriceBelief
from advisor.levels.market import level_market
from advisor.levels.series import ItemSettings, MarketSettings, make_series
from advisor.quotes import MICROSECONDS_A_DAY

EVENINGS = 1000
SUPPLIES = 3
DAYS = 40
DAILY_SD = 0.03
ASK_SD = 0.06


def seen_asks(name, path, random):
    """Asks on a third of the days, the last day never, scattered about the true price."""
    days = np.flatnonzero(random.random(DAYS - 1) < 1 / 3)
    days = days if len(days) else np.array([DAYS - 2])
    noise = ASK_SD * random.standard_normal(len(days))
    at_us = (days * MICROSECONDS_A_DAY).astype(np.int64)
    return make_series(name, path[days] * np.exp(noise), at_us=at_us, money="shell")


def draw_evenings(random):
    """Series of every item, and true last prices and units by evening."""
    series, truth = {}, []
    for evening in range(EVENINGS):
        units = random.integers(5, 60, SUPPLIES).astype(float)
        steps = DAILY_SD * random.standard_normal((SUPPLIES + 1, DAYS))
        begin = np.append(random.uniform(1.0, 5.0, SUPPLIES), 0.0)
        begin[-1] = (begin[:-1] @ units) * np.exp(0.12 * random.standard_normal())
        paths = begin[:, np.newaxis] * np.exp(np.cumsum(steps, axis=1))
        names = [f"supply {evening}-{each}" for each in range(SUPPLIES)] + [f"piece {evening}"]
        for name, path in zip(names, paths, strict=True):
            series[name] = seen_asks(name, path, random)
        truth.append((names, units, paths[:, -1]))
    return series, truth


def said_and_true(random):
    """For each evening the chance said that making is cheaper, and whether it was."""
    series, truth = draw_evenings(random)
    families = {name: ItemSettings(family=name.split()[0]) for name in series}
    market = level_market(
        series,
        settings=MarketSettings(money="shell", items=families),
        as_of_us=(DAYS - 1) * MICROSECONDS_A_DAY,
    )
    said, was = [], []
    for (*supplies, piece), units, last in truth:
        levels = {name: market.items[name].ask for name in (*supplies, piece)}
        beliefs = {name: PriceBelief(each.level, each.log_sd) for name, each in levels.items()}
        mean = sum(n * levels[name].level for n, name in zip(units, supplies, strict=True))
        option = RouteOption(
            "way", np.array([mean]), np.ones(1), mean, dict(zip(supplies, units, strict=True))
        )
        advice = weigh_craft([option], BuyOption(piece, beliefs[piece]), beliefs=beliefs)
        said.append(advice.chance_make_cheaper)
        was.append(float(units @ last[:-1]) < last[-1])
    return np.array(said), np.array(was)


def test_said_chances_happen_as_often_as_said():
    said, was = said_and_true(np.random.default_rng(11))
    surer = np.maximum(said, 1 - said)
    right = np.where(said >= 0.5, was, ~was)
    for low, high in ((0.5, 0.7), (0.7, 0.9), (0.9, 0.99)):
        group = (surer >= low) & (surer < high)
        stated, happened = surer[group].mean(), right[group].mean()
        error = np.sqrt(stated * (1 - stated) / group.sum())
        assert abs(happened - stated) < 3 * error + 0.02, (low, stated, happened, group.sum())
