"""Premium principles against worked examples of actuarial mathematics and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from advisor.decide.service.premiums import (
    NORMAL_WORST,
    exponential_premium,
    find_premium,
    sd_premium,
    worst_premium,
)
from advisor.routes.total_law import CostDistribution


def law_of(values, pmf):
    pmf = pmf / pmf.sum()
    mean = float(values @ pmf)
    sd = math.sqrt(float((values - mean) ** 2 @ pmf))
    return CostDistribution(float(values[0]), float(values[1] - values[0]), pmf, mean, sd)


def on_lattice(law, *, step, low, high):
    values = step * np.arange(round(low / step), round(high / step) + 1)
    return law_of(values, law.cdf(values + step / 2) - law.cdf(values - step / 2))


@pytest.mark.parametrize(("share_covered", "premium"), [(1.0, 44.63), (0.5, 28.62)])
def test_exponential_utility_premium_for_full_and_half_cover(share_covered, premium):
    """Bowers et al., Actuarial Mathematics, 2nd ed. (1997), examples of section 1.3: utility
    -exp(-0.005 w), no loss with chance 0.75, else an exponential loss of mean 100 (from
    memory). Half cover leaves the other half with the owner: the premium G solves
    0.005 G = log M(0.005) - log M(0.0025)."""
    step = 0.25
    values = step * np.arange(round(9000 / step) + 1)
    edges = stats.expon(scale=100)
    pmf = 0.25 * (edges.cdf(values + step / 2) - edges.cdf(np.maximum(values - step / 2, 0.0)))
    pmf[0] += 0.75
    loss = law_of(values, pmf)
    kept = law_of(values * (1 - share_covered), pmf) if share_covered < 1 else None
    asked = exponential_premium(loss, 0.005)
    left = 0.0 if kept is None else exponential_premium(kept, 0.005)
    assert asked - left == pytest.approx(premium, abs=0.006)


def test_exponential_utility_of_two_normal_prospects():
    """Bowers et al., section 1.3: utility -exp(-5 w) of N(5, variance 2) is -1, of
    N(6, variance 2.5) -3.490; the first is preferred (from memory). The premium of the
    cost -w is log(-utility) / 5."""
    for mean, variance, utility in ((5, 2.0, -1.0), (6, 2.5, -3.490342957)):
        values = np.arange(-mean - 15, 20 - mean, 0.002)
        cost = law_of(values, stats.norm(-mean, math.sqrt(variance)).pdf(values))
        assert exponential_premium(cost, 5.0) == pytest.approx(math.log(-utility) / 5, abs=6e-5)


def test_worst_cases_of_a_normal_loss():
    """McNeil, Frey & Embrechts, Quantitative Risk Management (Princeton), chapter 2: one day's
    loss of 10 000 at 20 % a year, expected shortfall 260.9 at 95 % (from memory). For a
    normal cost the standard deviation principle is on the same scale."""
    loss = on_lattice(
        stats.norm(scale=10_000 * 0.2 / math.sqrt(250)), step=0.02, low=-1200, high=1200
    )
    assert worst_premium(loss, 1.0) == pytest.approx(260.9, abs=0.06)
    assert sd_premium(loss, 1.0) == pytest.approx(260.9, abs=0.06)


def test_closed_forms_of_the_worst_five_per_cent():
    """phi(z) / 0.05 for the standard normal; 1 - log 0.05 for the unit exponential
    (Rockafellar & Uryasev 2000; McNeil et al.)."""
    assert pytest.approx(2.0627, abs=6e-5) == NORMAL_WORST
    unit = on_lattice(stats.expon(), step=5e-4, low=0, high=40)
    assert worst_premium(unit, 1.0) == pytest.approx(3.9957, abs=6e-5 + 2.5e-4)


@pytest.mark.parametrize("principle", ["worst", "sd", "exponential"])
def test_loading_of_many_orders(principle):
    """Kaas et al., Modern Actuarial Risk Theory, chapter 5: the exponential principle adds up
    over independent risks; the standard deviation's loading grows with the root of
    their number; a coherent worst-case mean asks no more for many than for each alone."""
    one = on_lattice(stats.gamma(3, scale=10), step=0.1, low=0, high=500)
    premium = find_premium(principle, 0.4, one)
    loading = [premium(one.n_fold, count) - count * one.mean for count in (1, 9)]
    assert loading[0] > 0
    if principle == "exponential":
        assert loading[1] == pytest.approx(9 * loading[0], rel=1e-9)
    elif principle == "sd":
        assert loading[1] == pytest.approx(3 * loading[0], rel=1e-6)
    else:
        assert loading[0] < loading[1] < 9 * loading[0]


def test_one_order_bears_the_same_loading_by_exponential_and_worst_cases():
    """So that `caution` means the same: the risk aversion is chosen by it."""
    one = on_lattice(stats.gamma(2, scale=10), step=0.1, low=0, high=500)
    worst, exponential = (find_premium(each, 0.3, one) for each in ("worst", "exponential"))
    assert exponential(one.n_fold, 1) == pytest.approx(worst(one.n_fold, 1), rel=1e-9)
