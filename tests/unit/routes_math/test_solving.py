"""Best choices: refusals by name, ties, signs, and hard numbers. Expected values by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.errors import CannotAnswer, RouteFault
from advisor.routes.graph import check_route
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import BUY_IN, END, SELL_OUT


def named(model, stages, steps, **kinds):
    kind = model.action_kind.copy()
    for action, value in kinds.items():
        kind[int(action[1:])] = value
    return replace(model, stages=stages, steps=steps, action_kind=kind)


def test_a_start_that_is_done_costs_nothing():
    model, costs = sketch_route([(1, [(1.0, 0, 3.0)])], done=[0])
    found = best_choices(model, costs)
    assert (found.lower, found.upper, found.actions.tolist()) == (0.0, 0.0, [-1, -1])


def test_a_stage_that_cannot_finish_is_named():
    model, costs = sketch_route(
        [(0, [(1.0, 1, 1)]), (1, [(0.5, 2, 1), (0.5, 3, 1)]), (3, [(1.0, 3, 1)])], done=[2]
    )
    model = named(model, ["table", "frame", "lantern", "ash"], ["a", "b", "c"])
    with pytest.raises(RouteFault, match="stage 'ash': the piece cannot be reached"):
        best_choices(model, costs)
    with pytest.raises(RouteFault, match="ash"):
        check_route(model)


def test_a_stage_without_steps_is_named_where_one_can_come_to_it():
    model, costs = sketch_route([(0, [(0.5, 1, 1), (0.5, 2, 1)])], done=[1])
    with pytest.raises(RouteFault, match="stage 'stage 2'"):
        best_choices(model, costs)


def test_a_start_without_steps_is_named():
    model, costs = sketch_route([(1, [(1.0, 2, 1)])], done=[2])
    with pytest.raises(RouteFault, match="stage 'stage 0': no step starts here"):
        best_choices(model, costs)


def test_a_stage_that_is_never_reached_may_be_stuck():
    model, costs = sketch_route([(0, [(1.0, 1, 4)]), (2, [(1.0, 2, 1)])], done=[1])
    found = best_choices(model, costs)
    assert found.cost_to_go[0] == 4
    assert np.isnan(found.cost_to_go[2])
    assert found.actions.tolist() == [0, -1, -1]


def test_a_loop_at_no_cost_is_named_with_its_steps():
    model, costs = sketch_route(
        [(0, [(1.0, 1, 0)]), (1, [(1.0, 0, 0)]), (1, [(1.0, 2, 5)])], done=[2]
    )
    model = named(model, ["table", "frame", "lantern"], ["take", "put back", "seal"])
    with pytest.raises(RouteFault, match="'take', 'put back' at 'table', 'frame' could be rep"):
        best_choices(model, costs)
    check_route(model)  # without costs there is nothing to say about them


def test_a_free_step_that_may_be_tried_until_it_works_is_no_loop():
    model, costs = sketch_route([(0, [(0.1, 1, 0), (0.9, 0, 0)])], done=[1])
    assert best_choices(model, costs).upper == pytest.approx(0.0, abs=1e-12)


def test_a_loop_that_earns_is_named_with_what_it_earns():
    model, costs = sketch_route(
        [(0, [(1.0, 1, 4)]), (1, [(1.0, 2, 1)]), (1, [(1.0, 0, -5)])], done=[2]
    )
    model = named(model, ["table", "frame", "lantern"], ["take", "seal"], a2=SELL_OUT)
    model = replace(model, action_step=np.array([0, 1, -1]))
    with pytest.raises(RouteFault, match=r"'take', 'sell out' .*earns without limit \(0.5 each"):
        best_choices(model, costs)


def test_a_loop_that_neither_costs_nor_earns_is_left():
    """Sold for what it cost: round and round is worth nothing, so one goes on; by hand 4 + 7."""
    model, costs = sketch_route(
        [(0, [(1.0, 1, 4)]), (1, [(1.0, 0, -4)]), (1, [(1.0, 2, 7)])], done=[2]
    )
    found = best_choices(model, costs)
    assert found.cost_to_go.tolist() == [11, 7, 0]
    assert found.actions.tolist() == [0, 2, -1]
    assert found.lower <= 11 <= found.upper


def test_going_round_at_no_gain_may_lead_to_a_cheaper_door():
    """From the start either pay 9, or go round (3 out, 3 back with odds 1/2) to a door at 2."""
    model, costs = sketch_route(
        [
            (0, [(1.0, END, 9)]),
            (0, [(1.0, 1, 3)]),
            (1, [(0.5, 0, -3), (0.5, 2, -3)]),
            (2, [(1.0, 0, 0)]),
            (2, [(1.0, END, 2)]),
        ]
    )
    found = best_choices(model, costs)
    assert found.cost_to_go[0] == pytest.approx(2.0, rel=1e-12)
    assert found.upper - found.lower < 1e-9


@pytest.mark.parametrize("order", [1, -1])
def test_of_equal_costs_the_fewest_steps_are_taken(order):
    """All three ways cost 6: at once, in two steps, or by tries of 3 that work half the time."""
    at_once = (0, [(1.0, 2, 6)])
    in_two = (0, [(1.0, 1, 4)])
    by_luck = (0, [(0.5, 2, 3), (0.5, 0, 3)])
    model, costs = sketch_route(
        [*[at_once, in_two, by_luck][::order], (1, [(1.0, 2, 2)])], done=[2]
    )
    found = best_choices(model, costs)
    taken = model.outcome_action == found.actions[0]
    assert costs[taken].tolist() == [6]
    assert found.lower <= 6 <= found.upper
    assert found.upper - found.lower < 1e-12


def test_of_equal_steps_the_first_in_reading_order_is_taken():
    model, costs = sketch_route([(0, [(1.0, 1, 6)])] * 3, done=[1])
    assert best_choices(model, costs).actions[0] == 0


def test_costs_of_both_signs():
    """Each of two stages earns 10 and ends with odds 0.1: 100 by 10 / (1 - 0.9)."""
    model, costs = sketch_route(
        [(0, [(0.9, 1, -10), (0.1, END, -10)]), (1, [(0.9, 0, -10), (0.1, END, -10)])]
    )
    found = best_choices(model, costs)
    assert found.cost_to_go[0] == pytest.approx(-100, rel=1e-13)
    assert found.upper - found.lower < 1e-11


def test_buying_in_beats_a_long_way():
    model, costs = sketch_route([(0, [(0.01, 1, 2), (0.99, 0, 2)]), (0, [(1.0, 1, 150)])], done=[1])
    model = named(model, ["table", "lantern"], ["etch"], a1=BUY_IN)
    assert best_choices(model, costs).actions[0] == 1
    costs[2] = 250.0  # now the 200 of making it is less
    assert best_choices(model, costs).actions[0] == 0


def test_a_hopeless_way_does_not_spoil_a_good_one():
    """Sixty rungs at one half, back to the first when it fails: 2^61 - 2 tries; or pay 1000."""
    rungs = [(k, [(0.5, k + 1, 1), (0.5, 0, 1)]) for k in range(60)]
    model, costs = sketch_route([*rungs, (0, [(1.0, 60, 1000.0)])], done=[60])
    found = best_choices(model, costs)
    assert found.cost_to_go[0] == pytest.approx(1000, rel=1e-12)
    assert found.upper - found.lower <= 1e-9 * 1000


def test_a_way_too_long_to_count_is_said_to_be():
    """Two hundred rungs at one half with no other way: 2^201 - 2 tries."""
    rungs = [(k, [(0.5, k + 1, 1), (0.5, 0, 1)]) for k in range(200)]
    model, costs = sketch_route(rungs, done=[200])
    try:
        found = best_choices(model, costs)
    except CannotAnswer as fault:
        assert "more steps than can be counted" in str(fault)
    else:
        assert found.lower <= 2.0**201 <= found.upper


def test_many_stages_that_loop_and_earn_are_named_in_part():
    ring = [(k, [(1.0, (k + 1) % 40, -1.0)]) for k in range(40)]
    model, costs = sketch_route([*ring, (0, [(1.0, END, 0.0)])])
    with pytest.raises(RouteFault, match="and 35 more"):
        best_choices(model, costs)
