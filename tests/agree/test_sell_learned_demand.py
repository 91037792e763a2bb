"""Demand learned from own listings and sales: a worked example, and sellers of known demand."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.decide.sell.own_demand import Stood, count_gaps, count_sales, learn_demand


@pytest.mark.parametrize(
    ("events", "exposure", "mean"), [(3, 2.0, 6 / 7), (30, 20.0, 33 / 25)], ids=["one", "ten years"]
)
def test_worked_example_of_a_rate_with_exposure(events, exposure, mean):
    """Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6, asthma deaths: prior
    Gamma(3, 5), 3 deaths in 2.0 (100,000 person-years) give mean 0.86, 30 in 20 give 1.32
    (from memory). Our guess of 3 / 5 counts as 3."""
    known = learn_demand(3 / 5, 3, sold=events, days=exposure)
    assert known.a_day == pytest.approx(mean)
    assert known.a_day == pytest.approx({3: 0.86, 30: 1.32}[events], abs=0.005)


def test_time_on_offer_by_hand():
    """Three stand from day 0 and are sold out on day 2; one dear one (half the buyers) from
    day 4 to day 6, when it is listed at the level and stands until day 9; a sale on day 3
    is of something else."""
    stood = [Stood(0, 3, 1.0), Stood(4, 1, 0.5), Stood(6, 1, 1.0)]
    sales = [(1, 2), (2, 1), (3, 1)]
    assert count_sales(stood, sales, until=9) == pytest.approx((3, 2 + 0.5 * 2 + 3))
    # not seen again: a week at most
    assert count_sales([Stood(0, None, 1.0)], [(8, 1)], until=30) == (0, 7)
    # two buyers wanted it, one had it
    assert count_sales([Stood(0, 1, 1.0)], [(1, 2)], until=5) == (1, 1)


def test_gaps_by_hand():
    """The first sale starts the clock: 3 units in 1 + half of 2 days."""
    assert count_gaps([(0, 5, 1.0), (1, 1, 1.0), (3, 2, 0.5)]) == pytest.approx((3, 2))
    assert count_gaps([(0, 5, 1.0)]) == (0, 0)


def play_seller(rng, a_day, days):
    """Lists two at a time for up to five days at a random ask, and waits a day in between."""
    stood, sales, day = [], [], 0.0
    while day < days:
        share, left, end = rng.uniform(0.3, 1.4), 2, min(day + 5.0, days)
        stood.append(Stood(day, 2.0, share))
        at = day + rng.exponential(1 / (a_day * share))
        while left and at <= end:
            sales.append((at, 1.0))
            left -= 1
            at += rng.exponential(1 / (a_day * share))
        gone = sales[-1][0] if not left else end
        stood.append(Stood(gone + 1e-9, 0.0, 0.0))  # taken down
        day = gone + 1.0
    return stood, sales


def test_sellers_of_known_demand():
    """400 sellers whose demand is drawn from what is assumed (1.5 a day, counting as 3 sales),
    thirty days each: the 95 % interval holds it as often as it says (four standard errors:
    0.044), and on average nothing is off (four standard errors of the mean gap)."""
    rng, inside, gaps = np.random.default_rng(21), 0, []
    for _ in range(400):
        a_day = rng.gamma(3.0, 1.5 / 3.0)
        stood, sales = play_seller(rng, a_day, 30.0)
        sold, days = count_sales(stood, sales, until=30.0)
        known = learn_demand(1.5, 3.0, sold=sold, days=days)
        inside += known.low_95 <= a_day <= known.high_95
        gaps.append(known.a_day - a_day)
    assert inside / 400 == pytest.approx(0.95, abs=0.044)
    assert np.mean(gaps) == pytest.approx(0.0, abs=4 * np.std(gaps) / 20)


def test_logged_sales_alone_find_a_known_demand():
    """A seller who always has some: 2.5 a day for 60 days; the guess of 1 counts as one sale.
    Within four standard errors, 4 * sqrt(2.5 / 60)."""
    rng = np.random.default_rng(4)
    at = np.cumsum(rng.exponential(1 / 2.5, 400))
    sales = [(float(day), 1.0, 1.0) for day in at[at < 60]]
    sold, days = count_gaps(sales)
    known = learn_demand(1.0, 1.0, sold=sold, days=days)
    assert known.a_day == pytest.approx(2.5, abs=4 * np.sqrt(2.5 / 60))
