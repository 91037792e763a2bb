"""One purchase before a random need, against textbook examples.

A unit costs c today; one that is missing costs c + p later, one that is left over
brings c - h: then the mean cost less c times the mean need is the newsvendor's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.levels.ladders import Ladder, Rung
from advisor.levels.series import Floats


@dataclass(frozen=True)
class Still:
    """A price that does not move."""

    start_log: float
    start_sd: float = 0.0
    drift: Floats = None
    day_sd: Floats = None
    quote_sd: float = 0.0


def still(price):
    return Still(float(np.log(price)), drift=np.zeros(3), day_sd=np.zeros(3))


def newsvendor(need, *, overage, underage, unit_cost):
    later, salvage = unit_cost + underage, unit_cost - overage
    offers = OffersNow(Ladder((Rung(unit_cost, 1e9, -1),), 0, later, 1e9, 0.0))
    return weigh_supply(
        SupplyQuestion("paper", need, offers, still(later), leftover=salvage / later)
    )


def mismatch_cost(advice, qty, unit_cost):
    return advice.at(qty).expected_cost - unit_cost * advice.question.need.mean


def poisson_need(mean):
    units = np.arange(int(mean + 14 * np.sqrt(mean) + 20))
    return NeedLaw.of_values(units, stats.poisson.pmf(units, mean))


def normal_need(mean, sd, cell):
    """Normal need in cells of a unit, each with the chance of its stretch."""
    cells = np.arange(int((mean + 8 * sd) / cell))
    edges = (np.append(cells, cells[-1] + 1) - 0.5) * cell
    edges[0] = -np.inf
    return NeedLaw.of_values(cells, np.diff(stats.norm.cdf(edges, mean, sd)) + 1e-300)


def test_normal_need():
    # Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019),
    # Examples 4.1 to 4.3: h 0.18, p 0.7, mean 50, sd 8; price 1, cost 0.3, salvage 0.12
    cell = 0.05
    advice = newsvendor(
        normal_need(50, 8, cell),
        overage=0.18 * cell,
        underage=0.7 * cell,
        unit_cost=0.3 * cell,
    )
    assert advice.buy_now * cell == pytest.approx(56.60395592743389, abs=cell)
    least = mismatch_cost(advice, advice.buy_now, 0.3 * cell)
    assert least == pytest.approx(1.9976051931766445, abs=1e-4)
    at_53 = mismatch_cost(advice, round(53 / cell), 0.3 * cell)
    assert at_53 == pytest.approx(2.223748044859164, abs=1e-4)
    profit = (1 - 0.3) * 50 - least
    assert profit == pytest.approx(33.002394806823354, abs=1e-4)


@pytest.mark.parametrize(
    ("overage", "underage", "mean", "best", "cost"),
    [
        # Snyder & Shen, 2nd ed., Example 4.1 with Poisson demand
        (0.18, 0.7, 50, 56, 1.797235211809178),
        # ibid., Example 4.7
        (1, 4, 6, 8, 3.5701069457709416),
        # ibid., Problem 4.8(a)
        (200, 270, 18, 19, 786.0884409351079),
    ],
)
def test_poisson_need(overage, underage, mean, best, cost):
    advice = newsvendor(
        poisson_need(mean), overage=overage, underage=underage, unit_cost=2 * overage
    )
    assert advice.buy_now == best
    # needs rarer than one in a thousand million are left out of sight
    assert mismatch_cost(advice, best, 2 * overage) == pytest.approx(cost, rel=1e-6)


def test_empirical_need():
    # Snyder & Shen, 2nd ed., Problem 4.7(b)
    need = NeedLaw.of_values(range(1, 9), [0.25, 0.05, 0.1, 0.2, 0.15, 0.1, 0.1, 0.05])
    advice = newsvendor(need, overage=500000, underage=1000000, unit_cost=600000)
    assert advice.buy_now == 5
    assert mismatch_cost(advice, 5, 600000) == pytest.approx(1225000)


def test_newsstand():
    # Nahmias, Production and Operations Analysis, ch. 5, Mac's newsstand (from memory):
    # mean 11.73, sd 4.74, overage 0.15, underage 0.50; 15.24 with the table's z of 0.74
    advice = newsvendor(
        normal_need(11.73, 4.74, 0.01), overage=0.0015, underage=0.005, unit_cost=0.0025
    )
    assert advice.buy_now * 0.01 == pytest.approx(15.24, abs=0.03)
    assert 1 - advice.chance_short == pytest.approx(0.77, abs=0.006)


def test_wetsuit():
    # Cachon & Terwiesch, Matching Supply with Demand, newsvendor chapter, Hammer 3/2
    # (from memory): mean 3192, sd 1181, 80 against 20; 4184 with the table's z of 0.84
    advice = newsvendor(normal_need(3192, 1181, 1.0), overage=20, underage=80, unit_cost=110)
    assert advice.buy_now == pytest.approx(4184, abs=3)
    assert 1 - advice.chance_short == pytest.approx(0.8, abs=0.001)


def test_tries_until_one_works():
    # success-run theorem: Wilks, Ann. Math. Statist. 12 (1941) 91-96 (from memory)
    for confidence, odds, tries in [
        (0.95, 0.05, 59),
        (0.95, 0.1, 29),
        (0.9, 0.1, 22),
        (0.99, 0.01, 459),
        (0.9, 0.01, 230),
    ]:
        need = NeedLaw.of_values(np.arange(1, 4000), stats.geom.pmf(np.arange(1, 4000), odds))
        assert need.quantile(confidence) == tries


def test_matches_left_in_the_other_box():
    # Feller, An Introduction to Probability Theory, vol. 1, 3rd ed., VI.8 and table 8,
    # IX.3(f) (from memory): N = 50, left 0 to 3 with these chances, 7.04 on average.
    # Draws from the other box before this one's 51st follow NB(51, 1/2); either box.
    need = NeedLaw.of_values(np.arange(400), stats.nbinom.pmf(np.arange(400), 51, 0.5))
    left = 2 * need.pmf[[50, 49, 48, 47]]
    assert left == pytest.approx([0.079589, 0.079589, 0.078785, 0.077177], abs=1e-6)
    stock, nothing = np.array([50]), np.zeros(500)
    mean_left = 2 * float(need.mean_over(stock, short=nothing, left=np.arange(500.0))[0])
    assert mean_left == pytest.approx(7.04, abs=0.006)
