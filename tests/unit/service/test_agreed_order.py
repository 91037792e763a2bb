"""One order as agreed: what a try is, when it ends, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.decide.service.agreed_order import MOST_STAGES, agree_order, find_try
from advisor.errors import CannotAnswer
from advisor.routes.pools.redrawing import SEE
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices


def route_of(actions, done):
    model, cost = sketch_route(actions, done=done)
    return model, best_choices(model, cost).actions, cost


TWO_STEPS = (
    [(0, [(0.2, 1, 1.0), (0.8, 0, 1.0)]), (1, [(0.5, 2, 4.0), (0.5, 0, 4.0)])],
    [2],
)


def test_a_try_is_the_chancy_step_taken_most_often():
    """The first step is taken ten times on average, the second twice."""
    model, actions, _ = route_of(*TWO_STEPS)
    assert find_try(model, actions) == "step 0"


def test_nothing_chancy_is_no_try():
    model, actions, _ = route_of([(0, [(1.0, 1, 3.0)])], [1])
    assert find_try(model, actions) is None


def test_what_follows_the_last_try_still_happens():
    """One try allowed: it must work (1 in 5), then the second step (1 in 2): 1 in 10."""
    model, actions, cost = route_of(*TWO_STEPS)
    order = agree_order(model, actions, cost=cost, try_step="step 0", tries=1)
    assert order.chance_done == pytest.approx(0.1)
    assert order.mean(order.failed) == pytest.approx(0.9)
    assert order.mean(order.cost) == pytest.approx(1 + 0.2 * 4)
    assert order.mean(order.model.minutes) == pytest.approx(1.2)


def test_more_tries_come_nearer_to_no_end():
    model, actions, cost = route_of(*TWO_STEPS)
    free = agree_order(model, actions, cost=cost, try_step="step 0")
    chances = [
        agree_order(model, actions, cost=cost, try_step="step 0", tries=tries).chance_done
        for tries in (1, 5, 20, 200)
    ]
    assert chances == sorted(chances)
    # ten times the chance of 1 in 10 in each try, whatever came before
    assert chances == pytest.approx([1 - 0.9**tries for tries in (1, 5, 20, 200)], rel=1e-9)
    assert free.chance_done == pytest.approx(1.0)
    assert free.mean(free.cost) == pytest.approx(18.0)  # ten at 1, two at 4


def test_too_many_tries_to_tell_apart_are_refused():
    model, actions, cost = route_of(*TWO_STEPS)
    with pytest.raises(CannotAnswer, match="too many to tell apart"):
        agree_order(model, actions, cost=cost, try_step="step 0", tries=MOST_STAGES)


def test_every_outcome_is_counted_once():
    model, actions, cost = route_of(*TWO_STEPS)
    order = agree_order(model, actions, cost=cost, try_step="step 0", tries=3)
    ends = order.succeeded + order.failed + sum(order.lost.values())
    assert np.all(ends <= 1)
    assert np.all((order.model.outcome_stage == -1)[ends > 0])


def test_a_draw_onto_a_piece_is_the_try_not_what_comes_of_it():
    """A pool's route has a stage between the draw and what comes of it."""
    model, cost = sketch_route(
        [(0, [(1.0, 1, 2.0)]), (1, [(0.25, 2, 0.0), (0.75, 0, 0.0)])], done=[2]
    )
    model = replace(model, steps=["wash and draw", SEE])
    actions = best_choices(model, cost).actions
    assert find_try(model, actions) == "wash and draw"
    order = agree_order(model, actions, cost=cost, try_step="wash and draw", tries=2)
    assert order.chance_done == pytest.approx(1 - 0.75**2)
    assert order.mean(order.tried) == pytest.approx(1.75)
