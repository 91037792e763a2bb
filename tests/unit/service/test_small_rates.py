"""Prices stay sane where hardly anything of the going rate is left for the work."""

from __future__ import annotations

import math

import pytest

from advisor.decide.service.customers import learn_customers
from advisor.decide.service.winning import GoingRate, price_to_ask
from advisor.tasks.service_work import less_supplies

WHOLE = GoingRate(level=17.0, sd=0.5, log_sd=0.1)


@pytest.mark.parametrize("supplies", [1.0, 10.0, 16.0, 16.9, 16.99, 16.999999])
@pytest.mark.parametrize("learns", [False, True])
@pytest.mark.parametrize("floor", [0.0, 0.95])
def test_no_ask_beyond_the_dearest_offer_of_the_whole_less_the_supplies(supplies, learns, floor):
    """Three standard deviations above 17 are 17 x exp(0.3) = 22.95 with the supplies."""
    rate = less_supplies(WHOLE, supplies)
    if learns:
        known = learn_customers([], ask_log_sd=rate.log_sd, level_log_sd=rate.log_sd)
        rate = GoingRate(rate.level, rate.sd, rate.log_sd, known, rate.most)
    most = 17 * math.exp(0.3) - supplies
    asked = price_to_ask(floor * most, rate)
    assert floor * most < asked <= most * (1 + 1e-9)
    assert asked <= 3 * max(rate.level, floor * most)


def test_nothing_is_left_where_the_supplies_cost_as_much():
    assert less_supplies(WHOLE, 17.0) is None
