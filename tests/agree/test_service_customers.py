"""What own offers tell of the customers: against quadrature, and known customers played."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize

from advisor.decide.service.customers import LOGISTIC_SD, SCALE_LOG_SD, OwnOffer, learn_customers
from advisor.decide.service.winning import GoingRate, price_to_ask

ASK_SD, LEVEL_SD = 0.08, 0.03
OFFERS = [OwnOffer(0.05, False), OwnOffer(-0.04, True), OwnOffer(0.10, True), OwnOffer(0.02, False)]


def density(middle, log_scale, offers):
    """Prior times likelihood, written out."""
    scale = math.exp(log_scale)
    prior = math.exp(-0.5 * (middle / math.hypot(ASK_SD, LEVEL_SD)) ** 2)
    prior *= math.exp(-0.5 * ((log_scale - math.log(ASK_SD / LOGISTIC_SD)) / SCALE_LOG_SD) ** 2)
    for each in offers:
        chance = 1 / (1 + math.exp((each.log_above - middle) / scale))
        prior *= chance if each.taken else 1 - chance
    return prior


def over_all(what, offers):
    start = math.log(ASK_SD / LOGISTIC_SD)
    return integrate.dblquad(
        lambda middle, log_scale: what(middle, log_scale) * density(middle, log_scale, offers),
        start - 3.2,
        start + 3.2,
        -0.4,
        0.4,
        epsabs=1e-9,
    )[0]


@pytest.mark.parametrize("offers", [[], OFFERS], ids=["none", "four"])
def test_posterior_against_quadrature(offers):
    """Adaptive double integrals of prior times likelihood (scipy's dblquad)."""
    known = learn_customers(offers, ask_log_sd=ASK_SD, level_log_sd=LEVEL_SD)
    whole = over_all(lambda middle, log_scale: 1.0, offers)
    middle = over_all(lambda middle, log_scale: middle, offers) / whole
    chance = over_all(lambda m, s: 1 / (1 + math.exp((0.06 - m) / math.exp(s))), offers) / whole
    assert known.mean_middle == pytest.approx(middle, abs=2e-4)
    assert known.accept(np.array([0.06]))[0] == pytest.approx(chance, abs=5e-4)


def test_before_any_offer_half_accept_the_going_rate():
    """By symmetry of the prior about the going rate."""
    known = learn_customers([], ask_log_sd=ASK_SD, level_log_sd=LEVEL_SD)
    chances = known.accept(np.array([-0.1, 0.0, 0.1]))
    assert chances[1] == pytest.approx(0.5)
    assert chances[0] + chances[2] == pytest.approx(1.0)


def play(rng, count, *, middle, scale, asked):
    """Offers to customers whose most is logistic in the log of the price."""
    most = middle + scale * rng.logistic(size=count)
    return [
        OwnOffer(float(x), bool(x <= m))
        for x, m in zip(rng.normal(*asked, count), most, strict=True)
    ]


@pytest.mark.parametrize("middle", [-0.12, 0.0, 0.12])
def test_prices_of_known_customers_are_found(middle):
    """Twenty sellers who each made 300 offers about the going rate of 100, floor 70. What
    the advised price is worth under the true law comes to within 1 % of the best there is,
    on average; before any offer it loses more wherever the going rate is not the middle."""
    rng, scale, floor = np.random.default_rng(3), 0.04, 70.0

    def gain(price):
        return (price - floor) / (1 + math.exp((math.log(price / 100) - middle) / scale))

    best = -optimize.minimize_scalar(lambda p: -gain(p), bounds=(71, 140), method="bounded").fun
    fresh = learn_customers([], ask_log_sd=ASK_SD, level_log_sd=LEVEL_SD)
    at_first = gain(price_to_ask(floor, GoingRate(100.0, 3.0, ASK_SD, fresh))) / best
    shares = []
    for _ in range(20):
        offers = play(rng, 300, middle=middle, scale=scale, asked=(0.0, 0.12))
        known = learn_customers(offers, ask_log_sd=ASK_SD, level_log_sd=LEVEL_SD)
        shares.append(gain(price_to_ask(floor, GoingRate(100.0, 3.0, ASK_SD, known))) / best)
    assert np.mean(shares) > 0.99
    assert middle == 0.0 or np.mean(shares) > at_first


def test_middle_is_inside_its_interval_as_often_as_said():
    """Customers drawn from the prior itself, 12 offers each: 95 % intervals hold the truth in
    95 % of 300 cases, within four standard errors (0.05)."""
    rng, inside = np.random.default_rng(8), 0
    for _ in range(300):
        middle = rng.normal(0, math.hypot(ASK_SD, LEVEL_SD))
        scale = ASK_SD / LOGISTIC_SD * math.exp(SCALE_LOG_SD * rng.normal())
        offers = play(rng, 12, middle=middle, scale=scale, asked=(0.0, 0.1))
        known = learn_customers(offers, ask_log_sd=ASK_SD, level_log_sd=LEVEL_SD)
        inside += known.share_of_middles(0.025) <= middle <= known.share_of_middles(0.975)
    assert inside / 300 == pytest.approx(0.95, abs=0.05)
