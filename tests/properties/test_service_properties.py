"""What must hold for any service: more caution asks more, more orders ask less, money scales."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.decide.service.agreed_order import agree_order, find_try
from advisor.decide.service.customers import OwnOffer, learn_customers
from advisor.decide.service.premiums import find_premium
from advisor.decide.service.service_terms import find_floor, make_offer, weigh_terms
from advisor.decide.service.winning import GoingRate
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices

ODDS = st.floats(0.05, 0.9)
COSTS = st.floats(0.5, 50.0)
KINDS = st.sampled_from(["fixed", "per try", "on success"])


def offer_of(kind, odds, cost, *, kept=0.95):
    """A preparation that costs half, then tries; a failed try starts over in half the cases."""
    model, costs = sketch_route(
        [
            (0, [(1.0, 1, cost / 2)]),
            (1, [(odds, 2, cost), ((1 - odds) / 2, 0, cost), ((1 - odds) / 2, 1, cost)]),
        ],
        done=[2],
    )
    actions = best_choices(model, costs).actions
    tries = 8 if kind == "on success" else None
    order = agree_order(model, actions, cost=costs, try_step=find_try(model, actions), tries=tries)
    return make_offer(kind, order, kept=kept, deposit=cost / 4)


def floor_of(offer, orders, caution, principle="worst"):
    one = offer.order.law(offer.order.cost)
    return find_floor(offer, orders, find_premium(principle, caution, one))


@settings(max_examples=8, deadline=None)
@given(kind=KINDS, odds=ODDS, cost=COSTS, caution=st.floats(0.05, 0.5))
def test_more_caution_asks_more_and_more_orders_less(kind, odds, cost, caution):
    offer = offer_of(kind, odds, cost)
    plain, loaded = floor_of(offer, 1, 0.0), floor_of(offer, 1, caution)
    many = floor_of(offer, 9, caution)
    slack = 1e-4 * cost / odds
    if loaded is not None:
        assert loaded >= plain - slack
        assert many is not None
        assert plain - slack <= many <= loaded + slack


@settings(max_examples=5, deadline=None)
@given(kind=KINDS, odds=ODDS, cost=COSTS, times=st.floats(0.01, 300.0))
def test_prices_scale_with_the_money(kind, odds, cost, times):
    """In a money worth a hundredth every price is a hundred times as high, chances are the same."""
    here, there = offer_of(kind, odds, cost), offer_of(kind, odds, cost * times)
    rate = 4 * cost / odds
    answers = []
    for offer, scale in ((here, 1.0), (there, times)):
        premium = find_premium("worst", 0.2, offer.order.law(offer.order.cost))
        going = GoingRate(rate * scale, 0.0, 0.1)
        answers += weigh_terms([offer], orders=2, premium=premium, going=going, hour_value=0.0)
    first, second = answers
    assert (first.floor is None) == (second.floor is None)
    if first.floor is not None:
        assert second.price == pytest.approx(times * first.price, rel=1e-3)
        assert second.win_chance == pytest.approx(first.win_chance, abs=2e-3)


@settings(max_examples=12, deadline=None)
@given(kind=KINDS, odds=ODDS, cost=COSTS, rate=st.floats(1.0, 500.0))
def test_the_price_is_never_under_the_floor(kind, odds, cost, rate):
    offer = offer_of(kind, odds, cost)
    premium = find_premium("worst", 0.1, offer.order.law(offer.order.cost))
    (term,) = weigh_terms(
        [offer], orders=1, premium=premium, going=GoingRate(rate, 0.0, 0.1), hour_value=0.0
    )
    if term.floor is not None:
        assert term.price >= term.floor * (1 - 1e-6)
        assert 0 <= term.win_chance <= 1
        assert 0 <= term.loss_chance <= 1


OFFERS = st.lists(
    st.builds(OwnOffer, st.floats(-0.6, 0.6, allow_nan=False), st.booleans()), max_size=12
)


@settings(max_examples=40, deadline=None)
@given(offers=OFFERS, order=st.randoms())
def test_what_customers_accept(offers, order):
    """A dearer price is never likelier to be taken, whatever was logged, in any order of it."""
    prices = np.linspace(-0.8, 0.8, 33)
    known = learn_customers(offers, ask_log_sd=0.08, level_log_sd=0.03)
    chances = known.accept(prices)
    assert np.all(np.diff(chances) <= 1e-12)
    assert np.all((chances >= 0) & (chances <= 1))
    mixed = list(offers)
    order.shuffle(mixed)
    again = learn_customers(mixed, ask_log_sd=0.08, level_log_sd=0.03)
    assert again.accept(prices) == pytest.approx(chances, abs=1e-9)
