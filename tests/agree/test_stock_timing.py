"""What following the plan really costs on price paths of a known law, against simple habits."""

from __future__ import annotations

import math
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow, usual_day
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder, Rung

DAYS, PATHS = 8, 4000
LADDER = Ladder((Rung(2.3, 5, 0), Rung(2.6, 8, 1)), 0, 2.4, 8, 0.06)
LEFTOVER = 0.85


class Walk:
    start_log, start_sd, quote_sd = math.log(2.4), 0.05, 0.08
    drift, day_sd = np.full(DAYS, -0.004), np.full(DAYS, 0.03)


def leftovers_bring(units, usual_qty, depth):
    """Units sold at a price of 1 that falls by `depth` (log) with each usual quantity."""
    return usual_qty / depth * (1 - np.exp(-depth / usual_qty * np.asarray(units, dtype=float)))


def level_grid_optimum(walk, question, *, cells=81, nodes=15):
    """Least mean cost from day 1 on by stock, on a grid of expected levels.

    Keeps the level as a state of its own, takes every mean by Gauss-Hermite
    quadrature, and knows nothing of the scaling that our plan rests on.
    """
    days = question.days
    points, weights = np.polynomial.hermite_e.hermegauss(nodes)
    weights = weights / weights.sum()
    variances, gains, sds, var = [], [], [], walk.start_sd**2
    for day in range(days):
        var += walk.day_sd[day] ** 2
        seen = var + walk.quote_sd**2
        variances.append(var)
        gains.append(var / seen)
        sds.append(math.sqrt(seen))
        var *= 1 - gains[-1]
    spread = 5 * math.sqrt(sum(s**2 for s in sds)) + 1e-6
    levels = walk.start_log + np.sum(walk.drift[:days]) / 2 + np.linspace(-spread, spread, cells)
    need, lad = question.need, question.offers.ladder
    stocks = np.arange(need.most + 2)
    cost = usual_day(stocks, usual_qty=lad.usual_qty, depth=lad.depth)
    short, left = np.zeros(len(stocks)), np.zeros(len(stocks))
    brought = leftovers_bring(stocks, lad.usual_qty, lad.depth)
    for x in stocks:
        n = np.arange(len(need.pmf))
        short[x] = need.pmf @ cost[np.maximum(n - x, 0)]
        left[x] = need.pmf @ brought[np.maximum(x - n, 0)]
    price_now = np.exp(levels)[:, None]
    mean_look = math.exp(sds[-1] ** 2 / 2)
    bring = question.leftover * math.exp(variances[-1] / 2)
    value = price_now * (mean_look * short - bring * left)
    for day in range(days - 2, -1, -1):
        before = np.zeros_like(value)
        for point, weight in zip(points, weights, strict=True):
            surprise = sds[day] * point
            moved = levels + gains[day] * surprise + walk.drift[day + 1]
            # value over its level is smooth in the level: interpolate that
            later = (
                np.stack(
                    [np.interp(moved, levels, value[:, x] * np.exp(-levels)) for x in stocks],
                    axis=1,
                )
                * np.exp(moved)[:, None]
            )
            price = np.exp(levels + surprise)
            for x in stocks:
                totals = price[:, None] * cost[: len(stocks) - x] + later[:, x:]
                before[:, x] += weight * totals.min(axis=1)
        value = before
    start = walk.start_log + walk.drift[0]
    return np.array(
        [np.interp(start, levels, value[:, x] * np.exp(-levels)) * math.exp(start) for x in stocks]
    )


@cache
def market():
    """Levels, looks and needs of many evenings, from a fixed seed."""
    random = np.random.default_rng(20)
    start = Walk.start_log + Walk.start_sd * random.standard_normal((PATHS, 1))
    steps = Walk.drift + Walk.day_sd * random.standard_normal((PATHS, DAYS))
    level = start + np.cumsum(steps, axis=1)
    look = np.exp(level + Walk.quote_sd * random.standard_normal((PATHS, DAYS)))
    need = random.negative_binomial(4, 4 / (4 + 24), PATHS)
    return np.exp(level), look, need


@cache
def advice():
    units = np.arange(800)
    need = NeedLaw.of_values(units, stats.nbinom.pmf(units, 4, 4 / (4 + 24)))
    return weigh_supply(
        SupplyQuestion("frame", need, OffersNow(LADDER), Walk(), days=DAYS, leftover=LEFTOVER)
    )


def price_of(units):
    return usual_day(np.asarray(units, dtype=float), usual_qty=8, depth=0.06)


def settle(stock):
    """The last day: what is missing is bought, what is left is sold."""
    level, look, need = market()
    missing = np.maximum(need - stock, 0)
    left = leftovers_bring(np.maximum(stock - need, 0), 8, 0.06)
    return look[:, -1] * price_of(missing) - LEFTOVER * level[:, -1] * left


def buy_once(qty):
    return (LADDER.cost_of(qty) if qty else 0.0) + settle(np.full(PATHS, qty)).mean()


@cache
def follow_the_plan():
    """The filter run by hand on each path, the plan asked each day."""
    later, look = advice().later, market()[1]
    stock = np.full(PATHS, advice().buy_now)
    paid = np.full(PATHS, LADDER.cost_of(advice().buy_now))
    expected, var = np.full(PATHS, Walk.start_log), Walk.start_sd**2
    for day in range(DAYS - 1):
        expected, var = expected + Walk.drift[day], var + Walk.day_sd[day] ** 2
        surprise = np.log(look[:, day]) - expected
        for path in range(PATHS):
            pack = round(stock[path] / later.pack)
            bought = later.pack * later.plan.units_to_buy(
                day, min(pack, len(later.plan.before[0]) - 1), price=math.exp(surprise[path])
            )
            paid[path] += look[path, day] * float(price_of(bought))
            stock[path] += bought
        gain = var / (var + Walk.quote_sd**2)
        expected, var = expected + gain * surprise, var * (1 - gain)
    return paid + settle(stock)


def buy_daily():
    look = market()[1]
    share = advice().question.need.mean / DAYS
    paid = LADDER.cost_of(share) + look[:, : DAYS - 1].sum(axis=1) * float(price_of(share))
    return (paid + settle(np.full(PATHS, share * DAYS))).mean()


def wait_for_the_lowest_seen():
    """Looks for the first third, then buys the mean need at the first price below all those."""
    look, mean = market()[1], round(advice().question.need.mean)
    third = DAYS // 3
    low = look[:, :third].min(axis=1)
    paid, stock = np.zeros(PATHS), np.zeros(PATHS)
    for day in range(third, DAYS - 1):
        taken = (stock == 0) & (look[:, day] <= low)
        paid += np.where(taken, look[:, day] * float(price_of(mean)), 0.0)
        stock = np.where(taken, mean, stock)
    return (paid + settle(stock)).mean()


def test_the_plan_costs_what_it_says():
    realised = follow_the_plan()
    error = realised.std() / math.sqrt(PATHS)
    assert realised.mean() == pytest.approx(advice().expected_cost, abs=3.5 * error)
    assert error < 0.01 * realised.mean()


def test_the_mean_is_within_a_hundredth_of_the_optimum():
    """The optimum by an independent recursion on a grid of levels; luck of needs taken out."""
    question = advice().question
    optimum = (
        LADDER.cost_of(advice().buy_now) + level_grid_optimum(Walk(), question)[advice().buy_now]
    )
    realised = follow_the_plan()
    # buying nothing until the end has a closed form: its luck in the sample is taken off
    log_var = Walk.start_sd**2 + float(np.sum(Walk.day_sd**2)) + Walk.quote_sd**2
    price = math.exp(Walk.start_log + float(np.sum(Walk.drift)) + log_var / 2)
    need = question.need
    waiting = price * float(need.pmf @ price_of(np.arange(len(need.pmf))))
    assert advice().later.cost_of_waiting(0) == pytest.approx(waiting, rel=1e-3)
    luck = buy_once(0) - waiting
    assert realised.mean() - luck == pytest.approx(optimum, rel=0.01)


@pytest.mark.parametrize(
    "habit",
    [
        lambda: buy_once(advice().question.need.quantile(0.95)),
        lambda: buy_once(round(advice().question.need.mean)),
        buy_daily,
        wait_for_the_lowest_seen,
        lambda: buy_once(0),
    ],
    ids=["all now", "the mean now", "daily", "lowest seen", "nothing until the end"],
)
def test_the_plan_beats_simple_habits(habit):
    assert follow_the_plan().mean() < habit()


@pytest.mark.parametrize(
    ("drift", "start_sd", "quote_sd"), [(0.0, 0.05, 0.08), (-0.03, 0.0, 0.05), (0.02, 0.1, 0.0)]
)
def test_moving_level_seen_through_noise(drift, start_sd, quote_sd):
    walk = SimpleNamespace(
        start_log=math.log(2.0),
        start_sd=start_sd,
        drift=np.full(6, drift),
        day_sd=np.full(6, 0.04),
        quote_sd=quote_sd,
    )
    need = NeedLaw.of_values(np.arange(60), stats.nbinom.pmf(np.arange(60), 4, 4 / (4 + 8)))
    ladder = Ladder((Rung(1.9, 5, 0), Rung(2.2, 10, 1)), 0, 2.0, 5, 0.1)
    question = SupplyQuestion("frame", need, OffersNow(ladder), walk, days=6, leftover=0.7)
    advice = weigh_supply(question)
    optimum = level_grid_optimum(walk, question)
    now = np.array([ladder.cost_of(int(q)) if q else 0.0 for q in advice.quantities])
    totals = now + optimum[advice.quantities]
    assert advice.totals == pytest.approx(totals, rel=3e-3)
    assert totals[advice.place] <= totals.min() * (1 + 2e-3)
