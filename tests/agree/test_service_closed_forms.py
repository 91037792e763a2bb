"""Service terms against closed forms of repeated trials and against played-out orders."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from advisor.decide.service.agreed_order import agree_order, find_try
from advisor.decide.service.premiums import find_premium
from advisor.decide.service.service_terms import (
    Offer,
    chance_of_loss,
    find_floor,
    make_offer,
    weigh_terms,
)
from advisor.decide.service.winning import GoingRate
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices

ODDS, COST, KEPT = 1 / 12, 3.0, 0.95
TRIES = 19


@pytest.fixture(scope="module")
def repeated():
    """One step that works once in twelve and costs 3 each time."""
    model, cost = sketch_route([(0, [(ODDS, 1, COST), (1 - ODDS, 0, COST)])], done=[1])
    actions = best_choices(model, cost).actions

    def agree(**terms):
        return agree_order(model, actions, cost=cost, try_step=find_try(model, actions), **terms)

    return agree


def mean_premium(order):
    return find_premium("worst", 0.0, order.law(order.cost))


def test_floors_of_the_mean(repeated):
    """Wald: 12 tries at 3 each, so 36 for the piece and 3 for a try. With at most M tries
    success has q = 1 - (11/12)^M and the mean number of tries is q / p, so on success
    36 again; a deposit D takes off D (1 - q) / q. All before the sale fee."""
    open_end, capped = repeated(), repeated(tries=TRIES)
    q = 1 - (1 - ODDS) ** TRIES
    premium = mean_premium(open_end)
    floors = [
        find_floor(make_offer("fixed", open_end, kept=KEPT), 1, premium),
        find_floor(make_offer("per try", open_end, kept=KEPT), 1, premium),
        find_floor(make_offer("on success", capped, kept=KEPT), 1, premium),
        find_floor(make_offer("on success", capped, kept=KEPT, deposit=10), 1, premium),
    ]
    expected = [36 / KEPT, 3 / KEPT, 36 / KEPT, 36 / KEPT - 10 * (1 - q) / q]
    assert floors == pytest.approx(expected, rel=1e-8)
    assert capped.chance_done == pytest.approx(q, rel=1e-12)


@pytest.mark.parametrize("orders", [1, 4, 20])
def test_chance_of_loss_is_the_negative_binomial_tail(repeated, orders):
    """Fixed pay covers so many tries: lost if the tries to the orders' last success are more."""
    price = 47.0
    law = make_offer("fixed", repeated(), kept=KEPT).loss_law(price, orders)
    covered = int(orders * price * KEPT / COST)
    tail = stats.nbinom(orders, ODDS).sf(covered - orders)
    assert chance_of_loss(law) == pytest.approx(tail, abs=1e-6)


def test_chance_of_loss_on_success_by_cases(repeated):
    """One order: lost if it fails, or if the tries cost more than the pay."""
    price = 40.0
    law = make_offer("on success", repeated(tries=TRIES), kept=KEPT).loss_law(price, 1)
    covered = int(price * KEPT / COST)
    lost = 1 - stats.geom(ODDS).cdf(min(covered, TRIES))
    assert chance_of_loss(law) == pytest.approx(lost, abs=1e-6)


@pytest.mark.parametrize("principle", ["worst", "sd", "exponential"])
@pytest.mark.parametrize("kind", ["fixed", "per try", "on success"])
def test_at_the_floor_nothing_is_missing(repeated, kind, principle):
    """At the floor the premium of cost less pay vanishes, and just below it does not. With
    no floor the failures alone are minded more than any price makes up for."""
    order = repeated(tries=TRIES) if kind == "on success" else repeated()
    premium = find_premium(principle, 0.25, order.law(order.cost))
    offer = make_offer(kind, order, kept=KEPT)
    floor = find_floor(offer, 5, premium)

    def missing(price):
        return premium(lambda count: offer.loss_law(price, count), 5)

    if floor is None:
        assert (kind, principle) == ("on success", "exponential")
        assert missing(1e6) > 0.1
        return
    assert missing(floor) == pytest.approx(0.0, abs=2e-3)
    assert missing(0.97 * floor) > 0.1


def play_orders(rng, count, *, price, deposit, tries):
    """Plays orders try by try: buffing out a scratch costs 5 and may take several times."""
    profit = np.zeros(count)
    for order in range(count):
        for number in range(tries):
            profit[order] -= 3.0
            drawn = rng.random()
            if drawn < 0.1:
                profit[order] += KEPT * price
                break
            while drawn < 0.3 and number >= 0:  # scratched: buff until it is out
                profit[order] -= 5.0
                if rng.random() < 0.9:
                    break
        else:
            profit[order] += KEPT * deposit
    return profit


def test_on_success_as_played_out():
    """Ten thousand orders played with random numbers (seed 5), four standard errors."""
    model, cost = sketch_route(
        [
            (0, [(0.1, 2, 3.0), (0.2, 1, 3.0), (0.7, 0, 3.0)]),
            (1, [(0.9, 0, 5.0), (0.1, 1, 5.0)]),
        ],
        done=[2],
    )
    actions = best_choices(model, cost).actions
    assert find_try(model, actions) == "step 0"
    order = agree_order(model, actions, cost=cost, try_step="step 0", tries=12)
    law = make_offer("on success", order, kept=KEPT, deposit=8).loss_law(60.0, 1)
    played = play_orders(np.random.default_rng(5), 10_000, price=60.0, deposit=8, tries=12)
    error = played.std() / 100
    # a scratch at the last try is still buffed out when played; here too
    assert -law.mean == pytest.approx(played.mean(), abs=4 * error)
    share = np.mean(played < 0)
    assert chance_of_loss(law) == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share)) / 100)


def test_piece_lost_on_the_way():
    """A 5 % chance of breaking it at each try, success 25 %: broken in 1 of 6 orders. Paid
    only when made: the floor is (mean tries * cost + lost * 30) / made, by hand
    (2 / 0.3 + 30 / 6) / (5 / 6) = 14."""
    model, cost = sketch_route(
        [(0, [(0.25, 1, 2.0), (0.05, 2, 2.0), (0.7, 0, 2.0)]), (2, [(1.0, 1, 100.0)])], done=[1]
    )
    actions = best_choices(model, cost).actions
    order = agree_order(model, actions, cost=cost, try_step="step 0", losses={"stage 2": 30.0})
    assert order.chances_lost["stage 2"] == pytest.approx(1 / 6)
    assert order.chance_done == pytest.approx(5 / 6)
    floor = find_floor(make_offer("fixed", order, kept=1.0), 1, mean_premium(order))
    assert floor == pytest.approx(14.0, rel=1e-8)


def test_hourly_profit_and_terms_that_no_price_pays_for(repeated):
    """Twelve tries of one minute each at 36: pay 0.95 * price. And with caution 1 the worst
    5 % of orders on success are failures that no price pays for."""
    order, capped = repeated(), repeated(tries=TRIES)
    offers = [make_offer("fixed", order, kept=KEPT), make_offer("on success", capped, kept=KEPT)]
    going = GoingRate(80.0, 1.0, 0.05)
    fixed, _ = weigh_terms(
        offers, orders=1, premium=mean_premium(order), going=going, hour_value=0.0
    )
    assert fixed.profit_per_hour == pytest.approx((KEPT * fixed.price - 36) / 0.2, rel=1e-6)
    strict = find_premium("worst", 1.0, order.law(order.cost))
    _, success = weigh_terms(offers, orders=1, premium=strict, going=going, hour_value=0.0)
    assert success.floor is None
    assert success.price is None


def test_exact_law_and_terms_agree(repeated):
    """Fixed terms by the given law of the cost and by the order's own law are the same."""
    order = repeated()
    law = order.law(order.cost)
    given = make_offer("fixed", order, kept=KEPT, cost_law=law.n_fold)
    own = Offer("fixed", order, order.succeeded, 0 * order.cost, KEPT)
    premium = find_premium("worst", 0.3, law)
    assert find_floor(given, 4, premium) == pytest.approx(find_floor(own, 4, premium), rel=1e-5)
