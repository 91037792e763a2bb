"""What everything truly cost on each day: the truth the quotes are then scattered about.

A level is `calm level * exp(season curve + gluts and jumps + weekly ripple +
wandering of the family + wandering of the item)`. The prices of storm lanterns
and their half-made pieces are anchored to what it costs to make them, by
hand-written cost formulas for the routes of the sample, times a ratio that
moves through the season: early on it is cheaper to buy, later to make.
"""

from __future__ import annotations

import numpy as np

from sample_prices.town import GLUTS, GOODS, JUMPS, SPREADS, Good, Season, spread_of

SALE_FEE = 0.05

Levels = dict[str, np.ndarray]


def draw_true_levels(season: Season, random: np.random.RandomState) -> Levels:
    """The level of each item in shell on each day of the season, shape (days,).

    `season.last_day` may lie after the days seen; all days up to it are drawn.
    """
    days = np.arange((season.last_day - season.first_day).days + 1)
    shared = {family: _wander(days, 0.005, random) for family in SPREADS}
    levels = {
        good.name: _plain_level(good, season, days, shared[good.family], random)
        for good in GOODS
        if good.shells > 0
    }
    _anchor_to_making_costs(levels, days, random)
    return levels


def _wander(days: np.ndarray, step: float, random: np.random.RandomState) -> np.ndarray:
    """A random walk on the log scale that is slowly drawn back to nothing."""
    path = np.zeros(len(days))
    shocks = step * random.standard_normal(len(days))
    for day in range(1, len(days)):
        path[day] = 0.985 * path[day - 1] + shocks[day]
    return path


def _plain_level(
    good: Good,
    season: Season,
    days: np.ndarray,
    shared: np.ndarray,
    random: np.random.RandomState,
) -> np.ndarray:
    curve = good.high * np.exp(-days / 17.0) + good.wake / (1 + np.exp(-(days - 92) / 6.0))
    ripple = 0.018 * np.sin(2 * np.pi * (days + 2) / 7.0)
    calm = good.family == "moneys"
    own = _wander(days, 0.004 if calm else 0.009, random)
    news = sum(
        change * ((days >= first) & (days <= last))
        for item, first, last, change in GLUTS
        if item == good.name
    ) + sum(
        change * (days >= day)
        for name, item, day, change in JUMPS
        if (name, item) == (season.name, good.name)
    )
    drift = 0.0021 * days if calm else 0.0  # crowns grow dearer all season
    log_level = season.shift + curve + drift + (0.3 if calm else 1.0) * ripple + shared + own + news
    return np.asarray(good.shells * np.exp(log_level))


def _anchor_to_making_costs(
    levels: Levels, days: np.ndarray, random: np.random.RandomState
) -> None:
    """Add the prices that follow from what making costs, times how the season feels."""

    def feeling(points: dict[int, float]) -> np.ndarray:
        path = np.interp(days, list(points), list(points.values()))
        return np.asarray(path * np.exp(0.012 * np.tanh(_wander(days, 0.4, random))))

    marking = 40 * etch_try_cost(levels)
    levels["marked lantern frame"] = marking * feeling({0: 0.72, 30: 0.84, 58: 0.97, 110: 0.93})
    levels["dull storm lantern"] = 0.46 * levels["marked lantern frame"] * feeling({0: 0.9, 60: 1})
    costs = storm_lantern_costs(levels)
    best = np.min([costs[name] for name in sorted(costs)], axis=0)
    worth = feeling({0: 0.80, 29: 0.92, 45: 1.02, 58: 1.16, 85: 1.12, 110: 1.18})
    levels["storm lantern"] = best * worth / SPREADS["lanterns"].ask


def asks_and_sales(levels: Levels) -> tuple[Levels, Levels]:
    """What a unit costs to buy, and what it brings after the fee, in shell by day."""
    spreads = {good.name: spread_of(good) for good in GOODS}
    asks = {name: level * spreads[name].ask for name, level in levels.items()}
    sales = {name: level * spreads[name].sale * (1 - SALE_FEE) for name, level in levels.items()}
    return asks, sales


def etch_try_cost(levels: Levels) -> np.ndarray:
    """One try to etch the marks: a frame, three salts, a wax, half a shell."""
    ask, _ = asks_and_sales(levels)
    return np.asarray(ask["lantern frame"] + 3 * ask["etching salt"] + ask["binding wax"] + 0.5)


def stamped_frame_cost(levels: Levels) -> np.ndarray:
    """Mean cost of a marked frame by stamping: 1 in 52, a dent in 40 % is hammered flat."""
    ask, _ = asks_and_sales(levels)
    stamp = ask["black wax"] + 2 * ask["fixing salt"]
    flatten = ask["hinge pin"] + 0.25
    # From the bare frame: b = stamp + 0.4*(flatten + b) + (1 - 1/52 - 0.4)*(frame + b).
    lost = 1 - 1 / 52 - 0.4
    return np.asarray(
        ask["lantern frame"] + 52 * (stamp + 0.4 * flatten + lost * ask["lantern frame"])
    )


def storm_lantern_costs(levels: Levels) -> Levels:
    """Mean cost of a storm lantern by each of the three routes, best choices taken."""
    return {
        "storm-lantern-etched": _etched_cost(levels),
        "storm-lantern-inlaid": _inlaid_cost(levels),
        "storm-lantern-fused": _fused_cost(levels),
    }


def _etched_cost(levels: Levels) -> np.ndarray:
    ask, sale = asks_and_sales(levels)
    marked = np.minimum(40 * etch_try_cost(levels), ask["marked lantern frame"])
    seal = 2 * ask["clear flux"] + 0.76 * ask["lens setting"]
    warm = 4 * ask["amber wax"]
    empty = 2 * marked
    for _ in range(400):
        sealing = empty - marked
        dull = np.minimum(
            empty - sale["dull storm lantern"],
            warm + 0.35 * sealing + 0.65 * (empty - 3 * sale["scrap glass"]),
        )
        empty = marked + seal + 0.14 * dull + 0.10 * (empty - 2 * sale["scrap glass"])
    return np.asarray(empty)


def _inlaid_cost(levels: Levels) -> np.ndarray:
    ask, sale = asks_and_sales(levels)
    marked = np.minimum(stamped_frame_cost(levels), ask["marked lantern frame"])
    inlay = 3 * ask["frostglass"] + 2 * ask["amber wax"] + 0.04 * levels["crown"] * 1.012
    empty, bench = 2 * marked, marked
    for _ in range(400):
        cracked = 3 * ask["grey salt"] + 0.9 * bench + 0.1 * empty
        bench = inlay + 0.44 * cracked + 0.06 * (empty - 4 * sale["scrap glass"])
        empty = marked + bench
    return np.asarray(empty)


def _fused_cost(levels: Levels) -> np.ndarray:
    ask, sale = asks_and_sales(levels)
    fuse = 2 * ask["smoked glass"] + 0.05 * ask["crown"]
    blind_odds, kept_odds = 1 / 16, 0.30
    empty, bench = 20 * fuse, 20 * fuse
    for _ in range(2000):
        blind = (ask["lens setting"] + 0.1 * empty) / (1 - 0.2)
        lost = (1 - blind_odds - kept_odds) * (empty - sale["scrap glass"])
        bench = fuse + blind_odds * blind + kept_odds * bench + lost
        empty = ask["harbour lantern"] + bench
    return np.asarray(empty)
