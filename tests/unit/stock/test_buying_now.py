"""What quantities cost today: the ladder, price lists, both together."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from advisor.decide.stock.buying_now import (
    OffersNow,
    refuse_holes,
    sold_off,
    usual_day,
    walk_ladder,
)
from advisor.decide.stock.price_tiers import make_tiers
from advisor.errors import BadInput
from advisor.levels.ladders import Ladder, Rung

LADDER = Ladder((Rung(2.0, 10, 3), Rung(2.5, 20, 4), Rung(3.0, 5, -1)), 0, 2.6, 20, 0.1)


def test_walking_many_quantities_is_walking_each():
    units = np.arange(0.0, 120.0)
    one_by_one = [LADDER.cost_of(each) if each else 0.0 for each in units]
    assert walk_ladder(LADDER, units) == pytest.approx(one_by_one)


def test_without_offers_the_usual_quantity_costs_the_level():
    ladder = Ladder((), None, 2.6, 20, 0.3)
    assert walk_ladder(ladder, np.array([20.0]))[0] == pytest.approx(52.0)
    assert walk_ladder(ladder, np.array([1.0]))[0] < 2.6
    marginal = np.diff(walk_ladder(ladder, np.arange(80.0)))
    assert np.all(np.diff(marginal) > 0)


def test_a_flat_market_costs_the_same_each():
    assert usual_day(np.arange(5), usual_qty=2, depth=0.0) == pytest.approx(np.arange(5.0))


@pytest.mark.parametrize("incremental", [False, True])
def test_offers_and_price_list_together_cost_the_least(incremental):
    tiers = make_tiers([(15, 2.2), (40, 1.9)], incremental=incremental)
    offers = OffersNow(LADDER, tiers)
    units = np.arange(0.0, 90.0)
    listed = []
    for want in units:
        parts = [part for part in np.arange(0.0, want + 1) if part == 0 or part >= 15]
        costs = [
            float(tiers.cost_of(np.array([part]))[0])
            + (LADDER.cost_of(want - part) if want > part else 0.0)
            for part in parts
        ]
        listed.append(min(costs))
    assert offers.cost_of(units) == pytest.approx(listed)


def test_lots_add_up_to_the_cost():
    offers = OffersNow(LADDER, make_tiers([(30, 2.1)]))
    for want in (4.0, 10.0, 25.0, 31.0, 55.0):
        lots = offers.lots_for(want)
        assert sum(lot.qty for lot in lots) == pytest.approx(want)
        paid = sum(lot.qty * lot.unit_price for lot in lots)
        assert paid == pytest.approx(float(offers.cost_of([want])[0]))
    first = OffersNow(LADDER).lots_for(25.0)
    assert [(lot.qty, lot.unit_price, lot.trader) for lot in first] == [(10, 2.0, 3), (15, 2.5, 4)]


def test_price_lists():
    whole = make_tiers([(100, 1.5), (10, 2.0)])
    assert whole.cost_of(np.array([0.0, 9.0, 10.0, 99.0, 100.0])) == pytest.approx(
        [0.0, np.inf, 20.0, 198.0, 150.0]
    )
    beyond = make_tiers([(10, 2.0), (100, 1.5)], incremental=True)
    # units under the least lot are paid as well: 100 * 2 + 20 * 1.5
    assert beyond.cost_of(np.array([120.0]))[0] == pytest.approx(230.0)


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([], "no price tier"),
        ([(10, 0.0)], "a lot and a price above 0"),
        ([(float("nan"), 1.0)], "a lot and a price above 0"),
        ([(10, 1.0), (10, 2.0)], "two prices for a lot of 10"),
    ],
)
def test_price_lists_that_cannot_be_meant(steps, said):
    with pytest.raises(BadInput, match=said):
        make_tiers(steps)


@pytest.mark.parametrize(
    ("rung", "said"),
    [
        (Rung(2.5, float("nan"), 1), "the offer at 2.5 has no quantity"),
        (Rung(2.5, 0.0, 1), "the offer at 2.5 has no quantity"),
        (Rung(float("nan"), 8.0, 1), "an offer of 8 units has no price"),
    ],
)
def test_a_ladder_with_a_hole_is_refused_by_name(rung, said):
    ladder = Ladder((Rung(2.0, 10, 0), rung), 0, 2.2, 10, 0.1)
    with pytest.raises(BadInput) as fault:
        refuse_holes(ladder, "lantern frame")
    assert said in str(fault.value)
    assert "'lantern frame'" in str(fault.value)


def test_bends_are_where_the_price_of_a_unit_changes():
    offers = OffersNow(LADDER, make_tiers([(30, 2.1)]))
    assert sorted(offers.breaks()) == [10, 30, 30, 35]
    units = np.arange(0.0, 200.0)
    slopes = np.diff(OffersNow(LADDER).cost_of(units))
    bends = [k for k, (a, b) in enumerate(itertools.pairwise(slopes[:35]), 1) if abs(a - b) > 1e-9]
    assert bends == [10, 30]


@pytest.mark.parametrize(("usual_qty", "depth"), [(20.0, 0.3), (7.0, 0.0), (1.0, 1.2)])
def test_leftovers_bring_less_the_more_there_are(usual_qty, depth):
    """The falling price summed by quadrature; at least 5 % a usual quantity."""
    from scipy.integrate import quad

    slope = max(depth, 0.05) / usual_qty
    for units in (0.0, 1.0, 13.0, 90.0):
        brought = quad(lambda unit: np.exp(-slope * unit), 0, units)[0]
        found = sold_off(units, usual_qty=usual_qty, depth=depth)
        assert float(found) == pytest.approx(brought)


def test_beyond_a_far_offer_the_level_counts():
    bait = Ladder((Rung(2.0, 10, 3), Rung(90.0, 5, 4)), 0, 2.6, 20, 0.1)
    units = np.arange(1.0, 60.0)
    assert walk_ladder(bait, units) == pytest.approx([bait.cost_of(each) for each in units])
    assert float(np.diff(walk_ladder(bait, np.array([15.0, 16.0])))[0]) < 3
